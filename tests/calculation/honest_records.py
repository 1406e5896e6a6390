"""As many invented records as wanted of tests that were done as they should be."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from math import pi, sqrt
from random import Random
from typing import Any

from fleet.calculation.plausibility import (
    DrumFacts,
    EventFacts,
    GaugeFacts,
    JackFacts,
    PreviousTest,
    ReadingFacts,
    SisterTest,
    TestFacts,
)
from fleet.calculation.targets import GeometryTarget, JackArm
from fleet.calculation.units import from_si, to_si
from tests.calculation.good_record import Record

UNITS = ("bar", "MPa", "kgf/cm2", "psi")
MATERIALS = ("wire", "fibre")
KINDS = ("split", "undivided")
SETTINGS = ("marker_distance", "spindle_torque", "spring_length", "applied_pressure")

# From memory: common single-acting 700 bar jacks, nominal tonnes and effective area in cm².
JACKS = ((10, 14.4), (25, 33.2), (30, 42.1), (50, 71.2), (75, 102.6), (100, 133.3))

# Full scale and divisions, in the unit on the dial.
DIALS = {
    "bar": ((250, (1, 2, 5)), (400, (1, 5, 10)), (600, (5, 10)), (700, (5, 10)), (1000, (10, 20))),
    "kgf/cm2": ((250, (1, 2, 5)), (400, (1, 5, 10)), (600, (5, 10)), (700, (5, 10)), (1000, (10, 20))),
    "MPa": ((25, (0.1, 0.2, 0.5)), (40, (0.1, 0.5, 1)), (60, (0.5, 1)), (70, (0.5, 1)), (100, (1, 2))),
    "psi": ((3600, (20, 50)), (6000, (20, 50, 100)), (10000, (50, 100, 200))),
}


@dataclass
class Brake:
    """A brake with a truth of its own: the share at which it slips, by setting, and how that wanders with wear."""

    setting_kind: str
    direction: int
    step: float
    """Fineness to which the setting is measured, SI."""
    slope: float
    """Relative change of the load per step of the setting."""
    at_aim: float
    """The setting at which it renders just as aimed; moves as the lining wears."""
    lining: float
    places: tuple[float, ...] = field(default=(0.0, 0.0, 0.0))

    def relative_load(self, setting: float) -> float:
        return max(0.2, 1 + self.slope * self.direction * (setting - self.at_aim) / self.step)

    def setting_for_aim(self) -> float:
        return round(self.at_aim / self.step) * self.step

    def wear(self, loss_m: float, linkage: float) -> None:
        self.lining -= loss_m
        if self.setting_kind == "marker_distance":
            self.at_aim += self.direction * linkage * loss_m * 1.5 * pi
        else:
            self.at_aim += self.direction * self.step * loss_m / 0.0005

    def measured_lining(self, rng: Random) -> tuple[float, ...]:
        return tuple(round((self.lining + place + rng.gauss(0, 0.00008)) * 1e4) / 1e4 for place in self.places)


def _brake(rng: Random, setting_kind: str, direction: int) -> Brake:
    step, low, high = {
        "marker_distance": (0.001, 0.035, 0.120),
        "spring_length": (0.001, 0.080, 0.160),
        "spindle_torque": (10.0, 250.0, 700.0),
        "applied_pressure": (2e5, 60e5, 140e5),
    }[setting_kind]
    places = tuple(rng.uniform(-0.0003, 0.0003) for _ in range(3))
    return Brake(
        setting_kind,
        direction,
        step,
        rng.uniform(0.01, 0.035),
        rng.uniform(low, high),
        rng.uniform(0.0095, 0.016),
        places,
    )


def _jack(rng: Random, tonnes: float, area_cm2: float, name: str) -> JackFacts:
    area = area_cm2 * 1e-4
    kind = rng.choice(("plain", "plain", "hollow", "pull", "ram"))
    inner = rng.uniform(0.02, 0.05)
    wide = sqrt(area * 4 / pi) if kind in ("plain", "ram") else sqrt(area * 4 / pi + inner**2)
    measured = round(wide * rng.uniform(0.997, 1.003), 4)
    return JackFacts(
        id=name,
        kind=kind,  # type: ignore[arg-type]
        area_m2=area,
        stated_area_m2=area if rng.random() < 0.7 else None,
        bore_m=None if kind == "ram" else measured,
        inner_m=round(inner, 4) if kind in ("hollow", "pull") else None,
        plunger_m=measured if kind == "ram" else None,
        nominal_capacity_n=to_si(tonnes, "tf"),
        rated_pressure_pa=700e5,
    )


def _drum(rng: Random, material: str, kind: str, base_load_n: float | None, name: str) -> DrumFacts:
    """A drum whose figures go together, inside what ships usually have."""
    while True:
        line = rng.randint(22, 44) if material == "wire" else rng.randint(32, 62)
        diameter = round(rng.uniform(14, 22) * line)
        strength = rng.uniform(0.48, 0.75) if material == "wire" else rng.uniform(0.20, 0.45)
        base = base_load_n or (
            to_si(round(strength * line**2 / 9.80665, rng.choice((0, 1))), "tf")
            if rng.random() < 0.5
            else to_si(float(round(strength * line**2)), "kN")
        )
        flange = round(diameter * rng.uniform(1.35, 2.0))
        arm = rng.randint(600, 1500)
        ratio = (diameter + line) / 2 / arm
        inside = 300 <= diameter <= 900 and 160e3 <= base <= 1380e3 and arm > flange / 2 and 0.155 <= ratio <= 0.49
        if not inside:
            continue
        return DrumFacts(
            id=name,
            name=name,
            kind=kind,  # type: ignore[arg-type]
            brake_kind="band",
            drum_diameter_m=diameter / 1000,
            flange_diameter_m=flange / 1000,
            line_diameter_m=line / 1000,
            line_material=material,  # type: ignore[arg-type]
            layer=1 if kind == "split" else 3,
            nested=rng.random() < 0.3,
            base_load_n=base,
            base_kind=rng.choice(("sdmbl", "sdmbl", "line_mbl")),
            line_mbl_n=base * rng.uniform(1.0, 1.05),
            lever_arm_m=arm / 1000,
        )


def _with_jacks(rng: Random, drum: DrumFacts, share: float) -> tuple[DrumFacts, GeometryTarget] | None:
    """The drum with a jack (or two) that reaches the target at a usual pressure."""
    for _ in range(8):
        tonnes, area_cm2 = rng.choice(JACKS)
        jacks = tuple(_jack(rng, tonnes, area_cm2, f"J{number}") for number in range(rng.choice((1, 1, 1, 2))))
        target = GeometryTarget(
            drum_diameter_m=drum.drum_diameter_m or 0.0,
            line_diameter_m=drum.line_diameter_m or 0.0,
            arms=tuple(JackArm(area_m2=jack.area_m2 or 0.0, lever_arm_m=drum.lever_arm_m or 0.0) for jack in jacks),
            layer=drum.layer or 1,
            nesting="nested" if drum.nested else "line_on_line",
        )
        if 82e5 <= target.pressure_for(share * (drum.base_load_n or 0.0)) <= 440e5:
            return replace(drum, jacks=jacks), target
    return None


def _gauge(rng: Random, unit: str, highest_pa: float, tested_on: date, name: str) -> tuple[GaugeFacts, float]:
    """A gauge that reaches far enough, and how finely its reader reads it (in the gauge's unit)."""
    reaching = [dial for dial in DIALS[unit] if 1.1 * highest_pa < to_si(float(dial[0]), unit) < 8 * highest_pa]
    full_scale, divisions = rng.choice(reaching)
    division = rng.choice(divisions)
    # On a division wider than a tenth of what is read nobody sees anything; an officer takes a better gauge.
    fine = [size for size in divisions if to_si(float(size), unit) < 0.06 * highest_pa]
    division = division if division in fine else (fine or divisions)[0]
    gauge = GaugeFacts(
        name, unit, to_si(float(full_scale), unit), to_si(float(division), unit), rng.choice((0.6, 1.0, 1.6))
    )
    return _calibrated(rng, gauge, tested_on), division * rng.choice((1, 1, 0.5))


def _calibrated(rng: Random, gauge: GaugeFacts, tested_on: date) -> GaugeFacts:
    calibrated = tested_on - timedelta(days=rng.randint(1, 364))
    due = calibrated + timedelta(days=365) if rng.random() < 0.7 else None
    return replace(gauge, calibrated_on=calibrated, calibration_due=due)


@dataclass
class Officer:
    """Slips a brake on a drum and reads a gauge, honestly and to its division."""

    rng: Random
    drum: DrumFacts
    target: GeometryTarget
    gauge: GaugeFacts
    read_to: float
    share: float
    stop_pa: float

    def reads(self, phase: str, brake: Brake, setting: float, *, drift: float = 1.0, **more: Any) -> ReadingFacts:
        noise = self.rng.gauss(0, 0.02)
        load = self.share * (self.drum.base_load_n or 0.0) * brake.relative_load(setting) * drift * (1 + noise)
        pressure, result = self.target.pressure_for(load), "slipped"
        if pressure > self.stop_pa:
            pressure, result = self.stop_pa, "held"
        value = round(from_si(pressure, self.gauge.unit) / self.read_to) * self.read_to
        value = round(value, 4)
        return ReadingFacts(
            phase=phase,  # type: ignore[arg-type]
            reading_pa=to_si(value, self.gauge.unit),
            mark_si=setting,
            typed=f"{value:g}",
            result=result,  # type: ignore[arg-type]
            layer=self.drum.layer,
            **more,
        )

    def share_of(self, slips: list[ReadingFacts]) -> float:
        pressures = [slip.reading_pa or 0.0 for slip in slips]
        return self.target.load_at(sum(pressures) / len(pressures)) / (self.drum.base_load_n or 1.0)

    def tests(self, brake: Brake, setting: float | None, low: float, high: float) -> tuple[list[ReadingFacts], float]:
        """A whole test from the setting found (None: after brake work): readings in order, and the setting left."""
        readings = []
        found_share = None
        if setting is not None:
            readings.append(self.reads("as_found_untouched", brake, setting, drift=self.rng.uniform(0.93, 1.07)))
            if self.rng.random() < 0.5:
                readings.append(self.reads("as_found_reapplied", brake, setting, released_and_reapplied=True))
            found_share = self.share_of(readings) if readings[0].result == "slipped" else 1.0
        if setting is None or found_share is None or not low + 0.015 < found_share < high - 0.015:
            setting = brake.setting_for_aim()
            for steps in range(self.rng.randint(1, 4), 0, -1):
                slack = setting - brake.direction * steps * brake.step
                readings.append(self.reads("adjusting", brake, slack, released_and_reapplied=True))
        while True:
            slips = [
                self.reads("verification", brake, setting, released_and_reapplied=True if number else None)
                for number in range(self.rng.choice((2, 2, 3)))
            ]
            all_slipped = all(slip.result == "slipped" for slip in slips)
            if all_slipped and low <= self.share_of(slips) <= high:
                return readings + slips, setting
            setting = brake.setting_for_aim()


def honest_record(seed: int, *, unit: str, material: str, kind: str, setting_kind: str, direction: int) -> Record:
    """One honest yearly test with its earlier years, sister drums and events; the same for the same arguments."""
    rng = Random(seed)
    share = rng.choice((0.60, 0.60, 0.60, 0.58))
    low, high = share - 0.05, share + 0.05
    fitted = None
    while fitted is None:
        fitted = _with_jacks(rng, _drum(rng, material, kind, None, "D1"), share)
    drum, target = fitted
    base = drum.base_load_n or 0.0
    brake = _brake(rng, setting_kind, direction)
    fresh = brake.at_aim
    drum = replace(
        drum,
        setting_kind=setting_kind,  # type: ignore[arg-type]
        tighter_direction=direction,  # type: ignore[arg-type]
        mark_low_si=brake.at_aim - 40 * brake.step,
        mark_high_si=brake.at_aim + 40 * brake.step,
        setting_per_turn_si=rng.uniform(2, 12) * brake.step,
        lining_new_m=round(brake.lining + 0.0004, 4),
        lining_minimum_m=round(brake.lining * 0.5, 4),
    )
    stop_pa = target.pressure_for(high * base)
    previous: list[PreviousTest] = []
    events: list[EventFacts] = []
    setting: float | None = None
    linkage, day, number = rng.uniform(0.8, 1.2), date(2020, 1, 1) + timedelta(rng.randint(0, 900)), 0
    officer: Officer | None = None
    years = rng.randint(0, 4)
    renewed_after = rng.choice((None, None, None, rng.randint(1, max(1, years))))
    if rng.random() < 0.3:
        events.append(EventFacts("brake_overhauled", day - timedelta(days=rng.randint(400, 2000))))
    for year in range(years + 1):
        if year:
            if brake.lining > 0.68 * (drum.lining_new_m or 0.0):
                brake.wear(rng.choice((0.0, 1.0)) * rng.uniform(0.00005, 0.0006), linkage)
            if renewed_after == year:
                brake = replace(
                    brake, lining=(drum.lining_new_m or 0.0) - 0.0004, at_aim=fresh + rng.uniform(-8, 8) * brake.step
                )
                events.append(EventFacts("lining_renewed", day + timedelta(days=rng.randint(30, 300))))
                setting = None
            day += timedelta(days=rng.randint(320, 365))
        dial_unit = unit if year == years else rng.choice((unit, unit, unit, *UNITS))
        if officer is None or dial_unit != officer.gauge.unit or rng.random() < 0.2:
            number += 1
            gauge, read_to = _gauge(rng, dial_unit, stop_pa, day, f"G{number}")
        else:
            gauge, read_to = _calibrated(rng, officer.gauge, day), officer.read_to
        officer = Officer(rng, drum, target, gauge, read_to, share, stop_pa)
        readings, setting = officer.tests(brake, setting if year or rng.random() < 0.5 else None, low, high)
        if year == years:
            break
        slips = [slip for slip in readings if slip.phase == "verification"]
        previous.append(
            PreviousTest(
                tested_on=day,
                readings=tuple(readings),
                mark_si=setting,
                gauge_id=officer.gauge.id,
                gauge_unit=officer.gauge.unit,
                lining_m=brake.measured_lining(rng),
                drum_diameter_m=drum.drum_diameter_m,
                line_diameter_m=drum.line_diameter_m,
                lever_arm_m=drum.lever_arm_m,
                area_m2=sum(jack.area_m2 or 0.0 for jack in drum.jacks),
                jack_ids=tuple(jack.id or "" for jack in drum.jacks),
                base_load_n=base,
                as_left_share=officer.share_of(slips),
            )
        )
    assert officer is not None
    test = TestFacts(
        drum=drum,
        gauge=officer.gauge,
        tested_on=day,
        readings=tuple(readings),
        lining_m=brake.measured_lining(rng),
        drum_surface_ok=True,
        band_rest_ok=True,
        pay_out_side_confirmed=True,
        sister_drum_clear=True,
        reeled_as_marked=True,
        brake_wet=False,
        run_in=True,
        share_aimed=share,
        policy_share=share,
        policy_slips=2,
        band_low=low,
        band_high=high,
        target_pressure_pa=target.pressure_for(share * base),
        stop_pressure_pa=stop_pa,
        outcome="set_in_band",
    )
    sisters, sister_drums = _ship(rng, drum, setting_kind, direction, brake.step)
    return Record(test, tuple(previous), sisters, tuple(events), sister_drums)


def _ship(
    rng: Random, drum: DrumFacts, setting_kind: str, direction: int, step: float
) -> tuple[tuple[SisterTest, ...], tuple[DrumFacts, ...]]:
    """The ship's other drums: one or two types of winch, one base load, marks in whole steps, equal pairs and all."""
    usual = _brake(rng, setting_kind, direction).at_aim
    other_type = _drum(rng, drum.line_material or "wire", drum.kind or "split", drum.base_load_n, "other")
    other_types = [drum, drum if rng.random() < 0.6 else other_type]
    sisters, sister_drums = [], []
    for number in range(2, rng.randint(8, 15)):
        before = round((usual + rng.uniform(-15, 15) * step) / step) * step
        now = before + direction * rng.randint(0, 3) * step
        sisters.append(SisterTest(f"D{number}", setting_kind, now, before))  # type: ignore[arg-type]
        sister_drums.append(replace(rng.choice(other_types), id=f"D{number}", name=f"Drum {number}"))
    return tuple(sisters), tuple(sister_drums)
