"""What the drift analysis gives back: a row per test, a row per drum, and the flags."""

from dataclasses import dataclass

import numpy as np

from fleet.calculation.drift_histories import BoolArray, Histories, IntArray
from fleet.calculation.units import FloatArray

COVERAGE = 0.95
HORIZONS = ("next_due", "next_docking")
DUE, DOCKING = range(len(HORIZONS))

OUTSIDE_PREDICTION = "outside_prediction"
STEP = "step"
WEAR_TOO_FAST = "wear_too_fast"
TOO_GOOD = "too_good_to_be_true"
FIGURES_REPEATED = "figures_repeated"
EQUAL_MARKS = "equal_marks"
LINING_GREW = "lining_grew"
LINING_UNEXPECTED = "lining_unexpected"
SLOPE_UNEXPECTED = "slope_unexpected"
DRUMS_EXCHANGED = "drums_exchanged"
GAUGE_STEP = "gauge_step"
MOVED_TOGETHER = "moved_together"
AS_FOUND_UNEXPECTED = "as_found_unexpected"
AS_FOUND_OUTSIDE = "as_found_outside_band"
WRONG_UNIT = "wrong_unit"
CODES = (
    OUTSIDE_PREDICTION,
    STEP,
    WEAR_TOO_FAST,
    TOO_GOOD,
    FIGURES_REPEATED,
    EQUAL_MARKS,
    LINING_GREW,
    LINING_UNEXPECTED,
    SLOPE_UNEXPECTED,
    DRUMS_EXCHANGED,
    GAUGE_STEP,
    MOVED_TOGETHER,
    AS_FOUND_UNEXPECTED,
    AS_FOUND_OUTSIDE,
    WRONG_UNIT,
)
STATES = (AS_FOUND_OUTSIDE,)
"""Codes that state what was measured; all others say that something is probably the matter with brake or record."""

NO_HISTORY = "no_history"
LINE_BROKEN = "line_broken"
NO_DATE = "no_date"
NO_LIMIT = "no_limit"
WITHHELD = ("", NO_HISTORY, LINE_BROKEN, NO_DATE, NO_LIMIT)
"""Why a forecast is not given; the empty text where it is."""


@dataclass(frozen=True, kw_only=True)
class Predictions:
    """What the tests before led one to expect of each test, shape (N,); NaN where nothing was known.

    ``mean``, ``low``, ``high``: middle and ends of the interval of COVERAGE in the series' own unit and sense;
    ``scale`` and ``dof``: of the t distribution behind it; ``borrowed``: part of the prediction's information about
    wear that came from other drums, 0 to 1; ``two_sided``: chance of a value so far from the mean, for a brake held:
    of so high a value.
    """

    mean: FloatArray
    low: FloatArray
    high: FloatArray
    scale: FloatArray
    dof: FloatArray
    borrowed: FloatArray
    two_sided: FloatArray


@dataclass(frozen=True, kw_only=True)
class RowsOfTests:
    """Per test, shape (N,). The mark is in its own unit and its own sense (as it is read, not "tighter").

    ``segment``: number of the segment, counted through the fleet; ``first_of_segment``; ``years_since_lining``: NaN
    where no new lining is on record; ``mark_for_target_si``: the mark corrected to exactly the target with the slope
    of the test, or of comparable drums (``slope_borrowed``); ``gauge_shift_share``: what all drums tested with this
    gauge moved together, 0 where nothing was seen; ``mark_corrected_si``: mark_for_target_si without that shift;
    ``change_si``: mark_corrected_si since the test before in the segment; ``step_si``: against the prediction;
    ``mark``, ``as_found`` (share) and ``lining`` (m): predictions.
    """

    segment: IntArray
    first_of_segment: BoolArray
    years_since_lining: FloatArray
    mark_for_target_si: FloatArray
    slope_borrowed: BoolArray
    gauge_shift_share: FloatArray
    mark_corrected_si: FloatArray
    change_si: FloatArray
    step_si: FloatArray
    mark: Predictions
    as_found: Predictions
    lining: Predictions


@dataclass(frozen=True, kw_only=True)
class Forecast:
    """For the dates of HORIZONS, shape (D, 2); NaN where ``withheld`` says why (index into WITHHELD).

    ``mark_si``, ``mark_low_si``, ``mark_high_si``: prediction interval of the mark for exactly the target;
    ``as_found_share`` with its ends: of the brake found as it was left, in the newest as-found kind of the drum;
    ``mark_limit``, ``lining_minimum``, ``as_found_out``: probability that by then the mark for the target has passed
    its limit, the lining its minimum, and that the brake is found outside the band.
    """

    year: FloatArray
    mark_si: FloatArray
    mark_low_si: FloatArray
    mark_high_si: FloatArray
    as_found_share: FloatArray
    as_found_low_share: FloatArray
    as_found_high_share: FloatArray
    mark_limit: FloatArray
    lining_minimum: FloatArray
    as_found_out: FloatArray
    mark_withheld: IntArray
    lining_withheld: IntArray
    as_found_withheld: IntArray


@dataclass(frozen=True, kw_only=True)
class RowsOfDrums:
    """Per drum, shape (D,); NaN without tests.

    ``last_test``: row of its newest test, -1 without; ``wear_si_per_year`` and ``wear_si_per_mooring`` (NaN where
    moorings are not known) with ``wear_standard_si_per_year``: how fast the mark for the target moves, in the mark's
    own sense; ``scatter_si``: standard deviation of one test about the line; ``borrowed_wear``, ``borrowed_scatter``:
    part of each that comes from other drums, 0 to 1; ``limit_year``: when the mark would pass its limit at this wear,
    with ``limit_year_early`` (19 times in 20 later than that); ``lining_m_per_year``: lining lost; ``comparable``:
    drums in its group; ``line_broken``: its newest test breaks the line; ``retest_early``: the lining is in its first
    year and no test has been made since it bedded in.
    """

    last_test: IntArray
    wear_si_per_year: FloatArray
    wear_standard_si_per_year: FloatArray
    wear_si_per_mooring: FloatArray
    scatter_si: FloatArray
    borrowed_wear: FloatArray
    borrowed_scatter: FloatArray
    limit_year: FloatArray
    limit_year_early: FloatArray
    lining_m_per_year: FloatArray
    comparable: IntArray
    line_broken: BoolArray
    retest_early: BoolArray


@dataclass(frozen=True, kw_only=True)
class Flags:
    """One row per flag, shape (F,), sorted by test: ``code`` indexes CODES; ``other`` is the row of the other test
    (exchanged drums, repeated figures), -1 without; ``chance``: of so much in a good test, 0 to 1; ``size``: by how
    much, in the unit of what it speaks of.
    """

    test: IntArray
    code: IntArray
    other: IntArray
    chance: FloatArray
    size: FloatArray

    def of_test(self, test: int) -> IntArray:
        """Rows of the flags of one test.

        Args: test: row of the test. Returns: indices into the arrays here.
        """
        first, last = np.searchsorted(self.test, [test, test + 1])
        return np.arange(first, last)


@dataclass(frozen=True, kw_only=True)
class FleetDrift:
    """The whole analysis: input, per test, per drum, forecasts, flags."""

    histories: Histories
    tests: RowsOfTests
    drums: RowsOfDrums
    forecast: Forecast
    flags: Flags
