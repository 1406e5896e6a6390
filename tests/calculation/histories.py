"""Histories for tests: drums that all have the same years, drawn from a stated line, to be changed by hand."""

from dataclasses import replace
from typing import Any

import numpy as np

from fleet.calculation.drift_histories import NO_AS_FOUND, PER_TEST, RE_APPLIED, Histories


def histories(
    marks_m: np.ndarray,
    *,
    years: np.ndarray | None = None,
    drums_per_vessel: int = 12,
    tighter_sign: float = -1.0,
    **changes: Any,
) -> Histories:
    """Drums with one test a year at exactly the target, all known to be alike.

    Args: marks_m: shape (drums, tests); years: shape (tests,), 2010.5 and on by default; changes: fields to replace.
    """
    drums, tests = marks_m.shape
    times = 2010.5 + np.arange(tests) if years is None else years
    vessel = np.arange(drums) // drums_per_vessel
    drum = np.repeat(np.arange(drums), tests)
    nan = np.full(drums * tests, np.nan)
    made = Histories(
        vessel=vessel,
        winch_type=np.zeros(drums, dtype=int),
        lining_kind=np.zeros(drums, dtype=int),
        duty=np.zeros(drums, dtype=int),
        setting_kind=np.zeros(drums, dtype=int),
        tighter_sign=np.full(drums, tighter_sign),
        mark_limit_si=np.full(drums, np.nan),
        lining_minimum_m=np.full(drums, np.nan),
        next_due_year=np.full(drums, times[-1] + 1),
        next_docking_year=np.full(drums, times[-1] + 3),
        drum=drum,
        year=np.tile(times, drums),
        round_id=vessel[drum] * 1000 + np.tile(np.arange(tests), drums),
        mark_si=marks_m.ravel(),
        as_left_share=np.full(drums * tests, 0.60),
        slope_share_per_si=np.full(drums * tests, 25.0),
        hand_si=nan,
        gauge_share=nan,
        as_found_share=nan,
        as_found_kind=np.full(drums * tests, NO_AS_FOUND),
        as_found_held=np.zeros(drums * tests, dtype=bool),
        lining_m=nan,
        gauge=vessel[drum],
        moorings_since=nan,
        target_share=np.full(drums * tests, 0.60),
        lower_share=np.full(drums * tests, 0.55),
        upper_share=np.full(drums * tests, 0.65),
    )
    return replace(made, **changes)


def worn(
    rng: np.random.Generator,
    *,
    drums: int = 240,
    tests: int = 8,
    wear_m: float = 1.0e-3,
    wear_spread_m: float = 0.3e-3,
    scatter_m: float = 0.6e-3,
) -> np.ndarray:
    """Marks that get smaller by a wear of the drum's own, in m, shape (drums, tests)."""
    start = rng.uniform(0.04, 0.09, drums)
    wear = np.abs(rng.normal(wear_m, wear_spread_m, drums))
    return start[:, None] - wear[:, None] * np.arange(tests) + rng.normal(0, scatter_m, (drums, tests))


def as_found(histories_: Histories, shares: np.ndarray, *, kind: int = RE_APPLIED) -> Histories:
    """The same with as-found shares, shape (drums, tests), NaN where none."""
    flat = shares.ravel()
    kinds = np.where(np.isfinite(flat), kind, NO_AS_FOUND)
    return replace(histories_, as_found_share=flat, as_found_kind=kinds)


def rows(histories_: Histories, keep: np.ndarray) -> Histories:
    """The same with only some of the tests. Args: keep: shape (tests of all drums,), bool or indices."""
    return replace(histories_, **{name: getattr(histories_, name)[keep] for name in PER_TEST})
