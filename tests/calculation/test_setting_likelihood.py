"""Slips within a stroke and holds of at least so much, weighed; against SciPy's own fits."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from fleet.calculation.checks import InputError
from fleet.calculation.setting_likelihood import Posterior, SettingReading, SlopePrior, Spread, weigh

VAGUE = SlopePrior(slope_n_per_unit=15e6, factor=6.0, assumed=True)
STRICT = Spread(slip_relative=0.01, hand_si=0.0, bend=0.0)
TARGET_N = 380e3


def reading(mark_mm: float, load_kn: float, *, slipped: bool = True, stroke_kn: float = 0.0) -> SettingReading:
    return SettingReading(setting_si=mark_mm / 1000, load_n=load_kn * 1000, slipped=slipped, stroke_n=stroke_kn * 1000)


def weighed(*readings: SettingReading, prior: SlopePrior = VAGUE, spread: Spread = STRICT) -> Posterior:
    pairs = [(one.setting_si, one) for one in readings]
    return weigh(pairs, prior=prior, spread=spread, target_load_n=TARGET_N, highest_load_n=4 / 3 * TARGET_N)


def test_many_exact_slips_give_the_least_squares_line_of_scipy() -> None:
    rng = np.random.default_rng(7)
    marks = np.linspace(40, 50, 21)
    loads = 230 + 15 * (marks - 40) + rng.normal(0, 3, len(marks))
    found = weighed(*(reading(mark, load) for mark, load in zip(marks, loads, strict=True)))
    line = stats.linregress(marks / 1000, loads * 1000)
    assert found.slope.estimate == pytest.approx(line.slope, rel=0.01)
    at = (TARGET_N - line.intercept) / line.slope
    assert found.tightness_for(TARGET_N).estimate == pytest.approx(at, abs=1e-4)


def test_slips_and_holds_at_one_mark_agree_with_the_censored_fit_of_scipy() -> None:
    # Slips known to 12 kN and two holds at one mark: SciPy's maximum likelihood for the same censoring.
    slips, holds, scatter_n = (371.0, 379.0, 384.0, 376.0, 381.0), (372.0, 378.0), 3.8e3
    found = weighed(
        *(reading(50, load, stroke_kn=12) for load in slips), *(reading(50, load, slipped=False) for load in holds)
    )
    data = stats.CensoredData(
        interval=[((load - 12) * 1000, load * 1000) for load in slips], right=[load * 1000 for load in holds]
    )
    mean, _ = stats.norm.fit(data, fscale=scatter_n)
    assert found.load_at(0.050).estimate == pytest.approx(mean, abs=0.1 * scatter_n)


def test_the_interval_of_the_load_is_that_of_a_normal_mean() -> None:
    found = weighed(*(reading(50, 380.0) for _ in range(4))).load_at(0.050)
    half = stats.norm.ppf(0.975) * 3.8e3 / 2
    assert (found.low, found.high) == (
        pytest.approx(380e3 - half, abs=0.03 * half),
        pytest.approx(380e3 + half, abs=0.03 * half),
    )


def test_one_reading_leaves_the_slope_as_it_was_known_before() -> None:
    prior = SlopePrior(slope_n_per_unit=15e6, factor=1.5)
    found = weighed(reading(50, 300.0, stroke_kn=10), prior=prior)
    assert found.slope.estimate == pytest.approx(15e6, rel=1e-3)
    assert (found.slope.low, found.slope.high) == (pytest.approx(10e6, rel=0.02), pytest.approx(22.5e6, rel=0.02))


def test_a_hold_lifts_the_load_and_never_lowers_it() -> None:
    slip = reading(50, 360.0, stroke_kn=20)
    alone = weighed(slip).load_at(0.050)
    with_hold = weighed(slip, reading(50, 365.0, slipped=False)).load_at(0.050)
    with_old_news = weighed(slip, reading(50, 200.0, slipped=False)).load_at(0.050)
    assert with_hold.estimate > alone.estimate
    assert with_old_news.estimate == pytest.approx(alone.estimate, rel=1e-6)


def test_a_longer_stroke_and_a_wider_scatter_say_less() -> None:
    def width(stroke_kn: float, spread: Spread) -> float:
        found = weighed(
            reading(46, 300.0 + stroke_kn / 2, stroke_kn=stroke_kn),
            reading(50, 360.0 + stroke_kn / 2, stroke_kn=stroke_kn),
            spread=spread,
        ).tightness_for(TARGET_N)
        return found.high - found.low

    assert width(5, STRICT) < width(20, STRICT) < width(40, STRICT)
    for wider in (replace(STRICT, slip_relative=0.03), replace(STRICT, hand_si=5e-4), replace(STRICT, bend=0.2)):
        assert width(20, STRICT) < width(20, wider)


def test_readings_that_cannot_be_true_together_still_give_figures() -> None:
    found = weighed(reading(46, 500.0, stroke_kn=1), reading(50, 100.0, stroke_kn=1), reading(50, 480.0, slipped=False))
    for estimate in (found.slope, found.load_at(0.05), found.tightness_for(TARGET_N)):
        assert np.isfinite([estimate.low, estimate.estimate, estimate.high]).all()
    assert found.slope.low > 0


@pytest.mark.parametrize(
    "make",
    [
        lambda: reading(50, 0.0),
        lambda: reading(float("nan"), 300.0),
        lambda: reading(50, 300.0, stroke_kn=-1),
        lambda: SlopePrior(slope_n_per_unit=0.0, factor=2.0),
        lambda: SlopePrior(slope_n_per_unit=1.0, factor=1.0),
        lambda: Spread(slip_relative=0.0, hand_si=0.0, bend=0.0),
        lambda: weighed(),
    ],
)
def test_what_no_reading_can_be_is_refused(make: object) -> None:
    with pytest.raises(InputError):
        make()  # type: ignore[operator]
