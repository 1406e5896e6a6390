"""What the findings catalogue is told: one drum's test and its context, as plain data in SI.

Everything that may be unknown is `None`; a rule with an unknown input stays silent.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

from fleet.calculation.gauge_certificate import GaugeCertificate

DrumKind = Literal["split", "undivided"]
LineMaterial = Literal["wire", "fibre"]
BrakeKind = Literal["band", "disc", "spring_applied"]
SettingKind = Literal["marker_distance", "spindle_torque", "spring_length", "applied_pressure", "shims"]
JackKind = Literal["plain", "pull", "hollow", "ram"]
Phase = Literal["as_found_untouched", "as_found_reapplied", "adjusting", "verification"]
Outcome = Literal["set_in_band", "could_not_be_set", "stopped", "defective", "restricted"]
TargetBasis = Literal["geometry", "makers_table", "force_calibrated_jack", "load_cell"]
EventKind = Literal[
    "lining_renewed",
    "brake_overhauled",
    "spindle_renewed",
    "piston_renewed",
    "line_changed",
    "unintended_slip",
    "gauge_changed",
]


@dataclass(frozen=True)
class JackFacts:
    """One jack of the set in use; its kinds are those of `geometry.JACK_TYPES`."""

    id: str | None = None
    kind: JackKind | None = None
    area_m2: float | None = None
    """Effective piston area that the target is computed from."""
    stated_area_m2: float | None = None
    """The area on the maker's plate or the jack's certificate."""
    bore_m: float | None = None
    inner_m: float | None = None
    """Rod of a pull cylinder, or hole of a hollow plunger."""
    plunger_m: float | None = None
    lever_arm_m: float | None = None
    """Its own lever arm where jacks stand at different arms; otherwise the drum's."""
    nominal_capacity_n: float | None = None
    rated_pressure_pa: float | None = None


@dataclass(frozen=True)
class DrumFacts:
    """One drum's figures as used for the test. Settings (`…_si`) are in the SI unit of the kind of setting."""

    id: str
    name: str = ""
    kind: DrumKind | None = None
    brake_kind: BrakeKind | None = None
    drum_diameter_m: float | None = None
    flange_diameter_m: float | None = None
    line_diameter_m: float | None = None
    line_material: LineMaterial | None = None
    layer: int | None = None
    nested: bool = False
    base_load_n: float | None = None
    base_kind: str | None = None
    """`sdmbl`, or what stands in for it: `line_mbl`, `from_fittings`, ..."""
    line_mbl_n: float | None = None
    """Breaking load of the line fitted, new."""
    line_residual_share: float | None = None
    """Share of its new breaking load that a worn line is judged to have left (0 to 1)."""
    lever_arm_m: float | None = None
    lever_off_square_deg: float | None = None
    jacks: tuple[JackFacts, ...] = ()
    setting_kind: SettingKind | None = None
    mark_low_si: float | None = None
    mark_high_si: float | None = None
    tighter_direction: Literal[1, -1] | None = None
    """+1 when the figure of the setting grows as the brake is tightened."""
    setting_per_turn_si: float | None = None
    """How far the setting moves with one turn of the handwheel, as measured."""
    wrap_rad: float | None = None
    """Angle over which the band lies on the rim."""
    mark_per_band_travel: float | None = None
    """How far the mark moves for each metre that the end of the band travels."""
    lining_new_m: float | None = None
    lining_minimum_m: float | None = None


@dataclass(frozen=True)
class GaugeFacts:
    """The gauge that was read. `unit` is a pressure code of the closed list (`bar`, `MPa`, `kgf/cm2`, `psi`, `kPa`)."""

    id: str
    unit: str
    full_scale_pa: float | None = None
    division_pa: float | None = None
    accuracy_class: float | None = None
    calibrated_on: date | None = None
    calibration_due: date | None = None
    never_calibrated: bool = False
    """True where it is known that no calibration is on record."""
    certificate: GaugeCertificate | None = None
    """The points of its certificate, where they are counted."""
    certificate_from_pa: float | None = None
    certificate_to_pa: float | None = None
    """Between which readings a certificate with points speaks, counted or not."""


@dataclass(frozen=True)
class ReadingFacts:
    """One reading, in the order it was taken; on a load cell (`target_basis`) all readings are N instead of Pa."""

    phase: Phase
    reading_pa: float | None = None
    mark_si: float | None = None
    typed: str = ""
    """The gauge reading as typed, evidence of how finely it was read."""
    result: Literal["slipped", "held"] | None = "slipped"
    released_and_reapplied: bool | None = None
    layer: int | None = None


@dataclass(frozen=True)
class TrustFacts:
    """The load as left with its uncertainty, as the caller worked it out; fractions of the base load."""

    estimate_share: float
    """The best estimate: as read, less what jack and lever can only take away."""
    expanded_share: float
    probability: float
    rule: Literal["simple", "guarded"]
    verdict: Literal["in_band", "low", "high", "not_proven"]
    advice: str = ""
    """What would settle a load that is not proven, in a sentence."""


@dataclass(frozen=True)
class TestFacts:
    """One drum's test as it stands, submitted or not."""

    __test__ = False  # not a class of tests

    drum: DrumFacts
    gauge: GaugeFacts | None = None
    tested_on: date | None = None
    readings: tuple[ReadingFacts, ...] = ()
    lining_m: tuple[float, ...] = ()
    """Thickness of the lining at each place measured, always in the same order."""
    drum_surface_ok: bool | None = None
    band_rest_ok: bool | None = None
    """The band stands clear of the drum when the brake is open."""
    pay_out_side_confirmed: bool | None = None
    sister_drum_clear: bool | None = None
    """No drum on the same winch frame or shaft holds a mooring line."""
    reeled_as_marked: bool | None = None
    brake_wet: bool | None = None
    run_in: bool | None = None
    """The drum was run briefly with the brake lightly on before the test."""
    share_aimed: float | None = None
    worn_line_share: float | None = None
    """Of what is left of a worn line the brake may take this much, by the operator's policy."""
    policy_share: float | None = None
    policy_slips: int | None = None
    """Least number of verification slips the policy asks for."""
    band_low: float | None = None
    band_high: float | None = None
    target_basis: TargetBasis = "geometry"
    target_pressure_pa: float | None = None
    stop_pressure_pa: float | None = None
    outcome: Outcome | None = None
    as_left_share: float | None = None
    """Share as left, if the caller has computed it (maker's table, load cell); otherwise worked out here."""
    trust: TrustFacts | None = None
    """How far the load as left can be trusted, where it was worked out."""
    mark_left_si: float | None = None
    """The setting measured last of all, which goes on the winch tag."""


@dataclass(frozen=True)
class PreviousTest:
    """An earlier test of the same drum, with the figures used then."""

    tested_on: date
    readings: tuple[ReadingFacts, ...] = ()
    mark_si: float | None = None
    """The setting the drum was left at."""
    gauge_id: str | None = None
    gauge_unit: str | None = None
    lining_m: tuple[float, ...] = ()
    drum_diameter_m: float | None = None
    line_diameter_m: float | None = None
    lever_arm_m: float | None = None
    area_m2: float | None = None
    """Sum of the effective piston areas of the jacks then."""
    jack_ids: tuple[str, ...] = ()
    base_load_n: float | None = None
    as_left_share: float | None = None
    set_in_band: bool = True
    """False for a test that proved no setting: stopped, could not be set, out of use."""


@dataclass(frozen=True)
class SisterTest:
    """Another drum of the same vessel, tested this year: where it was left now and the time before."""

    drum_id: str
    setting_kind: SettingKind | None = None
    mark_si: float | None = None
    previous_mark_si: float | None = None


@dataclass(frozen=True)
class EventFacts:
    """Something that happened to this drum's brake, line or instruments."""

    kind: EventKind
    on: date
