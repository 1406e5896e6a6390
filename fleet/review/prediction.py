"""One test held against what the drum's years led it to be expected, before it is approved."""

from dataclasses import dataclass
from datetime import date

import numpy as np
from django.utils.translation import gettext as _

from fleet.calculation import units
from fleet.core.pictures.numbers import coordinate, point
from fleet.drift.analysis import CompanyDrift, company_drift
from fleet.drift.drum_flags import FlagSaid, flags_of
from fleet.drift.histories import can_be_followed
from fleet.drift.services import point_of
from fleet.drums.models import SETTING_UNITS, Drum
from fleet.records.models import Submission

WIDTH, LEFT, RIGHT, MIDDLE = 360.0, 20.0, 340.0, 26.0


@dataclass(frozen=True)
class IntervalPicture:
    """The expected interval as a bar and the test's own value on it, on one scale of the setting."""

    width: str
    bar_x: str
    bar_width: str
    low_x: str
    low: str
    high_x: str
    high: str
    x: str
    outline: str
    inside: bool
    value: str
    title: str


@dataclass(frozen=True)
class Held:
    """The sentence, the picture where there is an interval, and the flags of this test."""

    sentence: str
    warn: bool
    picture: IntervalPicture | None
    flags: tuple[FlagSaid, ...]


def prediction_of(submission: Submission, *, on: date) -> Held:
    """In six queries; the test is laid among the approved ones as if it were one of them."""
    drum, mine = submission.test.drum, point_of(submission)
    if not can_be_followed(mine, drum.setting_kind):
        return Held(
            _("Setting and load as left are not both on record, so nothing can be predicted of it."), False, None, ()
        )
    found = company_drift(submission.test.round.vessel.company, on=on, with_point=mine)
    row = found.tests[submission.test_id]
    unit = submission.setting_unit or SETTING_UNITS[drum.setting_kind][0]
    flags = tuple(flags_of(found, [row], unit=unit))
    return Held(_sentence(found, row, drum, unit), bool(flags), _picture(found, row, unit), flags)


def _found_fits(found: CompanyDrift, row: int) -> bool:
    """Whether the brake was found as it was left, as far as that is known; one that only held may hold any more."""
    histories, expected = found.drift.histories, found.drift.tests.as_found
    if not np.isfinite(expected.low[row]):
        return True
    share = float(histories.as_found_share[row])
    low = -np.inf if histories.as_found_held[row] else float(expected.low[row])
    return bool(low <= share <= float(expected.high[row]))


def _sentence(found: CompanyDrift, row: int, drum: Drum, unit: str) -> str:
    tests = found.drift.tests
    value = float(tests.mark_for_target_si[row])
    if not np.isfinite(tests.mark.low[row]):
        return _("This is the drum's first test that can be followed: there is nothing yet to hold it against.")
    figures = {
        "setting": str(drum.get_setting_kind_display()),
        "value": units.display(value, unit),
        "low": units.digits(float(tests.mark.low[row]), unit),
        "high": units.display(float(tests.mark.high[row]), unit),
    }
    fits = bool(tests.mark.low[row] <= value <= tests.mark.high[row]) and _found_fits(found, row)
    said = (
        _("As was to be expected: for exactly the target the {setting} comes to {value}, expected {low} to {high}.")
        if fits
        else _("Not as expected: for exactly the target the {setting} comes to {value}, expected {low} to {high}.")
    ).format(**figures)
    histories, expected = found.drift.histories, tests.as_found
    if not np.isfinite(expected.low[row]):
        return said
    share = units.digits(float(histories.as_found_share[row]), "percent")
    return _("{said} As found {share} %, expected {low} to {high}.").format(
        said=said,
        share=_("more than {share}").format(share=share) if histories.as_found_held[row] else share,
        low=units.digits(max(float(expected.low[row]), 0.0), "percent"),
        high=units.display(float(expected.high[row]), "percent"),
    )


def _picture(found: CompanyDrift, row: int, unit: str) -> IntervalPicture | None:
    tests = found.drift.tests
    value, low, high = (float(one[row]) for one in (tests.mark_for_target_si, tests.mark.low, tests.mark.high))
    if not np.isfinite(low):
        return None
    first, last = min(value, low), max(value, high)
    room = 0.15 * (last - first)

    def x(at: float) -> float:
        return LEFT + (at - first + room) / (last - first + 2 * room) * (RIGHT - LEFT)

    middle = x(value)
    shown = units.display(value, unit)
    return IntervalPicture(
        width=coordinate(WIDTH),
        bar_x=coordinate(x(low)),
        bar_width=coordinate(x(high) - x(low)),
        low_x=coordinate(x(low)),
        low=units.digits(low, unit),
        high_x=coordinate(x(high)),
        high=units.digits(high, unit),
        x=coordinate(middle),
        outline=" ".join([point(middle, MIDDLE - 8), point(middle - 7, MIDDLE + 5), point(middle + 7, MIDDLE + 5)]),
        inside=low <= value <= high,
        value=shown,
        title=_("{value} for exactly the target; expected {low} to {high}").format(
            value=shown, low=units.digits(low, unit), high=units.display(high, unit)
        ),
    )
