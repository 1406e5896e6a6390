"""The tests of a whole fleet over the years, as flat arrays: what the drift analysis is given.

One row per test, one row per drum, one row per event; nothing is nested, so that 14,000 drums pass in one call.
Years are decimal (2024.5 is the middle of 2024). A figure that is not known is NaN, a code that is not known is -1.
"""

from dataclasses import dataclass, field, fields
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from fleet.calculation.checks import InputError
from fleet.calculation.units import FloatArray

IntArray: TypeAlias = NDArray[np.int64]
BoolArray: TypeAlias = NDArray[np.bool_]

SETTING_KINDS = ("marker_distance", "spindle_torque", "spring_length", "applied_pressure", "shims")
DUTIES = ("head", "breast", "spring")
NO_AS_FOUND, UNTOUCHED, RE_APPLIED = 0, 1, 2
EVENT_KINDS = ("lining_renewed", "brake_work", "line_changed", "mark_restored")
LINING_RENEWED, BRAKE_WORK, LINE_CHANGED, MARK_RESTORED = range(len(EVENT_KINDS))
UNKNOWN = -1


def _none_int() -> IntArray:
    return np.empty(0, dtype=np.int64)


def _none_float() -> FloatArray:
    return np.empty(0)


@dataclass(frozen=True, kw_only=True)
class Histories:
    """Drums (D), tests (N) and events (E) of the drums that may be compared: one company's, or one simulated fleet's.

    Per drum, shape (D,): ``vessel``, ``winch_type``, ``lining_kind`` and ``duty`` are codes of the caller's own (duty:
    an index into DUTIES), -1 where not known; ``setting_kind`` an index into SETTING_KINDS; ``tighter_sign`` +1 where
    the setting grows as the brake is tightened, -1 where it gets smaller; ``mark_limit_si``, the setting that cannot be
    passed on the tight side, and ``lining_minimum_m``, NaN where not known; ``next_due_year``, ``next_docking_year``,
    NaN where not known.

    Per test, shape (N,), sorted by drum and, within a drum, by year: ``drum`` index; ``year``; ``round_id``, equal for
    the tests of one vessel's round, -1 for a test on its own; ``mark_si``, the setting as left, in m, N·m, Pa or a
    count, as the drum keeps it; ``as_left_share``, the share of the base load at which it rendered there;
    ``slope_share_per_si``, how much of the base load one SI unit of setting adds, towards tighter, above zero, NaN
    where this test does not tell; ``hand_si``, standard deviation with which a hand finds the mark again and reads it
    (kept beside the test; what hands do is learnt from the fleet); ``gauge_share``, standard uncertainty in share that
    all drums tested with one gauge have in common, taken as that of a common gauge where not known; both NaN where
    not known; ``as_found_share`` with ``as_found_kind`` (NO_AS_FOUND, UNTOUCHED, RE_APPLIED) and ``as_found_held``,
    True where the brake held that much and was pumped no further; ``lining_m``, thinnest place; ``gauge``, a code;
    ``moorings_since``, moorings made with this drum since its test before, NaN where not known; ``target_share``,
    ``lower_share``, ``upper_share``, the band in force.

    Per event, shape (E,), in any order: ``event_drum``, ``event_year``, ``event_kind`` (index into EVENT_KINDS). Each
    starts the meaning of the mark anew; new lining starts the wear anew as well. An event in the year of a test counts
    as before that test where it is not later.

    Raises: InputError, naming the array, for wrong shapes, order, indices, or figures that cannot be.
    """

    vessel: IntArray
    winch_type: IntArray
    lining_kind: IntArray
    duty: IntArray
    setting_kind: IntArray
    tighter_sign: FloatArray
    mark_limit_si: FloatArray
    lining_minimum_m: FloatArray
    next_due_year: FloatArray
    next_docking_year: FloatArray

    drum: IntArray
    year: FloatArray
    round_id: IntArray
    mark_si: FloatArray
    as_left_share: FloatArray
    slope_share_per_si: FloatArray
    hand_si: FloatArray
    gauge_share: FloatArray
    as_found_share: FloatArray
    as_found_kind: IntArray
    as_found_held: BoolArray
    lining_m: FloatArray
    gauge: IntArray
    moorings_since: FloatArray
    target_share: FloatArray
    lower_share: FloatArray
    upper_share: FloatArray

    event_drum: IntArray = field(default_factory=_none_int)
    event_year: FloatArray = field(default_factory=_none_float)
    event_kind: IntArray = field(default_factory=_none_int)

    def __post_init__(self) -> None:
        for names, length in (
            (PER_DRUM, len(self.vessel)),
            (PER_TEST, len(self.drum)),
            (PER_EVENT, len(self.event_drum)),
        ):
            for name in names:
                if np.shape(getattr(self, name)) != (length,):
                    raise InputError(name, f"must have the shape ({length},)")
        self._check_order()
        for name in ("year", "mark_si", "as_left_share", "target_share", "lower_share", "upper_share", "event_year"):
            if not np.all(np.isfinite(getattr(self, name))):
                raise InputError(name, "must be finite")
        for name in ("as_left_share", "target_share", "slope_share_per_si", "lining_m", "as_found_share"):
            if np.any(getattr(self, name) <= 0):
                raise InputError(name, "must lie above zero")
        for name in ("hand_si", "gauge_share", "moorings_since"):
            if np.any(getattr(self, name) < 0):
                raise InputError(name, "must not lie below zero")
        if np.any((self.lower_share >= self.target_share) | (self.target_share >= self.upper_share)):
            raise InputError("target_share", "must lie inside the band")
        if not np.all(np.isin(self.tighter_sign, (-1.0, 1.0))):
            raise InputError("tighter_sign", "must be +1 or -1")
        self._check_codes()

    def _check_order(self) -> None:
        for name, above in (("drum", len(self.vessel)), ("event_drum", len(self.vessel))):
            index = getattr(self, name)
            if np.any((index < 0) | (index >= above)):
                raise InputError(name, "must point to a drum")
        step = np.diff(self.drum)
        if np.any(step < 0) or np.any((step == 0) & (np.diff(self.year) < 0)):
            raise InputError("drum", "must be sorted, and the tests of a drum by year")

    def _check_codes(self) -> None:
        for name, number in (
            ("setting_kind", len(SETTING_KINDS)),
            ("event_kind", len(EVENT_KINDS)),
            ("as_found_kind", 3),
        ):
            code = getattr(self, name)
            if np.any((code < 0) | (code >= number)):
                raise InputError(name, f"must lie from 0 to {number - 1}")
        if np.any((self.as_found_kind != NO_AS_FOUND) & ~np.isfinite(self.as_found_share)):
            raise InputError("as_found_share", "must be known where there is an as-found test")

    @property
    def drums(self) -> int:
        """How many drums."""
        return len(self.vessel)

    @property
    def tests(self) -> int:
        """How many tests."""
        return len(self.drum)


PER_DRUM = (
    "vessel",
    "winch_type",
    "lining_kind",
    "duty",
    "setting_kind",
    "tighter_sign",
    "mark_limit_si",
    "lining_minimum_m",
    "next_due_year",
    "next_docking_year",
)
PER_EVENT = ("event_drum", "event_year", "event_kind")
PER_TEST = tuple(one.name for one in fields(Histories) if one.name not in (*PER_DRUM, *PER_EVENT))
