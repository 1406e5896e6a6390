"""The flags of a drum's tests in words, with their figures."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

import numpy as np
from django.utils.functional import cached_property
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from fleet.calculation import units
from fleet.calculation.drift_histories import UNKNOWN
from fleet.calculation.drift_results import (
    AS_FOUND_OUTSIDE,
    AS_FOUND_UNEXPECTED,
    CODES,
    DRUMS_EXCHANGED,
    EQUAL_MARKS,
    FIGURES_REPEATED,
    GAUGE_STEP,
    LINING_GREW,
    LINING_UNEXPECTED,
    MOVED_TOGETHER,
    OUTSIDE_PREDICTION,
    WEAR_TOO_FAST,
    WRONG_UNIT,
)
from fleet.calculation.sentences import probability_shown
from fleet.drift.analysis import CompanyDrift
from fleet.drift.flag_words import WORDS
from fleet.drums.models import Drum

SHARES = {GAUGE_STEP, MOVED_TOGETHER, AS_FOUND_UNEXPECTED, AS_FOUND_OUTSIDE}
COUNTS = {FIGURES_REPEATED, EQUAL_MARKS}
LININGS = {LINING_GREW, LINING_UNEXPECTED}
ORDER = {code: place for place, code in enumerate(WORDS)}


@dataclass(frozen=True)
class FlagSaid:
    """One flag of one test (a row of the analysis), ready for people."""

    row: int
    code: str
    short: str
    what: str
    causes: tuple[str, ...]
    check: str
    chance: str

    @cached_property
    def likeliest(self) -> str:
        """The causes as one sentence."""
        return _("Likeliest: {causes}.").format(causes=_(", or ").join(self.causes))

    @property
    def sentence(self) -> str:
        """All of it in one go."""
        return f"{self.what} {self.likeliest} {self.check}"


def flags_of(found: CompanyDrift, rows: Sequence[int], *, drum: Drum, unit: str) -> list[FlagSaid]:
    """The flags of these rows of one drum, in the order of rows, and of one row what explains first.

    One query for the names of other drums, where a flag speaks of one.
    """
    flags = found.drift.flags
    places = [int(place) for row in rows for place in flags.of_test(int(row))]
    others = {int(flags.other[place]) for place in places if CODES[flags.code[place]] == DRUMS_EXCHANGED}
    names = _names(found, others)
    said = [_said(found, place, drum, unit, names) for place in places]
    return sorted(said, key=lambda flag: (flag.row, ORDER[flag.code]))


def _names(found: CompanyDrift, rows: set[int]) -> Mapping[int, str]:
    if not rows:
        return {}
    keys: list[UUID] = list(found.drums)
    of_row = {row: keys[int(found.drift.histories.drum[row])] for row in rows if row != UNKNOWN}
    names = {drum.pk: str(drum) for drum in Drum.objects.filter(pk__in=of_row.values())}
    return {row: names[key] for row, key in of_row.items()}


def _said(found: CompanyDrift, place: int, drum: Drum, unit: str, names: Mapping[int, str]) -> FlagSaid:
    flags = found.drift.flags
    row, code = int(flags.test[place]), CODES[flags.code[place]]
    words = WORDS[code]
    chance = float(flags.chance[place])
    figures = {
        "size": _size(found, row, code, float(flags.size[place]), unit),
        "setting": str(drum.get_setting_kind_display()),
        "other": names.get(int(flags.other[place]), ""),
        "tests": _tests_before(found, row),
    }
    return FlagSaid(
        row=row,
        code=code,
        short=str(words.short),
        what=str(words.what).format(**figures),
        causes=tuple(str(cause) for cause in words.causes),
        check=str(words.check),
        chance=probability_shown(chance) if chance < 1 and code not in {WRONG_UNIT, AS_FOUND_OUTSIDE} else "",
    )


def _size(found: CompanyDrift, row: int, code: str, size: float, unit: str) -> str:
    if code in SHARES:
        return units.display(abs(size), "percent")
    if code in COUNTS:
        return units.shown(size, 0)
    if code in LININGS:
        return units.display(abs(size), "mm")
    if code == WRONG_UNIT:
        return units.shown(size, 2)
    if code == WEAR_TOO_FAST:
        return units.display(abs(float(found.drift.drums.wear_si_per_year[found.drift.histories.drum[row]])), unit)
    if code == OUTSIDE_PREDICTION:
        return units.display(outside_by(found, row) or abs(size), unit)
    return units.display(abs(size), unit)


def outside_by(found: CompanyDrift, row: int) -> float:
    """How far the mark for the target lies outside its interval, SI; 0 inside it or where nothing was expected."""
    tests = found.drift.tests
    value = tests.mark_for_target_si[row]
    off = np.nanmax([tests.mark.low[row] - value, value - tests.mark.high[row], 0.0])
    return float(off)


def _tests_before(found: CompanyDrift, row: int) -> str:
    histories: Any = found.drift.histories
    segment = found.drift.tests.segment
    before = int(np.sum((histories.drum[:row] == histories.drum[row]) & (segment[:row] == segment[row])))
    if not before:
        return _("comparable drums")
    return ngettext("{n} earlier test", "{n} earlier tests", before).format(n=before)
