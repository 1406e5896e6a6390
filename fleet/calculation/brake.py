"""Load against pressure at the brake, and everything a worksheet needs around it.

The target bases come from ``targets``, the STOP reading from ``stop``; both are offered here, so that callers import
one module. All figures SI; readings are Pa, but N for a load cell in the line.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import floor
from typing import overload

import numpy as np

from fleet.calculation import units
from fleet.calculation.checks import InputError, require_not_negative, require_positive, require_whole
from fleet.calculation.geometry import LINE_ON_LINE, NESTINGS, moment_radius
from fleet.calculation.on_gauge import OutsideCertificate, TargetOnGauge
from fleet.calculation.stop import StopCandidate, StopReading, stop_reading
from fleet.calculation.tables import OutsideTable
from fleet.calculation.targets import (
    FORCE_CALIBRATED_JACK,
    GEOMETRY,
    LOAD_CELL,
    MAKERS_TABLE,
    TARGET_BASES,
    ForceCalibratedTarget,
    GeometryTarget,
    JackArm,
    JackForceUnknown,
    JackMismatch,
    LoadCellTarget,
    MakersTableTarget,
    Target,
    equal_jacks,
    jack_force,
    load_from_pressure,
    pressure_from_load,
)
from fleet.calculation.units import Number
from fleet.calculation.working import Step, Value, working

__all__ = [
    "FORCE_CALIBRATED_JACK",
    "GEOMETRY",
    "LOAD_CELL",
    "MAKERS_TABLE",
    "TARGET_BASES",
    "ForceCalibratedTarget",
    "GeometryTarget",
    "JackArm",
    "JackForceUnknown",
    "JackMismatch",
    "LayerLoad",
    "LoadCellTarget",
    "MakersTableTarget",
    "OutsideCertificate",
    "OutsideTable",
    "ReadingLoad",
    "RenderingTarget",
    "Rung",
    "Step",
    "StopCandidate",
    "StopReading",
    "Target",
    "TargetOnGauge",
    "Value",
    "belt_tension_ratio",
    "equal_jacks",
    "jack_force",
    "layer_table",
    "load_at_reading",
    "load_from_pressure",
    "pressure_from_load",
    "pressure_ladder",
    "rendering_load",
    "rendering_target",
    "stop_reading",
    "working",
    "wrong_way_load",
]

LADDER_STEPS = {"MPa": 0.5, "bar": 5.0, "kgf/cm2": 5.0, "psi": 100.0, "kPa": 500.0, "kN": 10.0, "tf": 1.0}


@dataclass(frozen=True, kw_only=True)
class RenderingTarget:
    """The reading at which the brake should slip, with what it was worked out from and the working line by line.

    ``jack_forces_n`` and ``deck_reaction_n`` are None where the basis does not know the jack's area.
    """

    sdmbl_n: float
    share: float
    target: Target
    load_n: float
    reading_si: float
    jack_forces_n: tuple[float, ...] | None
    deck_reaction_n: float | None
    steps: tuple[Step, ...]


def rendering_target(
    *, sdmbl_n: float, share: float, target: Target, gauge_unit: str = "bar", base_name: str = "ship design MBL"
) -> RenderingTarget:
    """The target reading for a share of SDMBL.

    Args: sdmbl_n: ship design MBL, N; share: fraction, above 0 and below 1; target: any basis; gauge_unit: for the
    working only; base_name: what the load is called in the working.
    Raises: InputError; OutsideTable; UnitError. Source: moment balance at the drum, or the basis' table.

    >>> jack = equal_jacks(area_m2=71.26e-4, lever_arm_m=1.0, drum_diameter_m=0.610, line_diameter_m=0.036)
    >>> result = rendering_target(sdmbl_n=637e3, share=0.60, target=jack)
    >>> round(result.load_n), round(result.reading_si / 1e5, 2), round(result.deck_reaction_n)
    (382200, 173.24, 123451)
    """
    load_n = rendering_load(sdmbl_n=sdmbl_n, share=share)
    reading_si = target.pressure_for(load_n)
    forces = _jack_forces(target, reading_si)
    return RenderingTarget(
        sdmbl_n=sdmbl_n,
        share=share,
        target=target,
        load_n=load_n,
        reading_si=reading_si,
        jack_forces_n=forces,
        deck_reaction_n=None if forces is None else sum(forces),
        steps=working(sdmbl_n=sdmbl_n, share=share, target=target, gauge_unit=gauge_unit, base_name=base_name),
    )


@overload
def rendering_load(*, sdmbl_n: float, share: float) -> float: ...
@overload
def rendering_load(*, sdmbl_n: Number, share: Number) -> Number: ...
def rendering_load(*, sdmbl_n: Number, share: Number) -> Number:
    """Brake rendering load in N: share × SDMBL. Share above 0, below 1. Floats or arrays. Raises: InputError.

    Source: MEG 7.5.6 sets the brake by a share of SDMBL; the share belongs to the operator.

    >>> rendering_load(sdmbl_n=637e3, share=0.60)
    382200.0
    """
    require_positive(sdmbl_n=sdmbl_n, share=share)
    if not np.all(np.less(share, 1)):
        raise InputError("share", "must be below 1")
    return share * sdmbl_n


@dataclass(frozen=True, kw_only=True)
class ReadingLoad:
    """What a reading means: line load in N, share of SDMBL as a fraction, and the forces that go with it."""

    reading_si: float
    sdmbl_n: float
    load_n: float
    share: float
    jack_forces_n: tuple[float, ...] | None
    deck_reaction_n: float | None


def load_at_reading(*, reading_si: float, sdmbl_n: float, target: Target) -> ReadingLoad:
    """Line load and share of SDMBL at a gauge reading (Pa; N for a load cell).

    Raises: InputError; OutsideTable. Source: as the basis.

    >>> jack = equal_jacks(area_m2=71.26e-4, lever_arm_m=1.0, drum_diameter_m=0.610, line_diameter_m=0.036)
    >>> round(load_at_reading(reading_si=17.324e6, sdmbl_n=637e3, target=jack).share, 4)
    0.6
    """
    require_positive(sdmbl_n=sdmbl_n)
    load_n = target.load_at(reading_si)
    forces = _jack_forces(target, reading_si)
    return ReadingLoad(
        reading_si=reading_si,
        sdmbl_n=sdmbl_n,
        load_n=load_n,
        share=load_n / sdmbl_n,
        jack_forces_n=forces,
        deck_reaction_n=None if forces is None else sum(forces),
    )


def _jack_forces(target: Target, reading_si: float) -> tuple[float, ...] | None:
    try:
        return target.jack_forces_at(reading_si)
    except JackForceUnknown:
        return None


@dataclass(frozen=True, kw_only=True)
class Rung:
    """One row of the ladder: reading in the gauge's unit and in SI, line load in N, share of SDMBL."""

    reading: float
    unit: str
    reading_si: float
    load_n: float
    share: float


def pressure_ladder(
    *,
    target: Target,
    sdmbl_n: float,
    share: float,
    gauge_unit: str,
    step: float | None = None,
    rungs_each_side: int = 6,
    stop_si: float | None = None,
) -> tuple[Rung, ...]:
    """Rows of gauge reading, at whole steps around the target, against line load and share of SDMBL.

    Args: share: the fraction aimed at; gauge_unit: unit of the scale; step: in that unit (default LADDER_STEPS);
    rungs_each_side: rows below and above the target; stop_si: no row lies above this reading.
    Rows at or below zero, and rows that a table does not cover, are left out. Raises: InputError; OutsideTable when
    the target itself is not covered; UnitError. Source: as the basis.

    >>> jack = equal_jacks(area_m2=71.26e-4, lever_arm_m=1.0, drum_diameter_m=0.610, line_diameter_m=0.036)
    >>> rungs = pressure_ladder(target=jack, sdmbl_n=637e3, share=0.6, gauge_unit="bar", step=10, rungs_each_side=2)
    >>> [(r.reading, units.digits(r.load_n, "kN"), units.digits(r.share, "percent")) for r in rungs]
    [(160.0, '353.0', '55.4'), (170.0, '375.1', '58.9'), (180.0, '397.1', '62.3'), (190.0, '419.2', '65.8')]
    """
    units.check_unit(gauge_unit, target.reading_kind)
    exact_step = Fraction(repr(float(LADDER_STEPS[gauge_unit] if step is None else step)))
    require_positive(step=float(exact_step))
    require_whole(rungs_each_side=rungs_each_side)
    aimed_si = target.pressure_for(rendering_load(sdmbl_n=sdmbl_n, share=share))
    below = floor(Fraction(units.from_si(aimed_si, gauge_unit)) / exact_step)
    rungs = []
    for count in range(max(1, below - rungs_each_side + 1), below + rungs_each_side + 1):
        reading = float(count * exact_step)
        reading_si = units.to_si(reading, gauge_unit)
        if stop_si is not None and reading_si > stop_si:
            break
        try:
            load_n = target.load_at(reading_si)
        except OutsideTable:
            continue
        rungs.append(
            Rung(reading=reading, unit=gauge_unit, reading_si=reading_si, load_n=load_n, share=load_n / sdmbl_n)
        )
    return tuple(rungs)


@dataclass(frozen=True, kw_only=True)
class LayerLoad:
    """What the brake holds with the line on one layer; ``relative`` is against the layer it was set on."""

    layer: int
    radius_m: float
    relative: float
    load_n: float
    share: float


def layer_table(
    *,
    load_n: float,
    sdmbl_n: float,
    drum_diameter_m: float,
    line_diameter_m: float,
    set_layer: int = 1,
    layers: Sequence[int] = (1, 2, 3, 4, 5),
    nesting: str = LINE_ON_LINE,
) -> tuple[LayerLoad, ...]:
    """Line load at which the brake renders on each layer, once it renders at ``load_n`` on the layer it was set on.

    The brake holds a torque; the load falls as the radius grows: F_k = F_set·r_set / r_k.

    Args: loads in N, diameters in m; set_layer: the layer of the test; layers: those wanted; nesting: see geometry.
    Raises: InputError. Source: moment balance; reproduces MEG 7.5.6 (80 % on layer 1 is about 65 % on layer 3).

    >>> rows = layer_table(load_n=80.0, sdmbl_n=100.0, drum_diameter_m=0.16, line_diameter_m=0.01, layers=(1, 3))
    >>> [round(row.share, 4) for row in rows]
    [0.8, 0.6476]
    """
    require_positive(load_n=load_n, sdmbl_n=sdmbl_n)
    if nesting not in NESTINGS:
        raise InputError("nesting", f"must be one of {', '.join(NESTINGS)}")

    def radius_on(layer: int) -> float:
        return moment_radius(
            drum_diameter_m=drum_diameter_m, line_diameter_m=line_diameter_m, layer=layer, nesting=nesting
        )

    torque_nm = load_n * radius_on(set_layer)
    return tuple(
        LayerLoad(
            layer=layer,
            radius_m=radius_on(layer),
            relative=radius_on(set_layer) / radius_on(layer),
            load_n=torque_nm / radius_on(layer),
            share=torque_nm / radius_on(layer) / sdmbl_n,
        )
        for layer in layers
    )


@overload
def belt_tension_ratio(friction: float, wrap_rad: float) -> float: ...
@overload
def belt_tension_ratio(friction: Number, wrap_rad: Number) -> Number: ...
def belt_tension_ratio(friction: Number, wrap_rad: Number) -> Number:
    """Tight side over slack side of a band about to slip: T1/T2 = e^(μθ).

    Args: friction: μ, zero or more; wrap_rad: angle of wrap θ, rad. Floats or arrays. Raises: InputError.
    Source: Euler-Eytelwein equation.

    >>> round(belt_tension_ratio(0.25, units.to_si(270.0, "deg")), 3)
    3.248
    """
    require_not_negative(friction=friction, wrap_rad=wrap_rad)
    ratio = np.exp(np.multiply(friction, wrap_rad))
    if not np.all(np.isfinite(ratio)):
        raise InputError("friction", "times wrap_rad is too large for any band")
    return float(ratio) if np.ndim(ratio) == 0 else ratio


@overload
def wrong_way_load(*, load_n: float, friction: float, wrap_rad: float) -> float: ...
@overload
def wrong_way_load(*, load_n: Number, friction: Number, wrap_rad: Number) -> Number: ...
def wrong_way_load(*, load_n: Number, friction: Number, wrap_rad: Number) -> Number:
    """Estimate in N of what a band brake holds with the line reeled the wrong way: F / e^(μθ).

    An estimate only: μ is seldom known. Not for disc brakes. Args: as ``belt_tension_ratio``, and load_n: N.
    Raises: InputError. Source: Euler-Eytelwein equation, the band's tight and slack ends exchanged.

    >>> round(wrong_way_load(load_n=382_200.0, friction=0.25, wrap_rad=units.to_si(270.0, "deg")))
    117666
    """
    require_not_negative(load_n=load_n)
    return load_n / belt_tension_ratio(friction, wrap_rad)
