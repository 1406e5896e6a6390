"""What a brake rendering load was worked out from: reading, gauge, target, and what is known of each figure."""

from dataclasses import dataclass, field
from functools import cached_property
from typing import cast

from fleet.calculation.assumptions import Assumptions, Tolerances
from fleet.calculation.checks import InputError, require_positive
from fleet.calculation.gauge import permissible_error
from fleet.calculation.gauge_certificate import GaugeCertificate
from fleet.calculation.slips import SlipSpread
from fleet.calculation.targets import ForceCalibratedTarget, Target
from fleet.calculation.units import Number


@dataclass(frozen=True, kw_only=True)
class GaugeInUse:
    """The gauge as its dial and its certificate describe it; Pa, or N for a load cell.

    Args: full_scale_si: end of a scale that begins at zero; accuracy_class: on the dial, None only with a certificate
    that states its uncertainty; smallest_division_si: None where nobody wrote it down; certificate: replaces the class
    where it states its uncertainty, and corrects the reading in any case. Raises: InputError.
    """

    full_scale_si: float
    accuracy_class: float | None = None
    smallest_division_si: float | None = None
    certificate: GaugeCertificate | None = None

    def __post_init__(self) -> None:
        require_positive(full_scale_si=self.full_scale_si)
        if self.accuracy_class is not None:
            permissible_error(accuracy_class=self.accuracy_class, span_pa=self.full_scale_si)
        elif not self.is_certified:
            raise InputError("accuracy_class", "is needed without a certificate that states its uncertainty")
        if self.smallest_division_si is not None:
            require_positive(smallest_division_si=self.smallest_division_si)

    @property
    def is_certified(self) -> bool:
        """Whether a certificate takes the place of the class."""
        return self.certificate is not None and self.certificate.states_uncertainty


def lever_weight_part(*, weight_n: float, jack_force_n: float) -> float:
    """The greatest part of the jacks' force that lifting a lever of known weight may take.

    Half its weight hangs on the jack where the lever is of one section from drum centre to jack and level: common
    practice, no published source. Args: weight_n: N; jack_force_n: of all jacks, N. Raises: InputError.
    Source: moment balance of a level beam about the drum's centre.

    >>> round(lever_weight_part(weight_n=1200.0, jack_force_n=123_450.0), 4)
    0.0049
    """
    require_positive(weight_n=weight_n, jack_force_n=jack_force_n)
    return weight_n / 2 / jack_force_n


@dataclass(frozen=True, kw_only=True)
class Measurement:
    """All that a brake rendering load was worked out from.

    Args:
        reading_si: what the gauge showed at the slip, or the mean of the slips; Pa, N for a load cell; float or array.
        target: any basis; the figures of a geometry may be arrays too.
        gauge: the gauge in use.
        tolerances: what is known of the figures' half-widths.
        assumptions: for what is not known; None counts only what is known, and names the rest in ``not_counted``.
        spread: of the slips, see ``slip_spread``; None takes the assumption, for a single slip.
    """

    reading_si: Number
    target: Target
    gauge: GaugeInUse
    tolerances: Tolerances = field(default_factory=Tolerances)
    assumptions: Assumptions | None = field(default_factory=Assumptions)
    spread: SlipSpread | None = None

    @cached_property
    def corrected_si(self) -> Number:
        """The reading after the certificate's correction. Raises: OutsideTable."""
        certificate = self.gauge.certificate
        # A jack calibrated as force was calibrated against its gauge's own readings.
        if certificate is None or isinstance(self.target, ForceCalibratedTarget):
            return self.reading_si
        return certificate.corrected(cast(float, self.reading_si))
