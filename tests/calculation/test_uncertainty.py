"""Combining contributions and the probability of conformity, against published examples and another engine."""

import random
from math import inf, sqrt
from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from uncertainties import ufloat

from fleet.calculation import uncertainty
from fleet.calculation.checks import InputError
from fleet.calculation.uncertainty import Contribution
from tests.calculation import cases

CASES = cases.load("uncertainty")


def row(u: float, c: float = 1.0, dof: float = inf) -> Contribution:
    return Contribution(standard_uncertainty=u, sensitivity=c, degrees_of_freedom=dof)


def test_the_end_gauge_of_jcgm_100_h_1() -> None:
    case = CASES["end_gauge"]
    rows = [
        {**{name: published[name] for name in ("key", "standard_uncertainty", "sensitivity")},
         "degrees_of_freedom": published["degrees_of_freedom"] or inf}
        for published in case["rows_nm"]
    ]  # fmt: skip
    total = uncertainty.combine(rows, coverage=0.99)
    for got, expected in zip(total.rows, case["rows_nm"], strict=True):
        assert got.contribution == pytest.approx(expected["contribution"], abs=0.05)
    assert round(total.standard_uncertainty) == case["combined_nm"]
    assert total.standard_uncertainty == pytest.approx(case["unrounded"]["combined_nm"], abs=5e-4)
    assert int(total.degrees_of_freedom) == case["effective_degrees"]
    assert total.degrees_of_freedom == pytest.approx(case["unrounded"]["effective_degrees"], abs=5e-3)
    assert total.coverage_factor == pytest.approx(case["t99"], abs=5e-3)
    # The example multiplies its rounded figures: 2.92 x 32 nm.
    assert case["t99"] * case["combined_nm"] == pytest.approx(case["expanded_99_nm"], abs=0.5)
    assert total.expanded_uncertainty == pytest.approx(case["expanded_99_nm"], abs=1)


def test_the_thermometer_of_jcgm_100_h_3_needs_its_correlation() -> None:
    case = CASES["thermometer"]
    # The line is fitted by SciPy; the combination of its two correlated parameters is ours.
    t = np.array(case["readings"]) - case["reference"]
    fit = stats.linregress(t, case["corrections"])
    r = -t.mean() / sqrt(np.mean(t**2))
    assert (fit.intercept, fit.intercept_stderr) == (
        pytest.approx(case["intercept"], abs=5e-5),
        pytest.approx(case["intercept_u"], abs=5e-5),
    )
    assert (fit.slope, fit.stderr) == (
        pytest.approx(case["slope"], abs=5e-6),
        pytest.approx(case["slope_u"], abs=5e-6),
    )
    assert r == pytest.approx(case["correlation"], abs=5e-4)
    rows = [
        Contribution(key="y1", standard_uncertainty=fit.intercept_stderr, degrees_of_freedom=case["degrees"]),
        Contribution(
            key="y2",
            standard_uncertainty=fit.stderr,
            sensitivity=case["at"] - case["reference"],
            degrees_of_freedom=case["degrees"],
        ),
    ]
    total = uncertainty.combine(rows, correlations={("y1", "y2"): r})
    assert fit.intercept + 10 * fit.slope == pytest.approx(case["correction_at"], abs=5e-5)
    assert total.standard_uncertainty == pytest.approx(case["correction_at_u"], abs=5e-5)
    assert total.degrees_of_freedom == case["degrees"]
    without = uncertainty.combine(rows)
    assert without.standard_uncertainty > 1.5 * total.standard_uncertainty


@pytest.mark.parametrize("name", ["all_one", "one_rules"])
def test_the_additive_examples_of_jcgm_101(name: str) -> None:
    case = CASES["additive"][name]
    total = uncertainty.combine([row(u) for u in case["u"]])
    assert total.standard_uncertainty == pytest.approx(case["combined"], abs=0.05)
    assert total.expanded_uncertainty == pytest.approx(case["expanded"], abs=0.05 if name == "one_rules" else 0.005)


def test_where_one_rectangle_rules_the_interval_errs_on_the_wide_side_as_in_jcgm_101() -> None:
    case = CASES["additive"]["one_rules"]
    draw = np.random.default_rng(101)
    drawn = sum(draw.uniform(-sqrt(3) * u, sqrt(3) * u, 1_000_000) for u in case["u"])
    assert np.quantile(np.abs(drawn), 0.95) == pytest.approx(case["draws_if_rectangular"], abs=0.05)
    ours = uncertainty.combine([row(u) for u in case["u"]]).expanded_uncertainty
    assert ours > case["draws_if_rectangular"]


def test_a_correlation_names_rows_that_are_there() -> None:
    with pytest.raises(InputError, match="y3"):
        uncertainty.combine([row(1.0)], correlations={("y3", "y4"): 0.5})


@pytest.mark.parametrize("name", ["t95", "t99"])
def test_coverage_factors_are_those_of_jcgm_100_table_g_2(name: str) -> None:
    for degrees, t in CASES["student"][name].items():
        got = uncertainty.coverage_factor(float(degrees), float(name[1:]) / 100)
        assert got == pytest.approx(t, abs=0.0051 if t < 50 else 0.01), degrees


def test_degrees_of_freedom_are_cut_down_never_rounded_up() -> None:
    assert uncertainty.coverage_factor(5.999) == uncertainty.coverage_factor(5)
    # One row alone: five degrees go in, five come out, though one division stands between.
    for degrees in range(1, 200):
        total = uncertainty.combine([row(0.1, 0.3, degrees)])
        assert total.coverage_factor == pytest.approx(stats.t.ppf(0.975, degrees), rel=1e-10)


def test_it_agrees_with_the_package_uncertainties_on_a_thousand_budgets() -> None:
    # Reference library: `uncertainties` (linear error propagation by automatic differentiation).
    draw = random.Random(20261125)
    for _ in range(1000):
        number = draw.randint(1, 15)
        us = [10 ** draw.uniform(-6, 6) for _ in range(number)]
        cs = [draw.choice((-1, 1)) * 10 ** draw.uniform(-6, 6) for _ in range(number)]
        other = sum(c * ufloat(draw.gauss(0, 1), u) for c, u in zip(cs, us, strict=True))
        ours = uncertainty.combine([row(u, c) for u, c in zip(us, cs, strict=True)])
        assert ours.standard_uncertainty == pytest.approx(other.std_dev, rel=1e-9)
        parts = sorted((error**2 / other.std_dev**2 for error in other.error_components().values()), reverse=True)
        assert [share for _, share in ours.longest_first] == pytest.approx(parts, rel=1e-9)


def test_a_product_agrees_with_automatic_differentiation() -> None:
    draw = random.Random(7)
    for _ in range(200):
        p, s, arm, d, k = (draw.uniform(0.5, 50) for _ in range(5))
        up, us, ua, ud, uk = (draw.uniform(0.001, 0.05) * value for value in (p, s, arm, d, k))
        other = ufloat(p, up) * ufloat(s, us) * ufloat(arm, ua) / (ufloat(d, ud) + ufloat(k, uk))
        load = p * s * arm / (d + k)
        slope = -load / (d + k)
        ours = uncertainty.combine(
            [row(up, load / p), row(us, load / s), row(ua, load / arm), row(ud, slope), row(uk, slope)]
        )
        assert ours.standard_uncertainty == pytest.approx(other.std_dev, rel=1e-9)


def test_plain_mappings_serve_as_rows_and_wrong_ones_are_refused() -> None:
    assert uncertainty.combine([{"standard_uncertainty": 2.0, "sensitivity": 2.0}]).standard_uncertainty == 4.0
    with pytest.raises(InputError, match="at least one row"):
        uncertainty.combine([])
    for wrong in (
        {"standard_uncertainty": -1.0},
        {"standard_uncertainty": inf},
        {"standard_uncertainty": float("nan")},
    ):
        with pytest.raises(InputError, match="standard_uncertainty"):
            uncertainty.combine([wrong])
    with pytest.raises(InputError, match="degrees_of_freedom"):
        row(1.0, 1.0, 0.5)
    with pytest.raises(InputError, match="sensitivity"):
        row(1.0, inf)
    with pytest.raises(InputError, match="coverage"):
        uncertainty.combine([row(1.0)], coverage=95)


def test_nothing_but_certain_rows_has_no_uncertainty() -> None:
    total = uncertainty.combine([row(0.0, 3.0, 5), row(2.0, 0.0)])
    assert (total.standard_uncertainty, total.degrees_of_freedom, total.shares) == (0.0, inf, (0.0, 0.0))


def test_arrays_give_what_floats_give() -> None:
    us = np.array([0.0, 0.5, 1.0, 2.0])
    cs = np.array([1.0, -2.0, 3.0, 0.0])
    dofs = np.array([1.0, 2.0, 7.5, inf])
    many = uncertainty.combine([row(us, cs, dofs), row(0.25, 1.0, 3)])  # type: ignore[arg-type]
    for index in range(4):
        one = uncertainty.combine([row(us[index], cs[index], dofs[index]), row(0.25, 1.0, 3)])
        assert np.asarray(many.standard_uncertainty)[index] == pytest.approx(one.standard_uncertainty, rel=1e-15)
        assert np.asarray(many.degrees_of_freedom)[index] == pytest.approx(one.degrees_of_freedom, rel=1e-12)
        assert np.asarray(many.expanded_uncertainty)[index] == pytest.approx(one.expanded_uncertainty, rel=1e-12)


uncertainties = st.floats(1e-6, 1e6)
degrees = st.one_of(st.just(inf), st.floats(1, 1e6))
rows = st.lists(
    st.builds(row, uncertainties, st.floats(-1e3, 1e3).filter(lambda c: abs(c) > 1e-6), degrees), min_size=1
)


@given(rows)
def test_shares_add_up_and_degrees_stay_between_the_least_and_the_sum(given_rows: list[Contribution]) -> None:
    total = uncertainty.combine(given_rows)
    assert sum(total.shares) == pytest.approx(1, rel=1e-9)
    each = [float(r.degrees_of_freedom) for r in given_rows]
    assert min(each) * (1 - 1e-9) <= total.degrees_of_freedom <= sum(each) * (1 + 1e-9)
    assert total.coverage_factor >= 1.9599
    assert max(float(r.contribution) for r in given_rows) <= total.standard_uncertainty * (1 + 1e-12)


@given(rows, st.builds(row, uncertainties), st.randoms(use_true_random=False))
def test_one_more_row_never_helps_and_order_does_not_matter(
    given_rows: list[Contribution], more: Contribution, order: random.Random
) -> None:
    before = uncertainty.combine(given_rows)
    shuffled = order.sample(given_rows, len(given_rows))
    assert uncertainty.combine(shuffled).standard_uncertainty == pytest.approx(before.standard_uncertainty, rel=1e-12)
    assert uncertainty.combine([*given_rows, more]).standard_uncertainty >= before.standard_uncertainty


def test_the_one_sided_example_of_jcgm_106() -> None:
    case = CASES["conformity"]["one_sided"]
    got = uncertainty.probability_of_conformity(case["estimate"], case["u"], None, case["upper"])
    assert got == pytest.approx(case["probability"], abs=5e-3)
    assert got == pytest.approx(case["unrounded"], abs=5e-6)


def test_at_a_guarded_acceptance_limit_the_probability_is_that_of_two_standard_uncertainties() -> None:
    # JCGM 106:2012, 8.3: guard band w = U = 2u.
    got = uncertainty.probability_of_conformity(10.0 - 2 * 0.3, 0.3, None, 10.0)
    assert got == pytest.approx(CASES["conformity"]["at_the_acceptance_limit"], abs=5e-5)


@given(st.floats(-3, 3), st.floats(1e-3, 2), st.floats(-2, 0), st.floats(0.01, 2))
def test_the_probability_is_the_normal_distribution_between_the_limits(
    estimate: float, u: float, lower: float, width: float
) -> None:
    # Independent: the standard library's normal distribution. JCGM 106:2012, 7.4 (two-sided interval).
    believed = NormalDist(estimate, u)
    got = uncertainty.probability_of_conformity(estimate, u, lower, lower + width)
    assert got == pytest.approx(believed.cdf(lower + width) - believed.cdf(lower), abs=1e-12)
    below = uncertainty.probability_of_conformity(estimate, u, None, lower)
    above = uncertainty.probability_of_conformity(estimate, u, lower + width, None)
    assert got + below + above == pytest.approx(1, abs=1e-12)


@given(st.floats(0, 3), st.floats(0.05, 2), st.floats(0.01, 1))
def test_it_is_likeliest_in_the_middle_and_the_same_on_both_sides(offset: float, u: float, further: float) -> None:
    def at(place: float) -> float:
        return float(uncertainty.probability_of_conformity(place, u, -1.0, 1.0))

    assert at(offset) == pytest.approx(at(-offset), rel=1e-12)
    assert at(offset + further) <= at(offset) * (1 + 1e-12)


def test_far_out_a_small_probability_keeps_its_digits() -> None:
    # 9 standard uncertainties out, on either side; Phi(-9) = 1.1286e-19 (SciPy's survival function).
    far = stats.norm.sf(9)
    assert uncertainty.probability_of_conformity(0.0, 1.0, 9.0, None) == pytest.approx(far, rel=1e-12)
    assert uncertainty.probability_of_conformity(18.0, 1.0, None, 9.0) == pytest.approx(far, rel=1e-12)


def test_without_uncertainty_it_is_yes_or_no_and_takes_arrays() -> None:
    got = uncertainty.probability_of_conformity(np.array([0.54, 0.55, 0.6, 0.65, 0.66]), 0.0, 0.55, 0.65)
    assert np.asarray(got).tolist() == [0.0, 1.0, 1.0, 1.0, 0.0]


def test_limits_out_of_order_and_figures_that_are_none_are_refused() -> None:
    for lower, upper in ((0.65, 0.55), (0.6, 0.6), (float("nan"), 1.0)):
        with pytest.raises(InputError, match="lower"):
            uncertainty.probability_of_conformity(0.6, 0.01, lower, upper)
    with pytest.raises(InputError, match="estimate"):
        uncertainty.probability_of_conformity(float("nan"), 0.01, 0.5, 0.7)
    with pytest.raises(InputError, match="standard_uncertainty"):
        uncertainty.probability_of_conformity(0.6, -0.01, 0.5, 0.7)
