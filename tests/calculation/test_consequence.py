"""Expected consequence against draws, its limits and its symmetry."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.calculation.checks import InputError
from fleet.calculation.consequence import expected_consequence

BAND = {"lower": 0.55, "upper": 0.65}


@pytest.mark.parametrize(("share", "deviation"), [(0.60, 0.03), (0.66, 0.02), (0.52, 0.04), (0.72, 0.01)])
def test_it_is_what_draws_come_to(share: float, deviation: float) -> None:
    """Monte Carlo in the manner of JCGM 101: two million draws, so three decimals of a point."""
    drawn = np.random.default_rng(20261120).normal(share, deviation, 2_000_000)
    found = expected_consequence(share=share, standard_uncertainty=deviation, tight_weight=2.0, **BAND)
    assert found.too_tight == pytest.approx(np.maximum(drawn - 0.65, 0).mean(), abs=8e-5)
    assert found.too_loose == pytest.approx(np.maximum(0.55 - drawn, 0).mean(), abs=8e-5)
    assert found.weighted == pytest.approx(2 * found.too_tight + found.too_loose, rel=1e-12)


@given(st.floats(0.3, 0.9), st.floats(0, 0.1), st.floats(0.001, 0.05))
def test_less_certain_never_matters_less(share: float, deviation: float, more: float) -> None:
    before = expected_consequence(share=share, standard_uncertainty=deviation, tight_weight=1.0, **BAND)
    after = expected_consequence(share=share, standard_uncertainty=deviation + more, tight_weight=1.0, **BAND)
    assert after.weighted >= before.weighted - 1e-12


@given(st.floats(0, 0.2), st.floats(0, 0.1))
def test_too_tight_mirrors_too_loose_and_counts_by_its_weight(off: float, deviation: float) -> None:
    above = expected_consequence(share=0.60 + off, standard_uncertainty=deviation, tight_weight=2.0, **BAND)
    below = expected_consequence(share=0.60 - off, standard_uncertainty=deviation, tight_weight=2.0, **BAND)
    assert above.too_tight == pytest.approx(below.too_loose, abs=1e-12)
    assert above.weighted >= below.weighted - 1e-12


def test_known_for_certain_it_is_the_distance_from_the_band() -> None:
    found = expected_consequence(share=np.array([0.60, 0.70, 0.50]), standard_uncertainty=0.0, tight_weight=3.0, **BAND)
    assert np.allclose(found.weighted, [0.0, 0.15, 0.05])


@pytest.mark.parametrize("change", [{"lower": 0.7}, {"standard_uncertainty": -0.1}, {"share": float("nan")}])
def test_what_makes_no_sense_is_refused(change: dict[str, float]) -> None:
    with pytest.raises(InputError):
        expected_consequence(**{"share": 0.6, "standard_uncertainty": 0.01, "tight_weight": 2.0, **BAND, **change})
