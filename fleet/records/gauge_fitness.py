"""The gauge on the day: calibration, place on the scale, what it leaves open, and what a test with it can show."""

from dataclasses import dataclass
from datetime import date

from django.utils.formats import date_format
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

from fleet.calculation import brake, gauge, units
from fleet.calculation.conformity import GUARDED
from fleet.calculation.sentences import points_shown
from fleet.gauges.models import GaugeCalibration
from fleet.records.figures import Figures
from fleet.records.trust import LoadTrust, TrustUnknown, expected_trust
from fleet.records.trust_content import said

PLACE_WORDS: dict[str, str | Promise] = {
    gauge.TOO_LOW_ON_SCALE: lazy("in the lowest quarter of the scale: this gauge is too large for the reading"),
    gauge.USABLE: lazy("in the usable part of the scale"),
    gauge.TOO_HIGH_ON_SCALE: lazy("above three quarters of the scale: this gauge is too small for the reading"),
    gauge.OFF_SCALE: lazy("beyond the end of the scale: this gauge cannot be used"),
}


@dataclass(frozen=True)
class ExpectedTrust:
    """What one test at the target would be worth with this kit, said before anybody pumps."""

    sentence: str
    cannot_be_proven: bool
    """True where by the operator's guarded rule no load at all could be found in band with this kit."""
    advice: str


@dataclass(frozen=True)
class GaugeFitness:
    """The gauge as it stands on the day of the test."""

    calibration: GaugeCalibration | None
    state: str
    valid_until: date | None
    sentence: str
    place: str | Promise
    on_scale: str
    place_is_good: bool
    correction: str
    """What its certificate corrects at the target, in words; empty where none counts."""
    uncovered: str
    """Why a certificate that is there does not count; empty otherwise."""
    is_certified: bool
    """Whether the uncertainty of its certificate takes the place of its class."""
    error_shown: str
    error_share: str
    expected: ExpectedTrust | None

    @property
    def in_date(self) -> bool:
        return self.state == gauge.IN_DATE


def gauge_fitness(figures: Figures, on: date) -> GaugeFitness:
    instrument, reading_si, unit = figures.kit.gauge, figures.aim.reading_si, figures.gauge_unit
    calibration = instrument.calibration_on(on)
    found = gauge.calibration_state(
        calibration.calibrated_on if calibration else None, on, interval_months=figures.policy.calibration_months
    )
    state, until = found.state, found.valid_until
    if calibration and calibration.valid_until:
        until = calibration.valid_until
        state = gauge.IN_DATE if on <= until else gauge.OVERDUE
    place = gauge.scale_place(reading_pa=reading_si, full_scale_pa=instrument.full_scale.si)
    correction = figures.correction_at(reading_si)
    is_certified, error_si = _error(figures, reading_si)
    return GaugeFitness(
        calibration=calibration,
        state=state,
        valid_until=until,
        sentence=_calibration_sentence(state, calibration, until),
        place=PLACE_WORDS[place.place],
        on_scale=units.display(place.fraction, "percent"),
        place_is_good=place.place == gauge.USABLE,
        correction=said(correction.sentence(unit)) if correction else "",
        uncovered=figures.uncovered,
        is_certified=is_certified,
        error_shown=units.display(error_si, unit),
        error_share=_share_of_error(figures, reading_si, error_si),
        expected=_expected(figures),
    )


def _error(figures: Figures, reading_si: float) -> tuple[bool, float]:
    """What the gauge leaves open at the target: U of its certificate where that states it, else the class's limit."""
    certificate = figures.certificate
    if certificate is not None and certificate.states_uncertainty:
        factor = certificate.coverage_factor or 2.0
        return True, factor * certificate.standard_uncertainty_at(reading_si)
    instrument = figures.kit.gauge
    limit_si = gauge.permissible_error(
        accuracy_class=float(instrument.accuracy_class), span_pa=instrument.full_scale.si
    )
    return False, limit_si


def _share_of_error(figures: Figures, reading_si: float, error_si: float) -> str:
    """Points of the base load that the gauge leaves open; empty where the table ends too near."""
    try:
        high, low = figures.at(reading_si + error_si), figures.at(max(0.0, reading_si - error_si))
    except brake.OutsideTable:
        return ""
    return units.digits((high.share - low.share) / 2, "percent")


def _expected(figures: Figures) -> ExpectedTrust | None:
    try:
        trust = expected_trust(figures)
    except TrustUnknown:
        return None
    judged = trust.conformity
    cannot = judged.rule == GUARDED and not judged.can_be_proven
    return ExpectedTrust(_expected_sentence(trust, cannot), cannot, said(trust.advice.sentence) if trust.advice else "")


def _expected_sentence(trust: LoadTrust, cannot: bool) -> str:
    judged = trust.conformity
    words = {
        "points": points_shown(trust.expanded_share),
        "base": judged.base_name,
        "low": units.digits(judged.lower, "percent"),
        "high": units.display(judged.upper, "percent"),
        "from": units.digits(judged.accept_from, "percent"),
        "to": units.display(judged.accept_to, "percent"),
    }
    if cannot:
        return _(
            "A test with this kit would be uncertain by ± {points} points of {base}. By the operator's guarded rule no "
            "load could then be shown to lie in the band of {low} to {high}."
        ).format(**words)
    if judged.rule == GUARDED:
        return _(
            "A test with this kit will be uncertain by about ± {points} points of {base}: by the operator's guarded "
            "rule the best estimate must come to lie between {from} and {to}."
        ).format(**words)
    return _("A test with this kit will be uncertain by about ± {points} points of {base}.").format(**words)


def _calibration_sentence(state: str, calibration: GaugeCalibration | None, until: date | None) -> str:
    if calibration is None or until is None:
        return _("No calibration is recorded for this day: the gauge cannot be trusted with a result.")
    words = {
        "number": calibration.certificate_number,
        "laboratory": calibration.laboratory,
        "day": date_format(calibration.calibrated_on, "j M Y"),
        "until": date_format(until, "j M Y"),
    }
    if state == gauge.IN_DATE:
        return _("Calibrated {day}, certificate {number}, {laboratory}; in date until {until}.").format(**words)
    return _("Out of date since {until}: calibrated {day}, certificate {number}, {laboratory}.").format(**words)
