"""Drift over the years: the whole fleet's histories in, what is to be expected, forecast and flagged out."""

import numpy as np

from fleet.calculation.drift_as_found import chance_so_far, expect_as_found
from fleet.calculation.drift_flags import find_flags
from fleet.calculation.drift_forecast import forecast, rows_of_drums
from fleet.calculation.drift_histories import UNKNOWN, BoolArray, Histories
from fleet.calculation.drift_preparation import prepare
from fleet.calculation.drift_results import COVERAGE, FleetDrift, Predictions, RowsOfTests
from fleet.calculation.drift_series import follow_lining, follow_mark
from fleet.calculation.drift_slopes import expect_slopes
from fleet.calculation.drift_student import reach
from fleet.calculation.units import FloatArray


def analyse(histories: Histories) -> FleetDrift:
    """Follow every drum through its years, each judged by its own tests and by comparable drums.

    Args: histories: drums that may be compared with each other: one company's, never two companies' together.
    Returns: FleetDrift. Raises: nothing that Histories has not refused.
    Source: recursive least squares with priors estimated from the fleet (empirical Bayes): restricted maximum
    likelihood for wear, moments of logarithms for scatter; prediction by Student's t.
    """
    prepared = prepare(histories)
    lining = follow_lining(histories, prepared)
    mark = follow_mark(histories, prepared, lining)
    found = expect_as_found(histories, prepared, mark)
    slopes = expect_slopes(histories, prepared, mark.hyper)
    f, sign = mark.found, histories.tighter_sign[histories.drum]
    corrected = sign * f.corrected
    before = prepared.before
    inside = (before != UNKNOWN) & (prepared.starts == 0)
    never = np.zeros(histories.tests, dtype=bool)
    mark_predictions = _predictions(f.mean, f.scale, f.dof, f.off, f.borrowed, never, sign=sign)
    over = lining.spread
    lin, tests = lining.found, histories.tests
    return FleetDrift(
        histories=histories,
        tests=RowsOfTests(
            segment=prepared.segment,
            first_of_segment=prepared.starts > 0,
            years_since_lining=prepared.years_since_lining,
            mark_for_target_si=sign * prepared.tight,
            slope_borrowed=prepared.slope_borrowed,
            gauge_shift_share=f.shift_share,
            mark_corrected_si=corrected,
            change_si=np.where(inside, corrected - corrected[before], np.nan),
            step_si=sign * prepared.tight - mark_predictions.mean,
            mark=mark_predictions,
            as_found=_predictions(found.mean, found.scale, found.dof, found.off, f.borrowed, histories.as_found_held),
            lining=_predictions(
                over(lin.mean, tests),
                over(lin.scale, tests),
                over(lin.dof, tests, 1.0),
                over(lin.off, tests),
                over(lin.borrowed, tests),
                never,
                sign=np.full(tests, -1.0),
            ),
        ),
        drums=rows_of_drums(histories, prepared, mark, lining),
        forecast=forecast(histories, prepared, mark, lining, found),
        flags=find_flags(histories, prepared, mark, lining, found, slopes),
    )


def _predictions(
    mean: FloatArray,
    scale: FloatArray,
    dof: FloatArray,
    off: FloatArray,
    borrowed: FloatArray,
    held: BoolArray,
    sign: FloatArray | float = 1.0,
) -> Predictions:
    middle = sign * mean
    half = reach(dof, COVERAGE) * scale
    return Predictions(
        mean=middle,
        low=middle - half,
        high=middle + half,
        scale=scale,
        dof=dof,
        borrowed=np.where(np.isfinite(mean), borrowed, np.nan),
        two_sided=chance_so_far(off, dof, held),
    )
