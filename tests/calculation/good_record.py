"""One honest test worked out by hand, and what it takes to make a single mistake on it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from fleet.calculation.plausibility import (
    DrumFacts,
    EventFacts,
    Finding,
    GaugeFacts,
    JackFacts,
    PreviousTest,
    ReadingFacts,
    SisterTest,
    TestFacts,
    find,
)
from fleet.calculation.targets import GeometryTarget, JackArm
from fleet.calculation.units import to_si


@dataclass(frozen=True)
class Record:
    """A test with all that `find` is told beside it."""

    test: TestFacts
    previous: tuple[PreviousTest, ...] = ()
    sisters: tuple[SisterTest, ...] = ()
    events: tuple[EventFacts, ...] = ()
    sister_drums: tuple[DrumFacts, ...] = ()

    def find(self) -> tuple[Finding, ...]:
        return find(self.test, self.previous, self.sisters, self.events, self.sister_drums)

    def codes(self) -> set[str]:
        return {finding.code for finding in self.find()}

    def with_test(self, **changes: Any) -> Record:
        return replace(self, test=replace(self.test, **changes))

    def with_drum(self, **changes: Any) -> Record:
        return self.with_test(drum=replace(self.test.drum, **changes))

    def with_jack(self, **changes: Any) -> Record:
        return self.with_drum(jacks=(replace(self.test.drum.jacks[0], **changes),))

    def with_gauge(self, **changes: Any) -> Record:
        assert self.test.gauge is not None
        return self.with_test(gauge=replace(self.test.gauge, **changes))

    def with_last(self, **changes: Any) -> Record:
        return replace(self, previous=(*self.previous[:-1], replace(self.previous[-1], **changes)))

    def with_reading(self, row: int, **changes: Any) -> Record:
        readings = list(self.test.readings)
        readings[row] = replace(readings[row], **changes)
        return self.with_test(readings=tuple(readings))

    def with_pressures(self, phase: str, *bars: float) -> Record:
        """The readings of one phase, in bar, typed as they are."""
        typed = iter(bars)
        readings = tuple(
            replace(reading, reading_pa=to_si(value, "bar"), typed=f"{value:g}")
            if reading.phase == phase and (value := next(typed)) is not None
            else reading
            for reading in self.test.readings
        )
        return self.with_test(readings=readings)


def reading(phase: Any, bars: float, mark_mm: float, **more: Any) -> ReadingFacts:
    return ReadingFacts(
        phase=phase, reading_pa=to_si(bars, "bar"), mark_si=mark_mm / 1000, typed=f"{bars:g}", layer=1, **more
    )


def good_record() -> Record:
    """A split drum of an invented ship, tested as it should be: 60 % of 650 kN is 176.9 bar on this jack."""
    jack = JackFacts(
        id="J1",
        kind="plain",
        area_m2=71.2e-4,
        stated_area_m2=71.2e-4,
        bore_m=0.0952,
        nominal_capacity_n=to_si(50.0, "tf"),
        rated_pressure_pa=700e5,
    )
    drum = DrumFacts(
        id="D1",
        name="Aft spring port",
        kind="split",
        brake_kind="band",
        drum_diameter_m=0.640,
        flange_diameter_m=1.150,
        line_diameter_m=0.038,
        line_material="wire",
        layer=1,
        base_load_n=650e3,
        base_kind="sdmbl",
        line_mbl_n=660e3,
        lever_arm_m=1.050,
        lever_off_square_deg=1.0,
        jacks=(jack,),
        setting_kind="marker_distance",
        mark_low_si=0.030,
        mark_high_si=0.110,
        tighter_direction=1,
        setting_per_turn_si=0.008,
        lining_new_m=0.012,
        lining_minimum_m=0.006,
    )
    readings = (
        reading("as_found_untouched", 164, 62),
        reading("adjusting", 170, 63, released_and_reapplied=True),
        reading("adjusting", 174, 64, released_and_reapplied=True),
        reading("verification", 178, 65, released_and_reapplied=True),
        reading("verification", 182, 65, released_and_reapplied=True),
    )
    before = (
        reading("as_found_untouched", 166, 60),
        reading("adjusting", 172, 61, released_and_reapplied=True),
        reading("adjusting", 174, 61, released_and_reapplied=True),
        reading("verification", 176, 62, released_and_reapplied=True),
        reading("verification", 180, 62, released_and_reapplied=True),
    )
    test = TestFacts(
        drum=drum,
        gauge=GaugeFacts("G1", "bar", 400e5, 2e5, 1.0, date(2026, 2, 1), date(2027, 2, 1)),
        tested_on=date(2026, 11, 20),
        readings=readings,
        lining_m=(0.0101, 0.0101, 0.0100),
        drum_surface_ok=True,
        band_rest_ok=True,
        pay_out_side_confirmed=True,
        sister_drum_clear=True,
        reeled_as_marked=True,
        brake_wet=False,
        run_in=True,
        share_aimed=0.60,
        policy_share=0.60,
        policy_slips=2,
        band_low=0.55,
        band_high=0.65,
        target_pressure_pa=176.85e5,
        stop_pressure_pa=191.6e5,
        outcome="set_in_band",
    )
    last = PreviousTest(
        tested_on=date(2025, 11, 24),
        readings=before,
        mark_si=0.062,
        gauge_id="G1",
        gauge_unit="bar",
        lining_m=(0.0104, 0.0105, 0.0103),
        drum_diameter_m=0.640,
        line_diameter_m=0.038,
        lever_arm_m=1.050,
        area_m2=71.2e-4,
        jack_ids=("J1",),
        base_load_n=650e3,
        as_left_share=0.604,
    )
    marks = ((48, 47), (65, 63), (71, 70), (55, 53), (82, 79))
    sisters = tuple(
        SisterTest(f"D{number}", "marker_distance", now / 1000, before / 1000)
        for number, (now, before) in enumerate(marks, start=2)
    )
    sister_drums = tuple(replace(drum, id=f"D{number}", name=f"Drum {number}") for number in range(2, 7))
    return Record(test, (last,), sisters, (EventFacts("lining_renewed", date(2023, 3, 1)),), sister_drums)


def alone(record: Record) -> Record:
    """The same test on a drum without history or sister drums."""
    return replace(record, previous=(), sisters=(), sister_drums=())


def carried_through(record: Record) -> Record:
    """The test as it goes when the drum's figures are believed: target, STOP and readings all follow from them."""
    test, drum = record.test, record.test.drum
    target = GeometryTarget(
        drum_diameter_m=drum.drum_diameter_m or 0.0,
        line_diameter_m=drum.line_diameter_m or 1e-6,
        arms=tuple(JackArm(area_m2=jack.area_m2 or 0.0, lever_arm_m=drum.lever_arm_m or 0.0) for jack in drum.jacks),
        layer=drum.layer or 1,
        nesting="nested" if drum.nested else "line_on_line",
    )
    target_pa = target.pressure_for((test.share_aimed or 0.0) * (drum.base_load_n or 0.0))
    factor = target_pa / (test.target_pressure_pa or 1.0)

    def follows(reading: ReadingFacts) -> ReadingFacts:
        bars = (reading.reading_pa or 0.0) * factor / 1e5
        bars = round(bars / 2) * 2 if factor > 0.4 else round(bars, 1)
        return replace(reading, reading_pa=bars * 1e5, typed=f"{bars:g}", layer=drum.layer)

    return record.with_test(
        target_pressure_pa=target_pa,
        stop_pressure_pa=(test.stop_pressure_pa or 0.0) * factor,
        readings=tuple(follows(reading) for reading in test.readings),
    )
