"""A flag in a word or two, for tables; and which of several flags of one test explains the others."""

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from fleet.calculation.drift_results import (
    AS_FOUND_OUTSIDE,
    AS_FOUND_UNEXPECTED,
    DRUMS_EXCHANGED,
    EQUAL_MARKS,
    FIGURES_REPEATED,
    GAUGE_STEP,
    LINING_GREW,
    LINING_UNEXPECTED,
    MOVED_TOGETHER,
    OUTSIDE_PREDICTION,
    SLOPE_UNEXPECTED,
    STEP,
    TOO_GOOD,
    WEAR_TOO_FAST,
    WRONG_UNIT,
)

SHORT: dict[str, str | Promise] = {
    WRONG_UNIT: _("unit?"),
    DRUMS_EXCHANGED: _("drums exchanged?"),
    FIGURES_REPEATED: _("figures repeated"),
    EQUAL_MARKS: _("equal marks"),
    GAUGE_STEP: _("gauge changed"),
    MOVED_TOGETHER: _("all moved together"),
    SLOPE_UNEXPECTED: _("answers otherwise"),
    OUTSIDE_PREDICTION: _("off the line"),
    STEP: _("step"),
    LINING_GREW: _("lining grew"),
    LINING_UNEXPECTED: _("lining thin"),
    WEAR_TOO_FAST: _("wears fast"),
    AS_FOUND_UNEXPECTED: _("found elsewhere"),
    AS_FOUND_OUTSIDE: _("found outside band"),
    TOO_GOOD: _("too even"),
}
ORDER = {code: place for place, code in enumerate(SHORT)}
"""What accounts for others stands first."""
