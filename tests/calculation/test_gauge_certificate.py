"""What a gauge's calibration certificate says about a reading, and what it does not say."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.calculation.checks import InputError
from fleet.calculation.gauge_certificate import FALLING, CertificatePoint, GaugeCertificate
from fleet.calculation.tables import OutsideTable


def point(reading_bar: float, reference_bar: float, u_bar: float | None = 1.0, **more: object) -> CertificatePoint:
    return CertificatePoint(
        reading_pa=reading_bar * 1e5,
        reference_pa=reference_bar * 1e5,
        expanded_uncertainty_pa=None if u_bar is None else u_bar * 1e5,
        **more,  # type: ignore[arg-type]
    )


CERTIFICATE = GaugeCertificate(
    points=[
        point(50, 49.5, 0.8),
        point(200, 198.6, 1.6),
        point(100, 99.2, 1.0),
        point(300, 300.9, 1.6),
        point(200, 196.9, 1.6, direction=FALLING),
        point(100, 98.9, 1.0, direction=FALLING),
        point(350, 350.0, 1.0, direction=FALLING),
    ]
)


def test_the_correction_is_told_in_the_words_of_the_dial() -> None:
    said = CERTIFICATE.correction_at(180e5)
    assert said.reference_pa == pytest.approx(178.72e5)
    assert said.sentence("bar").text == "The gauge reads 1.3 bar high here: 180.0 bar on the dial is 178.7 bar."
    low = CERTIFICATE.correction_at(300e5).sentence("MPa").text
    assert low == "The gauge reads 0.09 MPa low here: 30.00 MPa on the dial is 30.09 MPa."
    true = GaugeCertificate(points=[point(0, 0), point(100, 100)]).correction_at(50e5).sentence("bar").text
    assert true == "The gauge reads true here: 50.0 bar on the dial is 50.0 bar."


def test_uncertainty_is_u_over_k_between_the_points_by_interpolation() -> None:
    assert CERTIFICATE.standard_uncertainty_at(100e5) == pytest.approx(0.5e5)
    assert CERTIFICATE.standard_uncertainty_at(150e5) == pytest.approx(0.65e5)
    several = CERTIFICATE.standard_uncertainty_at(np.array([100e5, 150e5]))
    assert several == pytest.approx([0.5e5, 0.65e5])
    mixed = GaugeCertificate(points=[point(0, 0, 1.0), point(100, 100, 3.0, coverage_factor=3.0)])
    assert mixed.standard_uncertainty_at(100e5) == pytest.approx(1e5)
    assert mixed.coverage_factor is None


@pytest.mark.parametrize("reading_bar", [0, 49.9, 300.1, 700])
def test_nothing_is_extrapolated_past_the_calibrated_part(reading_bar: float) -> None:
    for asked in (CERTIFICATE.corrected, CERTIFICATE.standard_uncertainty_at, CERTIFICATE.correction_at):
        with pytest.raises(OutsideTable, match="not extrapolated"):
            asked(reading_bar * 1e5)
    assert "covers readings of 50.0 bar to 300.0 bar" in CERTIFICATE.not_covered("bar").text


def test_the_crew_pumps_to_what_the_gauge_will_show() -> None:
    assert CERTIFICATE.reading_for(198.6e5) == pytest.approx(200e5)
    assert CERTIFICATE.pump_to(178.72e5, "bar").text == "Pump to 180.0 bar on this gauge: that is 178.7 bar."
    with pytest.raises(OutsideTable):
        CERTIFICATE.reading_for(301e5)


@given(st.floats(50e5, 300e5))
def test_correcting_and_pumping_undo_each_other(reading_pa: float) -> None:
    assert CERTIFICATE.reading_for(CERTIFICATE.corrected(reading_pa)) == pytest.approx(reading_pa, rel=1e-9)


def test_hysteresis_is_noticed_where_the_certificate_cannot_explain_it() -> None:
    at_100, at_200 = CERTIFICATE.hysteresis
    assert (at_100.difference_pa, at_100.noticed) == (pytest.approx(0.3e5), False)
    assert (at_200.difference_pa, at_200.noticed) == (pytest.approx(1.7e5), True)


def test_a_falling_point_never_corrects_a_rising_reading() -> None:
    up_only = GaugeCertificate(points=[p for p in CERTIFICATE.points if p.direction != FALLING])
    assert up_only.corrected(170e5) == CERTIFICATE.corrected(170e5)
    assert up_only.hysteresis == ()


def test_a_certificate_without_u_corrects_but_states_no_uncertainty() -> None:
    bare = GaugeCertificate(points=[point(0, 1, None), point(100, 101, None), point(50, 49, direction=FALLING)])
    assert bare.corrected(50e5) == pytest.approx(51e5)
    assert not bare.states_uncertainty
    assert bare.correction_at(50e5).standard_uncertainty_pa is None
    assert [part.noticed for part in bare.hysteresis] == [True]
    with pytest.raises(InputError, match="expanded_uncertainty_pa"):
        bare.standard_uncertainty_at(50e5)


def test_points_that_make_no_certificate_are_refused() -> None:
    only_one_rises = [point(50, 50), point(60, 61, direction=FALLING)]
    for wrong in ([], [point(50, 50)], [point(50, 50), point(60, 40)], only_one_rises):
        with pytest.raises(InputError):
            GaugeCertificate(points=wrong)
    for values in ({"reading_bar": -1}, {"reference_bar": float("nan")}, {"u_bar": 0}):
        with pytest.raises(InputError):
            point(**{"reading_bar": 50, "reference_bar": 50, **values})  # type: ignore[arg-type]
    with pytest.raises(InputError, match="direction"):
        point(50, 50, direction="sideways")
    with pytest.raises(InputError, match="coverage_factor"):
        point(50, 50, coverage_factor=0)
