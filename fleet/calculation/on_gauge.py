"""A target as one gauge shows it: every reading is what stands on its dial, corrected by its certificate."""

from dataclasses import dataclass

from fleet.calculation.checks import InputError
from fleet.calculation.gauge_certificate import GaugeCertificate
from fleet.calculation.tables import OutsideTable
from fleet.calculation.targets import ForceCalibratedTarget, Target
from fleet.calculation.units import N


class OutsideCertificate(OutsideTable):
    """A reading, or a true value, of which the gauge's certificate says nothing."""


@dataclass(frozen=True, kw_only=True)
class TargetOnGauge:
    """Any basis but a jack calibrated as force, read on a gauge whose certificate is counted.

    Args: target: the basis, in true pressures (N for a load cell); certificate: of the gauge in use. The certificate is
    never extrapolated. Raises: InputError for a jack calibrated as force, whose table holds the gauge's own readings;
    OutsideCertificate beyond the certificate; OutsideTable beyond the basis' own table.
    Source: the certificate, linear interpolation between its rising points.

    >>> from fleet.calculation.gauge_certificate import CertificatePoint
    >>> from fleet.calculation.targets import equal_jacks
    >>> jack = equal_jacks(area_m2=71.26e-4, lever_arm_m=1.0, drum_diameter_m=0.610, line_diameter_m=0.036)
    >>> points = [CertificatePoint(reading_pa=r, reference_pa=t) for r, t in ((10e6, 9.92e6), (20e6, 19.87e6))]
    >>> shown = TargetOnGauge(target=jack, certificate=GaugeCertificate(points=points))
    >>> round(jack.pressure_for(382_200.0) / 1e5, 1), round(shown.pressure_for(382_200.0) / 1e5, 1)
    (173.2, 174.4)
    >>> round(shown.load_at(shown.pressure_for(382_200.0)), 3)
    382200.0
    """

    target: Target
    certificate: GaugeCertificate

    def __post_init__(self) -> None:
        if isinstance(self.target, ForceCalibratedTarget):
            raise InputError("target", "calibrated as force is read on its own gauge already")

    @property
    def basis(self) -> str:
        return self.target.basis

    @property
    def reading_kind(self) -> str:
        return self.target.reading_kind

    @property
    def highest_reading_si(self) -> float:
        """End of the certificate on the dial, Pa (N for a cell)."""
        return self.certificate.rising[-1].reading_pa

    def true_at(self, reading: N, /) -> N:
        """True pressure (N for a cell) at a reading of the dial."""
        try:
            return self.certificate.corrected(reading)
        except OutsideTable as error:
            raise _beyond(error) from error

    def on_dial(self, true: N, /) -> N:
        """What the dial shows at a true pressure (N for a cell)."""
        try:
            return self.certificate.reading_for(true)
        except OutsideTable as error:
            raise _beyond(error) from error

    def load_at(self, reading: N, /) -> N:
        """Line load in N at a reading of the dial."""
        return self.target.load_at(self.true_at(reading))

    def pressure_for(self, load_n: N, /) -> N:
        """What the dial shows at a line load in N."""
        return self.on_dial(self.target.pressure_for(load_n))

    def jack_forces_at(self, reading: float, /) -> tuple[float, ...]:
        """Force of each jack in N at a reading of the dial."""
        return self.target.jack_forces_at(self.true_at(reading))

    def pressure_for_jack_force(self, total_force_n: float, /) -> float:
        """What the dial shows when the jacks together push with a force in N."""
        return self.on_dial(self.target.pressure_for_jack_force(total_force_n))


def _beyond(error: OutsideTable) -> OutsideCertificate:
    return OutsideCertificate(error.what, error.low_si, error.high_si, is_below=error.is_below)
