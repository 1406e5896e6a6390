"""What a gauge with a certificate shows of a target: corrected both ways, and never beyond the certificate."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.calculation import brake
from fleet.calculation.checks import InputError
from fleet.calculation.gauge_certificate import CertificatePoint, GaugeCertificate

JACK = brake.equal_jacks(area_m2=71.26e-4, lever_arm_m=1.0, drum_diameter_m=0.610, line_diameter_m=0.036)
READINGS = (10e5, 100e5, 150e5, 200e5)
REFERENCES = (9.5e5, 99.2e5, 148.9e5, 198.7e5)


def certificate(readings: tuple[float, ...] = READINGS, references: tuple[float, ...] = REFERENCES) -> GaugeCertificate:
    return GaugeCertificate(
        points=[CertificatePoint(reading_pa=r, reference_pa=t) for r, t in zip(readings, references, strict=True)]
    )


ON_GAUGE = brake.TargetOnGauge(target=JACK, certificate=certificate())


@given(st.floats(10e5, 200e5))
def test_a_load_read_back_is_the_reading_it_came_from(reading_pa: float) -> None:
    assert ON_GAUGE.pressure_for(ON_GAUGE.load_at(reading_pa)) == pytest.approx(reading_pa, rel=1e-12)
    # Against NumPy's own interpolation and the bare moment balance.
    assert ON_GAUGE.load_at(reading_pa) == pytest.approx(
        JACK.load_at(float(np.interp(reading_pa, READINGS, REFERENCES)))
    )


def test_the_crew_aims_at_what_the_gauge_shows() -> None:
    # By hand: 173.24 bar lies 24.34 above 148.9 of the 49.8 between two points, so 150 + 50 × 24.34 ÷ 49.8 = 174.4.
    target = brake.rendering_target(sdmbl_n=637e3, share=0.60, target=ON_GAUGE, gauge_unit="bar")
    assert target.reading_si / 1e5 == pytest.approx(174.44, abs=0.005)
    shown = {step.key: (step.name, step.shown) for step in target.steps}
    assert shown["reading"] == ("target pressure", "173.2 bar")
    assert shown["on_gauge"] == ("target reading on this gauge", "174.4 bar")
    assert target.steps[-1].key == "on_gauge"
    # The force on the deck is the true one, 173.24 bar on 71.26 cm².
    assert target.deck_reaction_n == pytest.approx(123_451, abs=1)


def test_the_last_step_can_be_redone_from_its_printed_figures() -> None:
    target = brake.rendering_target(sdmbl_n=637e3, share=0.60, target=ON_GAUGE, gauge_unit="bar")
    true, low_x, low_y, high_x, high_y = (float(value.shown.split()[0]) for value in target.steps[-1].values)
    by_hand = low_x + (high_x - low_x) * (true - low_y) / (high_y - low_y)
    assert by_hand == pytest.approx(float(target.steps[-1].shown.split()[0]), abs=0.06)


@pytest.mark.parametrize("reading_bar", [9.9, 200.1])
def test_nothing_is_known_beyond_the_certificate(reading_bar: float) -> None:
    with pytest.raises(brake.OutsideCertificate):
        ON_GAUGE.load_at(reading_bar * 1e5)
    with pytest.raises(brake.OutsideCertificate):
        ON_GAUGE.jack_forces_at(reading_bar * 1e5)


@pytest.mark.parametrize("true_bar", [9.4, 198.8])
def test_no_reading_is_named_for_a_true_pressure_beyond_the_certificate(true_bar: float) -> None:
    with pytest.raises(brake.OutsideCertificate):
        ON_GAUGE.pressure_for(JACK.load_at(true_bar * 1e5))


def test_every_limit_on_the_reading_is_told_as_this_gauge_shows_it() -> None:
    def stop(certificate: GaugeCertificate, **limits: float) -> brake.StopReading:
        target = brake.TargetOnGauge(target=JACK, certificate=certificate)
        return brake.stop_reading(target=target, sdmbl_n=637e3, gauge_full_scale_si=400e5, **limits)

    # 65 % of 637 kN is 187.68 bar true: 38.78 of 49.8 above 150, so 188.9 on the dial.
    ceiling = stop(certificate())
    assert (ceiling.limit, round(ceiling.reading_si / 1e5, 1)) == ("operators_ceiling", 188.9)
    # 80 % of a jack rated at 200 bar is 160 bar true: 11.1 of 49.8 above 150, so 161.1 on the dial.
    rated = stop(certificate(), jack_rated_pressure_pa=200e5)
    assert (rated.limit, round(rated.reading_si / 1e5, 1)) == ("jack_rating", 161.1)
    short = stop(certificate((*READINGS[:3], 180e5), (*REFERENCES[:3], 178.8e5)))
    assert (short.limit, short.reading_si) == ("end_of_certificate", 180e5)
    assert next(row for row in short.candidates if row.limit == "operators_ceiling").reason == "above_table"


def test_the_end_of_a_makers_table_is_told_on_the_dial_too() -> None:
    table = brake.MakersTableTarget(
        pressures_pa=(100e5, 160e5), loads_n=(200e3, 400e3), table_jack="J", jack="J", total_area_m2=71.26e-4
    )
    target = brake.TargetOnGauge(target=table, certificate=certificate())
    stop = brake.stop_reading(target=target, sdmbl_n=637e3, gauge_full_scale_si=400e5)
    assert (stop.limit, round(stop.reading_si / 1e5, 1)) == ("end_of_table", 161.1)
    steps = {step.key: step for step in brake.working(sdmbl_n=637e3, share=0.6, target=target, gauge_unit="bar")}
    assert "target pressure × effective piston area" in steps["deck"].formula_in_words


def test_a_load_cell_is_corrected_in_its_own_unit() -> None:
    cell = GaugeCertificate(
        points=[CertificatePoint(reading_pa=r, reference_pa=t) for r, t in ((100e3, 101e3), (500e3, 503e3))]
    )
    target = brake.TargetOnGauge(target=brake.LoadCellTarget(), certificate=cell)
    # 382.2 kN true lies 281.2 of the 402 above 101: 100 + 400 × 281.2 ÷ 402 = 379.8.
    steps = brake.working(sdmbl_n=637e3, share=0.6, target=target, gauge_unit="kN")
    assert [(step.name, step.shown) for step in steps[1:]] == [
        ("target load on the cell", "382.2 kN"),
        ("target reading on this gauge", "379.8 kN"),
    ]


def test_a_jack_calibrated_as_force_is_not_corrected_a_second_time() -> None:
    calibrated = brake.ForceCalibratedTarget(
        readings_pa=(0.0, 20e6), forces_n=(0.0, 140e3), lever_arm_m=1.0, drum_diameter_m=0.61, line_diameter_m=0.036
    )
    with pytest.raises(InputError, match="calibrated as force"):
        brake.TargetOnGauge(target=calibrated, certificate=certificate())
