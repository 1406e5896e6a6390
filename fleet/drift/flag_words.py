"""What a flag says to people: what is the matter, what it probably means, and the check that tells the causes apart."""

from dataclasses import dataclass

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
    STEP,
    TOO_GOOD,
    WEAR_TOO_FAST,
    WRONG_UNIT,
)


@dataclass(frozen=True)
class FlagWords:
    """Templates; the figures that fill ``what`` are named in ``drum_flags``. ``short`` stands in a table."""

    short: str | Promise
    what: str | Promise
    causes: tuple[str | Promise, ...]
    check: str | Promise


WORDS: dict[str, FlagWords] = {
    WRONG_UNIT: FlagWords(
        _("unit?"),
        _("The figures look like those of another unit: {size} times what was to be expected."),
        (
            _("the gauge was read in another unit than its dial carries"),
            _("the setting was measured with another rule"),
        ),
        _("Look at the photo of the gauge's dial and of the rule, and compare both units with the record."),
    ),
    DRUMS_EXCHANGED: FlagWords(
        _("drums exchanged?"),
        _("This test fits the history of {other} better than this drum's own, and that drum's test fits this one."),
        (_("the two records were written under each other's name"), _("the marks were read at the other drum")),
        _("Measure the setting of both drums again and read the drum's number in the photos of the marks."),
    ),
    FIGURES_REPEATED: FlagWords(
        _("figures repeated"),
        _("{size} figures repeat those of the test before to the last digit."),
        (
            _("last year's figures were carried over without a reading"),
            _("the brake was left as it stood and read the same by chance"),
        ),
        _("Ask for the photos of gauge and mark with their day; without them have the test done again."),
    ),
    EQUAL_MARKS: FlagWords(
        _("equal marks"),
        _("{size} drums were left at this same setting, although their earlier settings lay apart."),
        (_("one drum's figure was written for all"), _("all brakes were set by the rule and not by the load")),
        _("Each drum has a setting of its own: ask for a photo of each mark with the rule beside it."),
    ),
    GAUGE_STEP: FlagWords(
        _("gauge changed"),
        _("All drums tested with this gauge moved together by {size} of the base load since the gauge was changed."),
        (
            _("the new gauge reads differently from the one before"),
            _("the one before had drifted"),
            _("the area of another jack was used"),
        ),
        _("Have both gauges compared at the working pressure, and compare the jack's serial number with the record."),
    ),
    MOVED_TOGETHER: FlagWords(
        _("all moved together"),
        _("All drums of this round moved together by {size} of the base load; brakes do not wear alike in one year."),
        (
            _("the gauge has drifted or was dropped"),
            _("wet or oily brakes at the test"),
            _("another lever or jack area than before"),
        ),
        _("Have the gauge checked against another at the working pressure, and look at weather and kit in the record."),
    ),
    OUTSIDE_PREDICTION: FlagWords(
        _("off the line"),
        _("The {setting} is {size} outside what {tests} allow."),
        (
            _("the lining is breaking up or is glazed"),
            _("the mark was measured from another point"),
            _("brake work was done and not reported"),
        ),
        _("A photo of the mark and the lining's thickness at three places tell these apart."),
    ),
    STEP: FlagWords(
        _("step"),
        _("The {setting} made a step of {size} here and has stayed there since."),
        (
            _("brake or spindle work that was not reported"),
            _("a measuring point that was moved or renewed"),
            _("another part of the lining in contact"),
        ),
        _("Ask the ship what was done to this brake before this test, and report it as an event with its day."),
    ),
    LINING_GREW: FlagWords(
        _("lining grew"),
        _("The lining is {size} thicker than its history allows; a lining does not grow."),
        (
            _("new lining that was not reported"),
            _("measured at another place or with the band not slack"),
            _("rust or paint under the lining"),
        ),
        _("Ask for the work order of a new lining; else measure again at the same three places with a photo."),
    ),
    LINING_UNEXPECTED: FlagWords(
        _("lining thin"),
        _("The lining is {size} thinner than its history allows."),
        (
            _("the brake was used to check a line that ran out"),
            _("lining is breaking away"),
            _("measured at its end instead of its middle"),
        ),
        _("Look at the lining and at what lies below the band; measure again at three places."),
    ),
    WEAR_TOO_FAST: FlagWords(
        _("wears fast"),
        _("This brake wears by {size} a year, faster than comparable drums do."),
        (
            _("the band drags on the turning drum"),
            _("a rough or rusted drum surface"),
            _("a softer lining than its sisters"),
        ),
        _("Check that the band is clear all round when released, and look at the drum's surface."),
    ),
    AS_FOUND_UNEXPECTED: FlagWords(
        _("found elsewhere"),
        _("As found it differs by {size} of the base load from what it was left at and has worn since."),
        (
            _("the mark was shifted or the brake was set by feel"),
            _("moisture, oil or rust on the lining"),
            _("the fixing of the mark came loose"),
        ),
        _("Re-apply the brake at the mark and test again: if it comes back, the mark had been left, not the lining."),
    ),
    AS_FOUND_OUTSIDE: FlagWords(
        _("found outside band"),
        _("As found it lay {size} of the base load outside the band."),
        (
            _("wear since the test before"),
            _("the brake was not applied to its mark"),
            _("moisture, oil or rust on the lining"),
        ),
        _("Re-apply the brake at the mark and test again; found too tight, ask what load the line has seen."),
    ),
    TOO_GOOD: FlagWords(
        _("too even"),
        _("These figures lie closer together than gauge and hand allow."),
        (
            _("figures worked out from the target instead of read"),
            _("figures carried over from the test before"),
        ),
        _("Ask for the photos of the readings, and let somebody else witness the next test."),
    ),
}
"""In the order in which they explain: what accounts for others stands first."""
