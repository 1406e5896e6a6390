"""One test with its context, and the derived figures that several rules need."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from statistics import fmean, median

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

    def shown_pa(self, pressure_pa: float) -> str:
        """A pressure as the gauge's own unit shows it."""
        return display(pressure_pa, self.test.gauge.unit if self.test.gauge else "bar")

    def sister_median(self, quantity: str, among: Iterable[DrumFacts] | None = None) -> float | None:
        """Median of one figure over the vessel's other drums."""
        drums = self.sister_drums if among is None else tuple(among)
        values = [value for drum in drums if (value := getattr(drum, quantity)) is not None]
        return median(values) if values else None


def radius_m(drum: DrumFacts) -> float | None:
    """Radius at which the line pulls on the drum's layer; None while a figure is missing or not above zero."""
    if not drum.drum_diameter_m or not drum.line_diameter_m:
        return None
    if drum.drum_diameter_m <= 0 or drum.line_diameter_m <= 0:
        return None
    return moment_radius(
        drum_diameter_m=drum.drum_diameter_m,
        line_diameter_m=drum.line_diameter_m,
        layer=drum.layer or 1,
        nesting=NESTED if drum.nested else LINE_ON_LINE,
    )


def shown_date(day: date) -> str:
    """A date that no country reads another way."""
    return day.isoformat()


def near(value: float, factor: float, tolerance: float) -> bool:
    """Whether a ratio lies within a relative tolerance of a known factor."""
    return abs(value / factor - 1) <= tolerance
