"""A gauge's calibration certificate: correction, its uncertainty, hysteresis, and what to pump to. Pressures in Pa.

For a load cell the same holds with N in place of Pa.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from fleet.calculation import units
from fleet.calculation.checks import InputError, require_not_negative, require_positive
from fleet.calculation.sentences import Sentence, gettext_noop
from fleet.calculation.tables import OutsideTable, RisingTable
from fleet.calculation.units import N

RISING = "rising"
FALLING = "falling"
DIRECTIONS = (RISING, FALLING)

READS_HIGH = gettext_noop("The gauge reads {difference} high here: {reading} on the dial is {reference}.")
READS_LOW = gettext_noop("The gauge reads {difference} low here: {reading} on the dial is {reference}.")
READS_TRUE = gettext_noop("The gauge reads true here: {reading} on the dial is {reference}.")
PUMP_TO = gettext_noop("Pump to {reading} on this gauge: that is {reference}.")
NOT_COVERED = gettext_noop(
    "The calibration certificate covers readings of {low} to {high}; beyond them nothing is known of this gauge. "
    "Have it calibrated over the part that the test uses, or use another gauge."
)


@dataclass(frozen=True, kw_only=True)
class CertificatePoint:
    """One line of the certificate: what the gauge showed, what the reference showed, and how well that is known.

    Args: reading_pa, reference_pa: zero or more; expanded_uncertainty_pa: U as printed, None where the certificate
    gives none; coverage_factor: k as printed; direction: whether the pressure was ``rising`` or ``falling``.
    Raises: InputError.
    """

    reading_pa: float
    reference_pa: float
    expanded_uncertainty_pa: float | None = None
    coverage_factor: float = 2.0
    direction: str = RISING

    def __post_init__(self) -> None:
        require_not_negative(reading_pa=self.reading_pa, reference_pa=self.reference_pa)
        require_positive(coverage_factor=self.coverage_factor)
        if self.expanded_uncertainty_pa is not None:
            require_positive(expanded_uncertainty_pa=self.expanded_uncertainty_pa)
        if self.direction not in DIRECTIONS:
            raise InputError("direction", f"must be one of {', '.join(DIRECTIONS)}")


@dataclass(frozen=True, kw_only=True)
class Correction:
    """What a reading means: true pressure, the gauge's error (reading less true) and its standard uncertainty, Pa."""

    reading_pa: float
    reference_pa: float
    standard_uncertainty_pa: float | None

    @property
    def error_pa(self) -> float:
        """Above zero when the gauge reads high."""
        return self.reading_pa - self.reference_pa

    def sentence(self, unit: str) -> Sentence:
        """In words, such as: the gauge reads 1.2 bar high here; in a unit of the gauge. Raises: UnitError."""
        difference = units.display(abs(self.error_pa), unit)
        is_true = difference == units.display(0.0, unit)
        return Sentence(
            template=READS_TRUE if is_true else READS_HIGH if self.error_pa > 0 else READS_LOW,
            figures={
                "difference": difference,
                "reading": units.display(self.reading_pa, unit),
                "reference": units.display(self.reference_pa, unit),
            },
        )


@dataclass(frozen=True, kw_only=True)
class Hysteresis:
    """How much less the true pressure is on the way down than on the way up, at one reading, Pa.

    ``noticed``: more than the certificate's own uncertainty can explain.
    """

    reading_pa: float
    difference_pa: float
    noticed: bool


@dataclass(frozen=True, kw_only=True)
class GaugeCertificate:
    """Calibration points put to use. A test reads a rising pressure, so the rising points correct it.

    Args: points: at least two rising ones, in any order. Raises: InputError when they do not rise; OutsideTable beyond
    the rising points: nothing is extrapolated.
    Source: the certificate; linear interpolation of the reference and of the standard uncertainty U/k.

    >>> points = [CertificatePoint(reading_pa=10e6, reference_pa=9.9e6, expanded_uncertainty_pa=0.1e6),
    ...           CertificatePoint(reading_pa=20e6, reference_pa=19.86e6, expanded_uncertainty_pa=0.2e6),
    ...           CertificatePoint(reading_pa=15e6, reference_pa=14.5e6, direction="falling")]
    >>> certificate = GaugeCertificate(points=points)
    >>> certificate.correction_at(15e6).sentence("bar").text
    'The gauge reads 1.2 bar high here: 150.0 bar on the dial is 148.8 bar.'
    >>> certificate.standard_uncertainty_at(15e6)
    75000.0
    >>> [(round(part.difference_pa), part.noticed) for part in certificate.hysteresis]
    [(380000, True)]
    """

    points: Sequence[CertificatePoint]

    def __post_init__(self) -> None:
        _ = self.table

    @cached_property
    def rising(self) -> tuple[CertificatePoint, ...]:
        """The points on the way up, by reading."""
        up = [point for point in self.points if point.direction == RISING]
        return tuple(sorted(up, key=lambda point: point.reading_pa))

    @cached_property
    def table(self) -> RisingTable:
        """The rising points, checked: the reference against the gauge's reading."""
        return RisingTable(
            xs=[point.reading_pa for point in self.rising],
            ys=[point.reference_pa for point in self.rising],
            x_name="gauge reading",
            y_name="reference pressure",
        )

    @property
    def states_uncertainty(self) -> bool:
        """Whether every rising point carries its U; only then can the certificate replace the class."""
        return all(point.expanded_uncertainty_pa is not None for point in self.rising)

    @property
    def coverage_factor(self) -> float | None:
        """The one k of all rising points; None where they differ."""
        factors = {point.coverage_factor for point in self.rising}
        return factors.pop() if len(factors) == 1 else None

    def corrected(self, reading_pa: N) -> N:
        """True pressure for a reading, float or array. Raises: OutsideTable."""
        return self.table.y_at(reading_pa)

    def reading_for(self, reference_pa: N) -> N:
        """What the gauge shows at a true pressure: the reading to pump to. Float or array. Raises: OutsideTable."""
        return self.table.x_at(reference_pa)

    def standard_uncertainty_at(self, reading_pa: N) -> N:
        """U/k at a reading, between the points by interpolation. Raises: OutsideTable; InputError without any U."""
        if not self.states_uncertainty:
            raise InputError("expanded_uncertainty_pa", "is not stated at every rising point")
        self.corrected(reading_pa)
        known = [(point.expanded_uncertainty_pa or 0.0) / point.coverage_factor for point in self.rising]
        between: Any = np.interp(reading_pa, self.table.xs, known)
        return between if np.ndim(reading_pa) else between.item()

    def correction_at(self, reading_pa: float) -> Correction:
        """What a reading means. Raises: OutsideTable."""
        return Correction(
            reading_pa=reading_pa,
            reference_pa=self.corrected(reading_pa),
            standard_uncertainty_pa=self.standard_uncertainty_at(reading_pa) if self.states_uncertainty else None,
        )

    def pump_to(self, reference_pa: float, unit: str) -> Sentence:
        """What the crew is told for a true target pressure, in a gauge's unit. Raises: OutsideTable; UnitError."""
        return Sentence(
            template=PUMP_TO,
            figures={
                "reading": units.display(self.reading_for(reference_pa), unit),
                "reference": units.display(reference_pa, unit),
            },
        )

    def not_covered(self, unit: str) -> Sentence:
        """What to say when OutsideTable was raised. Raises: UnitError."""
        ends = self.rising[0].reading_pa, self.rising[-1].reading_pa
        return Sentence(
            template=NOT_COVERED,
            figures={"low": units.display(ends[0], unit), "high": units.display(ends[1], unit)},
        )

    @cached_property
    def hysteresis(self) -> tuple[Hysteresis, ...]:
        """The falling points against the rising ones; falling points beyond the rising part say nothing."""
        found = []
        for point in sorted(self.points, key=lambda point: point.reading_pa):
            if point.direction != FALLING:
                continue
            try:
                going_up_pa = self.corrected(point.reading_pa)
            except OutsideTable:
                continue
            explained_pa = self.standard_uncertainty_at(point.reading_pa) if self.states_uncertainty else 0.0
            factor = self.coverage_factor or 2.0
            difference_pa = going_up_pa - point.reference_pa
            found.append(
                Hysteresis(
                    reading_pa=point.reading_pa,
                    difference_pa=difference_pa,
                    noticed=abs(difference_pa) > factor * explained_pa,
                )
            )
        return tuple(found)
