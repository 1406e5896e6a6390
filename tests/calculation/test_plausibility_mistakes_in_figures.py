"""Each mistake in the drum's figures, instruments or target, made on an otherwise good record, is named for what it is.

The mistaken figure is believed: target, STOP and readings follow from it, as they do aboard.
The list of mistakes is common practice, no published source; factors of units: NIST SP 811, Appendix B.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import replace
from datetime import date
from math import pi

import pytest

from fleet.calculation.plausibility import JackFacts
from tests.calculation.good_record import Record, alone, carried_through, good_record

Mistake = Callable[[Record], Record]

TONNE_FORCE_KN = 9.80665
SHORT_TON, LONG_TON = 0.907185, 1.016047
RING = pi / 4 * (0.0952**2 - 0.0571**2)
BASE = pi / 4 * 0.127**2


def drum(**changes: object) -> Mistake:
    return lambda record: carried_through(record.with_drum(**changes))


def drum_alone(**changes: object) -> Mistake:
    return lambda record: carried_through(alone(record.with_drum(**changes)))


def jack(**changes: object) -> Mistake:
    return lambda record: carried_through(record.with_jack(**changes))


def gauge(**changes: object) -> Mistake:
    return lambda record: record.with_gauge(**changes)


def target(bars: float) -> Mistake:
    return lambda record: record.with_test(target_pressure_pa=bars * 1e5)


def undivided(record: Record) -> Record:
    return carried_through(alone(record.with_drum(kind="undivided", layer=3)))


LOW_PRESSURE = ("unusual_test_pressure", "gauge_bottom_of_scale")

# code, level, the mistake, other findings above note that come with it
MISTAKES: list[tuple[str, str, Mistake, Collection[str]]] = [
    ("radius_for_diameter", "ask", drum(drum_diameter_m=0.320), ()),
    ("radius_for_diameter", "ask", drum_alone(drum_diameter_m=0.320), ()),
    ("barrel_reaches_flange", "stop", drum(drum_diameter_m=1.150), ("unusual_arm_ratio",)),
    ("flange_for_barrel", "ask", drum(drum_diameter_m=1.150, flange_diameter_m=None), ("unusual_arm_ratio",)),
    ("flange_for_barrel", "ask", drum_alone(drum_diameter_m=1.0, flange_diameter_m=None), ()),
    (
        "unusual_diameter_ratio",
        "ask",
        drum_alone(drum_diameter_m=0.330, line_diameter_m=0.060, lever_arm_m=0.650, flange_diameter_m=0.660),
        (),
    ),
    ("unusual_drum_diameter", "ask", drum_alone(drum_diameter_m=0.950, line_diameter_m=0.060), ()),
    ("drum_diameter_changed", "ask", drum(drum_diameter_m=0.660), ()),
    (
        "drum_diameter_unit",
        "ask",
        drum(drum_diameter_m=0.064, flange_diameter_m=None),
        (*LOW_PRESSURE, "unusual_arm_ratio"),
    ),
    ("line_diameter_missing", "stop", drum(line_diameter_m=None), ()),
    ("line_diameter_unit", "ask", drum(line_diameter_m=0.0038), ("flange_for_barrel",)),
    (
        "circumference_for_diameter",
        "ask",
        drum(line_diameter_m=0.038 * pi),
        ("unusual_diameter_ratio",),
    ),
    (
        "unusual_line_diameter",
        "ask",
        drum_alone(line_diameter_m=0.0175, drum_diameter_m=0.330, flange_diameter_m=0.6),
        (),
    ),
    ("lever_arm_unit", "ask", drum(lever_arm_m=10.5), LOW_PRESSURE),
    ("lever_arm_inside_flange", "ask", drum(lever_arm_m=0.560), ()),
    ("no_lever", "stop", drum(lever_arm_m=0.339), ("reading_above_full_scale", "unusual_test_pressure")),
    ("unusual_lever_arm", "ask", drum_alone(lever_arm_m=1.600), ()),
    ("unusual_arm_ratio", "ask", drum_alone(lever_arm_m=0.650, drum_diameter_m=0.680), ()),
    ("lever_slightly_off_square", "note", drum(lever_off_square_deg=5.0), ()),
    ("lever_not_square", "ask", drum(lever_off_square_deg=-15.0), ()),
    ("lever_arm_changed", "note", drum(lever_arm_m=1.100), ()),
    ("line_diameter_changed", "note", drum(line_diameter_m=0.040), ()),
    (
        "undivided_first_layer",
        "ask",
        lambda r: undivided(r).with_drum(layer=1),
        ("layer_differs", "in_band_not_borne_out", "target_does_not_follow"),
    ),
    ("undivided_first_layer", "ask", lambda r: carried_through(r.with_drum(kind="undivided", layer=1)), ()),
    ("split_above_first_layer", "note", drum_alone(layer=2), ()),
    ("turn_longer_than_travel", "ask", drum(setting_per_turn_si=0.084), ()),
    # Loads
    ("tonnes_for_kilonewtons", "ask", drum(base_load_n=650e3 / TONNE_FORCE_KN), LOW_PRESSURE),
    ("tonnes_for_kilonewtons", "ask", drum_alone(base_load_n=650e3 / TONNE_FORCE_KN), LOW_PRESSURE),
    (
        "tonnes_for_kilonewtons",
        "ask",
        drum(base_load_n=650e3 * TONNE_FORCE_KN, line_mbl_n=None),
        ("reading_above_full_scale", "reading_above_jack_rating", "unusual_test_pressure"),
    ),
    ("short_or_long_ton", "ask", drum(base_load_n=650e3 * SHORT_TON), ()),
    ("short_or_long_ton", "ask", drum(base_load_n=650e3 / LONG_TON), ()),
    ("base_load_changed", "ask", drum(base_load_n=630e3), ()),
    ("base_load_unlike_sisters", "note", lambda r: replace(drum(base_load_n=630e3)(r), previous=()), ()),
    ("base_load_not_sdmbl", "note", drum(base_kind="line_mbl"), ()),
    (
        "unusual_base_load",
        "ask",
        drum_alone(base_load_n=1420e3, line_mbl_n=1420e3, lever_arm_m=1.2, flange_diameter_m=None),
        (),
    ),
    ("line_weaker_than_base", "ask", drum(line_mbl_n=600e3), ()),
    ("worn_line", "ask", drum(line_residual_share=0.75), ()),
    ("worn_line", "ask", drum(line_residual_share=0.55), ()),
    # Jack
    ("ring_for_bore", "ask", jack(area_m2=RING), ()),
    ("ring_for_bore", "ask", jack(area_m2=RING, stated_area_m2=None, bore_m=None, kind=None), ()),
    ("body_for_bore", "ask", jack(area_m2=BASE), ()),
    ("body_for_bore", "ask", jack(area_m2=BASE, stated_area_m2=None, bore_m=None, kind=None), ()),
    ("area_not_as_stated", "ask", jack(area_m2=68.0e-4, bore_m=None), ("area_changed",)),
    (
        "area_not_by_type",
        "ask",
        jack(kind="hollow", bore_m=0.0952, inner_m=0.030, stated_area_m2=None),
        (),
    ),
    ("area_changed", "ask", jack(area_m2=69.0e-4, stated_area_m2=None, bore_m=None), ()),
    (
        "unusual_piston_area",
        "ask",
        lambda r: carried_through(
            alone(r).with_drum(jacks=(JackFacts(id="J9", area_m2=140e-4),), lever_arm_m=1.0, base_load_n=660e3)
        ),
        (),
    ),
    # Gauge
    (
        "gauge_never_calibrated",
        "ask",
        lambda r: r.with_gauge(calibrated_on=None, calibration_due=None, never_calibrated=True),
        (),
    ),
    ("gauge_out_of_date", "ask", gauge(calibration_due=date(2026, 11, 19)), ()),
    ("gauge_out_of_date", "ask", gauge(calibrated_on=date(2025, 11, 1), calibration_due=None), ()),
    ("gauge_calibrated_after_test", "ask", gauge(calibrated_on=date(2026, 11, 21)), ()),
    ("gauge_exchanged", "note", gauge(id="G2"), ()),
    ("gauge_unit_changed", "ask", lambda r: r.with_last(gauge_unit="kgf/cm2"), ()),
    ("same_figures_other_unit", "note", lambda r: same_figures(r), ()),
    # EN 837-1: class 1.6 of a 700 bar span is ±11.2 bar, 3.8 points of this drum's base load.
    ("gauge_coarser_than_band", "note", gauge(full_scale_pa=700e5, accuracy_class=1.6), ()),
    ("gauge_upper_part", "note", gauge(full_scale_pa=220e5), ()),
    ("gauge_lower_part", "note", gauge(full_scale_pa=1000e5), ()),
    ("gauge_bottom_of_scale", "ask", gauge(full_scale_pa=2000e5), ()),
    ("unusual_gauge_full_scale", "note", gauge(full_scale_pa=320e5), ()),
    # Target
    ("target_in_other_unit", "ask", target(17.685), ("wrong_unit",)),
    ("target_without_line_diameter", "ask", target(176.85 * 640 / 678), ()),
    ("target_without_lever", "ask", target(176.85 * 1050 / 339), ()),
    ("target_on_first_layer", "ask", lambda r: first_layer_target(r), ()),
    ("target_does_not_follow", "ask", target(190.0), ()),
    ("unusual_test_pressure", "ask", drum_alone(base_load_n=280e3, line_mbl_n=None), ()),
    ("eighty_for_sixty", "ask", lambda r: carried_through(r.with_test(share_aimed=0.80)), ("left_at_design_holding",)),
    ("share_not_of_policy", "ask", lambda r: r.with_test(policy_share=0.55), ()),
]


def same_figures(record: Record) -> Record:
    """Another gauge, in kgf/cm², on which the slips show the very figures that last year's showed in bar."""
    record = record.with_pressures("verification", 176, 180).with_gauge(id="G2", unit="kgf/cm2")
    readings = tuple(replace(one, reading_pa=(one.reading_pa or 0.0) * 0.980665) for one in record.test.readings)
    return record.with_test(readings=readings)


def first_layer_target(record: Record) -> Record:
    record = undivided(record)
    return record.with_test(target_pressure_pa=176.85e5)


@pytest.mark.parametrize(("code", "level", "mistake", "company"), MISTAKES)
def test_it_names_the_mistake_at_its_level(code: str, level: str, mistake: Mistake, company: Collection[str]) -> None:
    found = mistake(good_record()).find()
    assert code in {finding.code for finding in found}
    assert next(finding.level for finding in found if finding.code == code) == level
    others = {finding.code for finding in found if finding.level != "note"} - {code}
    assert others == set(company)
