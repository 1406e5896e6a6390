"""Areas by jack type and the radius of the line by layer."""

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.calculation import geometry
from fleet.calculation.checks import InputError
from tests.calculation import cases

diameters = st.floats(min_value=0.005, max_value=2.0)


def test_the_bore_of_the_common_practice_jack_gives_its_area() -> None:
    practice = cases.load("jack_and_lever")["common_practice"]  # common practice, no published source
    area_cm2 = geometry.effective_area(jack_type="plain", bore_m=practice["bore_cm"] / 100) * 1e4
    assert round(area_cm2, 2) == practice["bore_area_cm2"]


def test_the_ring_is_the_bore_less_the_rod() -> None:
    ring = geometry.effective_area(jack_type="pull", bore_m=0.100, inner_m=0.060)
    bore, rod = geometry.circle_area(diameter_m=0.100), geometry.circle_area(diameter_m=0.060)
    assert ring == pytest.approx(bore - rod, rel=1e-14)
    assert ring == geometry.effective_area(jack_type="hollow", bore_m=0.100, inner_m=0.060)


def test_a_ram_counts_its_plunger() -> None:
    ram = geometry.effective_area(jack_type="ram", plunger_m=0.09)
    assert ram == geometry.circle_area(diameter_m=0.09)


@pytest.mark.parametrize(
    ("arguments", "argument"),
    [
        ({"jack_type": "other", "bore_m": 0.1}, "jack_type"),
        ({"jack_type": "plain"}, "bore_m"),
        ({"jack_type": "plain", "bore_m": 0.1, "inner_m": 0.05}, "inner_m"),
        ({"jack_type": "plain", "plunger_m": 0.1}, "bore_m"),
        ({"jack_type": "pull", "bore_m": 0.1}, "inner_m"),
        ({"jack_type": "ram", "bore_m": 0.1}, "bore_m"),
        ({"jack_type": "ram", "bore_m": 0.1, "plunger_m": 0.09}, "bore_m"),
        ({"jack_type": "hollow", "bore_m": 0.05, "inner_m": 0.05}, "ring_width_m"),
        ({"jack_type": "plain", "bore_m": 0.0}, "diameter_m"),
        ({"jack_type": "plain", "bore_m": -0.1}, "diameter_m"),
        ({"jack_type": "plain", "bore_m": float("nan")}, "diameter_m"),
    ],
)
def test_a_jack_that_cannot_exist_is_refused_by_name(arguments: dict, argument: str) -> None:
    with pytest.raises(InputError) as caught:
        geometry.effective_area(**arguments)
    assert caught.value.argument == argument


@given(diameters, diameters, st.integers(1, 12))
def test_line_on_line_radius_agrees_with_exact_fractions(drum: float, line: float, layer: int) -> None:
    exact = Fraction(drum) / 2 + Fraction(line) / 2 + (layer - 1) * Fraction(line)
    got = geometry.moment_radius(drum_diameter_m=drum, line_diameter_m=line, layer=layer)
    assert got == pytest.approx(float(exact), rel=1e-14)


@given(diameters, diameters, st.integers(1, 12))
def test_radius_grows_with_each_layer_and_less_when_nested(drum: float, line: float, layer: int) -> None:
    def radius(layer: int, nesting: str) -> float:
        return geometry.moment_radius(drum_diameter_m=drum, line_diameter_m=line, layer=layer, nesting=nesting)

    assert radius(layer + 1, "line_on_line") > radius(layer + 1, "nested") > radius(layer, "nested")
    assert radius(1, "nested") == radius(1, "line_on_line")


@pytest.mark.parametrize("layer", [0, -1, 1.5, float("nan"), float("inf")])
def test_a_layer_is_a_whole_number_from_one(layer: float) -> None:
    with pytest.raises(InputError, match="layer"):
        geometry.moment_radius(drum_diameter_m=0.6, line_diameter_m=0.04, layer=layer)


def test_an_unknown_nesting_is_refused() -> None:
    with pytest.raises(InputError, match="nesting"):
        geometry.moment_radius(drum_diameter_m=0.6, line_diameter_m=0.04, nesting="loose")


def test_arrays_give_what_their_elements_give() -> None:
    drums, layers = np.array([0.5, 0.61, 0.7]), np.array([1, 2, 3])
    got = geometry.moment_radius(drum_diameter_m=drums, line_diameter_m=0.036, layer=layers, nesting="nested")
    assert np.asarray(got).tolist() == [
        geometry.moment_radius(drum_diameter_m=drum, line_diameter_m=0.036, layer=layer, nesting="nested")
        for drum, layer in zip(drums.tolist(), layers.tolist(), strict=True)
    ]
    areas = geometry.circle_area(diameter_m=drums)
    assert areas.tolist() == [geometry.circle_area(diameter_m=drum) for drum in drums.tolist()]
    rings = geometry.ring_area(outer_m=drums, inner_m=drums / 2)
    assert np.asarray(rings).tolist() == [geometry.ring_area(outer_m=d, inner_m=d / 2) for d in drums.tolist()]


def test_a_band_s_end_travels_the_arc_that_the_lining_s_loss_leaves_open() -> None:
    # Geometry of an arc: the band's length on the rim before and after, each its radius times the angle.
    wrap, rim, loss = np.radians(270), 0.5, 0.001
    assert geometry.band_travel(wrap_rad=wrap, lining_loss_m=loss) == pytest.approx(wrap * rim - wrap * (rim - loss))
    # Facts of the trade: 270 degrees give about 4.7 mm for each mm of lining, before the linkage.
    assert geometry.band_travel(wrap_rad=wrap, lining_loss_m=loss) == pytest.approx(4.7e-3, abs=0.05e-3)
    assert geometry.band_travel(wrap_rad=wrap, lining_loss_m=np.array([0.0, loss])).tolist()[0] == 0.0
    with pytest.raises(InputError, match="wrap_rad"):
        geometry.band_travel(wrap_rad=0.0, lining_loss_m=loss)
