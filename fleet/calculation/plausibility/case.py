"""One test with its context, and the derived figures that several rules need."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from statistics import fmean, median

from fleet.calculation.gauge_certificate import GaugeCertificate
from fleet.calculation.geometry import LINE_ON_LINE, NESTED, moment_radius
from fleet.calculation.plausibility.facts import (
    DrumFacts,
    EventFacts,
    Phase,
    PreviousTest,
    ReadingFacts,
    SisterTest,
    TestFacts,
)
from fleet.calculation.tables import OutsideTable
from fleet.calculation.targets import GeometryTarget, JackArm
from fleet.calculation.units import display

BRAKE_WORK = ("lining_renewed", "brake_overhauled", "spindle_renewed")
AS_FOUND: tuple[Phase, ...] = ("as_found_untouched", "as_found_reapplied")


@dataclass(frozen=True)
class Case:
    """What every rule looks at."""

    test: TestFacts
    previous: tuple[PreviousTest, ...] = ()
    sisters: tuple[SisterTest, ...] = ()
    events: tuple[EventFacts, ...] = ()
    sister_drums: tuple[DrumFacts, ...] = ()

    @property
    def drum(self) -> DrumFacts:
        return self.test.drum

    @cached_property
    def last(self) -> PreviousTest | None:
        """The latest earlier test."""
        return max(self.previous, key=lambda test: test.tested_on, default=None)

    @cached_property
    def events_since(self) -> tuple[EventFacts, ...]:
        """Events after the last test, up to and including the day of this one."""
        return tuple(
            event
            for event in self.events
            if (self.last is None or event.on > self.last.tested_on)
            and (self.test.tested_on is None or event.on <= self.test.tested_on)
        )

    def happened_since(self, kinds: Iterable[str]) -> EventFacts | None:
        """The latest event of these kinds since the last test."""
        wanted = tuple(kinds)
        return max(
            (event for event in self.events_since if event.kind in wanted), key=lambda event: event.on, default=None
        )

    def rows(self, *phases: Phase, slipped: bool = False) -> Iterator[tuple[int, ReadingFacts]]:
        """Readings with a figure, with their position; of all phases when none is named."""
        for row, reading in enumerate(self.test.readings):
            if reading.reading_pa is None or (phases and reading.phase not in phases):
                continue
            if slipped and reading.result != "slipped":
                continue
            yield row, reading

    def pressures(self, *phases: Phase, slipped: bool = False) -> list[float]:
        return [reading.reading_pa or 0.0 for _, reading in self.rows(*phases, slipped=slipped)]

    @cached_property
    def verification_pa(self) -> float | None:
        """Mean pressure of the verification slips."""
        slips = self.pressures("verification", slipped=True)
        return fmean(slips) if slips else None

    @cached_property
    def area_m2(self) -> float | None:
        """Sum of the effective piston areas of the jacks in use."""
        areas = [jack.area_m2 for jack in self.drum.jacks]
        known = [area for area in areas if area is not None]
        return sum(known) if known and len(known) == len(areas) else None

    @cached_property
    def radius_m(self) -> float | None:
        """Radius at which the line pulls on the layer tested."""
        return radius_m(self.drum)

    @cached_property
    def geometry(self) -> GeometryTarget | None:
        """The moment balance, where the target is worked out from measures and all of them are known."""
        drum = self.drum
        if self.test.target_basis != "geometry" or self.radius_m is None or not drum.jacks:
            return None
        arms = [(jack.area_m2 or 0.0, jack.lever_arm_m or drum.lever_arm_m or 0.0) for jack in drum.jacks]
        if any(area <= 0 or arm <= 0 for area, arm in arms):
            return None
        return GeometryTarget(
            drum_diameter_m=drum.drum_diameter_m or 0.0,
            line_diameter_m=drum.line_diameter_m or 0.0,
            arms=tuple(JackArm(area_m2=area, lever_arm_m=arm) for area, arm in arms),
            layer=reference_layer(drum) or 1,
            nesting=NESTED if drum.nested else LINE_ON_LINE,
        )

    @cached_property
    def expected_pa(self) -> float | None:
        """Target worked out again from the drum's figures and the share aimed at, as this gauge shows it."""
        base, share = self.drum.base_load_n, self.test.share_aimed
        if not self.geometry or not base or not share:
            return None
        true_pa = self.geometry.pressure_for(base * share)
        try:
            return self.certificate.reading_for(true_pa) if self.certificate else true_pa
        except OutsideTable:
            return true_pa

    @property
    def certificate(self) -> GaugeCertificate | None:
        return self.test.gauge.certificate if self.test.gauge else None

    def true_pa(self, reading_pa: float) -> float:
        """What a reading means by the gauge's certificate, where that covers it."""
        try:
            return self.certificate.corrected(reading_pa) if self.certificate else reading_pa
        except OutsideTable:
            return reading_pa

    @cached_property
    def target_pa(self) -> float | None:
        """Target as recorded, or worked out again."""
        return self.test.target_pressure_pa or self.expected_pa

    def share_at(self, pressure_pa: float) -> float | None:
        """Share of the base load at a reading: by the moment balance, else in proportion to the target."""
        base, share, target = self.drum.base_load_n, self.test.share_aimed, self.test.target_pressure_pa
        if self.geometry and base:
            return self.geometry.load_at(self.true_pa(pressure_pa)) / base
        return share * self.true_pa(pressure_pa) / self.true_pa(target) if share and target else None

    @cached_property
    def as_left_share(self) -> float | None:
        """Share at which the brake was left: the caller's, or that at the mean of the verification slips."""
        if self.test.as_left_share is not None:
            return self.test.as_left_share
        return None if self.verification_pa is None else self.share_at(self.verification_pa)

    @property
    def division_pa(self) -> float:
        """Smallest division of the gauge, 0 when unknown."""
        return (self.test.gauge.division_pa or 0.0) if self.test.gauge else 0.0

    @property
    def unit(self) -> str:
        """The gauge's unit, for showing."""
        if self.test.gauge:
            return self.test.gauge.unit
        return "kN" if self.test.target_basis == "load_cell" else "bar"

    def shown_pa(self, pressure_pa: float) -> str:
        """A pressure as the gauge's own unit shows it."""
        return display(pressure_pa, self.unit)

    def shown_mark(self, mark_si: float) -> str:
        """A setting in the unit in which its kind is read."""
        unit = {"marker_distance": "mm", "spring_length": "mm", "shims": "count", "spindle_torque": "N_m"}
        kind = self.drum.setting_kind
        return display(mark_si, self.unit if kind == "applied_pressure" else unit.get(kind or "", "mm"))

    def sister_median(self, quantity: str, among: Iterable[DrumFacts] | None = None) -> float | None:
        """Median of one figure over the vessel's other drums."""
        drums = self.sister_drums if among is None else tuple(among)
        values = [value for drum in drums if (value := getattr(drum, quantity)) is not None]
        return median(values) if values else None


def radius_m(drum: DrumFacts) -> float | None:
    """Radius at which the line pulls on the drum's layer; None while a figure is missing or not above zero."""
    layer = reference_layer(drum)
    if not drum.drum_diameter_m or not drum.line_diameter_m or layer is None:
        return None
    if drum.drum_diameter_m <= 0 or drum.line_diameter_m <= 0:
        return None
    return moment_radius(
        drum_diameter_m=drum.drum_diameter_m,
        line_diameter_m=drum.line_diameter_m,
        layer=layer,
        nesting=NESTED if drum.nested else LINE_ON_LINE,
    )


def reference_layer(drum: DrumFacts) -> int | None:
    """The layer reckoned on: as given, else the first of a split drum; on an undivided drum it must be named."""
    return drum.layer or (1 if drum.kind == "split" else None)


def shown_date(day: date) -> str:
    """A date that no country reads another way."""
    return day.isoformat()


def near(value: float, factor: float, tolerance: float) -> bool:
    """Whether a ratio lies within a relative tolerance of a known factor."""
    return abs(value / factor - 1) <= tolerance
