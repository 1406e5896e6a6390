"""From gauge reading to line load and back, for each way in which a target can be known (the target bases).

Every basis is a frozen dataclass with ``load_at(reading)`` and ``pressure_for(load_n)``; readings are pressures in Pa,
but for the load cell, whose reading is the load in N. Import these names from ``fleet.calculation.brake``.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Protocol, overload

from fleet.calculation.checks import InputError, require_not_negative, require_positive, require_whole
from fleet.calculation.geometry import LINE_ON_LINE, moment_radius
from fleet.calculation.tables import RisingTable
from fleet.calculation.units import N, Number

GEOMETRY = "geometry"
MAKERS_TABLE = "makers_table"
FORCE_CALIBRATED_JACK = "force_calibrated_jack"
LOAD_CELL = "load_cell"
TARGET_BASES = (GEOMETRY, MAKERS_TABLE, FORCE_CALIBRATED_JACK, LOAD_CELL)


class JackMismatch(ValueError):
    """A maker's table read with another jack than the one it was drawn up for."""


class JackForceUnknown(ValueError):
    """The jack's force is asked for, but this basis does not know the area of the jack."""


class Target(Protocol):
    """What every basis can do. ``reading_kind`` is ``"pressure"``, or ``"force"`` for a load cell.

    ``highest_reading_si`` is the end of the basis' table, None where there is no table.
    """

    @property
    def basis(self) -> str: ...
    @property
    def reading_kind(self) -> str: ...
    @property
    def highest_reading_si(self) -> float | None: ...
    def load_at(self, reading: N, /) -> N: ...
    def pressure_for(self, load_n: N, /) -> N: ...
    def jack_forces_at(self, reading: float, /) -> tuple[float, ...]: ...
    def pressure_for_jack_force(self, total_force_n: float, /) -> float: ...


@overload
def load_from_pressure(
    *, pressure_pa: float, area_m2: float, lever_arm_m: float, radius_m: float, jacks: float = 1
) -> float: ...
@overload
def load_from_pressure(
    *, pressure_pa: Number, area_m2: Number, lever_arm_m: Number, radius_m: Number, jacks: Number = 1
) -> Number: ...
def load_from_pressure(
    *, pressure_pa: Number, area_m2: Number, lever_arm_m: Number, radius_m: Number, jacks: Number = 1
) -> Number:
    """Line load in N that balances equal jacks: F = n·P·S·L / r.

    Args: pressure_pa: P, Pa; area_m2: effective area S of one jack, m²; lever_arm_m: drum centre to the jack's line of
    action, square to it, L, m; radius_m: drum centre to the line's centre, r, m; jacks: number acting, n. Floats or
    arrays. Raises: InputError. Source: moment balance at the drum.

    >>> round(load_from_pressure(pressure_pa=17.324e6, area_m2=71.26e-4, lever_arm_m=1.0, radius_m=0.323), -2)
    382200.0
    """
    require_not_negative(pressure_pa=pressure_pa)
    require_positive(area_m2=area_m2, lever_arm_m=lever_arm_m, radius_m=radius_m)
    require_whole(jacks=jacks)
    return jacks * pressure_pa * area_m2 * lever_arm_m / radius_m


@overload
def pressure_from_load(
    *, load_n: float, area_m2: float, lever_arm_m: float, radius_m: float, jacks: float = 1
) -> float: ...
@overload
def pressure_from_load(
    *, load_n: Number, area_m2: Number, lever_arm_m: Number, radius_m: Number, jacks: Number = 1
) -> Number: ...
def pressure_from_load(
    *, load_n: Number, area_m2: Number, lever_arm_m: Number, radius_m: Number, jacks: Number = 1
) -> Number:
    """Jack pressure in Pa that balances a line load: P = F·r / (n·S·L). The inverse of ``load_from_pressure``.

    Args: as there, and load_n: line load F, N. Raises: InputError. Source: moment balance at the drum.

    >>> round(pressure_from_load(load_n=382_200, area_m2=71.26e-4, lever_arm_m=1.0, radius_m=0.323) / 1e5, 2)
    173.24
    """
    require_not_negative(load_n=load_n)
    require_positive(area_m2=area_m2, lever_arm_m=lever_arm_m, radius_m=radius_m)
    require_whole(jacks=jacks)
    return load_n * radius_m / (jacks * area_m2 * lever_arm_m)


@overload
def jack_force(*, pressure_pa: float, area_m2: float) -> float: ...
@overload
def jack_force(*, pressure_pa: Number, area_m2: Number) -> Number: ...
def jack_force(*, pressure_pa: Number, area_m2: Number) -> Number:
    """Force of one jack in N: P·S. Raises: InputError. Source: definition of pressure.

    >>> round(jack_force(pressure_pa=17.324e6, area_m2=71.26e-4), 1)
    123450.8
    """
    require_not_negative(pressure_pa=pressure_pa)
    require_positive(area_m2=area_m2)
    return pressure_pa * area_m2


@dataclass(frozen=True, kw_only=True)
class JackArm:
    """One jack on the lever: its effective area in m² and its own lever arm in m."""

    area_m2: float
    lever_arm_m: float

    def __post_init__(self) -> None:
        require_positive(area_m2=self.area_m2, lever_arm_m=self.lever_arm_m)


@dataclass(frozen=True, kw_only=True)
class GeometryTarget:
    """Target worked out from the measures of drum, line, lever and jacks under one common pressure.

    F = P·Σ(S·L) / r, with r from ``geometry.moment_radius``. Make the usual case with ``equal_jacks``.

    Args: arms: one JackArm per jack acting; drum_diameter_m, line_diameter_m: m; layer: from 1; nesting: see geometry.
    Raises: InputError. Source: moment balance at the drum.

    >>> two = (JackArm(area_m2=0.007, lever_arm_m=1.0), JackArm(area_m2=0.004, lever_arm_m=0.8))
    >>> target = GeometryTarget(drum_diameter_m=0.610, line_diameter_m=0.038, arms=two)
    >>> round(target.load_at(10e6), 1), round(target.pressure_for(target.load_at(10e6)), 3)
    (314814.8, 10000000.0)
    """

    drum_diameter_m: float
    line_diameter_m: float
    arms: Sequence[JackArm]
    layer: int = 1
    nesting: str = LINE_ON_LINE
    basis: str = field(default=GEOMETRY, init=False)
    reading_kind: str = field(default="pressure", init=False)
    highest_reading_si: None = field(default=None, init=False)

    def __post_init__(self) -> None:
        if not self.arms:
            raise InputError("arms", "needs at least one jack")
        _ = self.radius_m

    @cached_property
    def radius_m(self) -> float:
        """Radius at which the line pulls, m."""
        return moment_radius(
            drum_diameter_m=self.drum_diameter_m,
            line_diameter_m=self.line_diameter_m,
            layer=self.layer,
            nesting=self.nesting,
        )

    @property
    def total_area_m2(self) -> float:
        """ΣS, m²: the deck takes P·ΣS."""
        return sum(arm.area_m2 for arm in self.arms)

    @property
    def moment_per_pressure_m3(self) -> float:
        """Σ(S·L), m³ (N·m of moment per Pa)."""
        return sum(arm.area_m2 * arm.lever_arm_m for arm in self.arms)

    def load_at(self, reading: N, /) -> N:
        """Line load in N at a pressure in Pa."""
        require_not_negative(pressure_pa=reading)
        return reading * self.moment_per_pressure_m3 / self.radius_m

    def pressure_for(self, load_n: N, /) -> N:
        """Pressure in Pa for a line load in N."""
        require_not_negative(load_n=load_n)
        return load_n * self.radius_m / self.moment_per_pressure_m3

    def jack_forces_at(self, reading: float, /) -> tuple[float, ...]:
        """Force of each jack in N at a pressure in Pa."""
        return tuple(jack_force(pressure_pa=reading, area_m2=arm.area_m2) for arm in self.arms)

    def pressure_for_jack_force(self, total_force_n: float, /) -> float:
        """Pressure in Pa at which the jacks together push with a force in N."""
        require_not_negative(total_force_n=total_force_n)
        return total_force_n / self.total_area_m2


def equal_jacks(
    *,
    area_m2: float,
    lever_arm_m: float,
    drum_diameter_m: float,
    line_diameter_m: float,
    jacks: int = 1,
    layer: int = 1,
    nesting: str = LINE_ON_LINE,
) -> GeometryTarget:
    """Target for ``jacks`` equal jacks on one pressure and one lever arm: P = F·r / (n·S·L).

    Args: m and m²; jacks and layer whole numbers from 1. Raises: InputError. Source: moment balance at the drum.

    >>> target = equal_jacks(area_m2=71.26e-4, lever_arm_m=1.0, drum_diameter_m=0.610, line_diameter_m=0.036)
    >>> round(target.pressure_for(382_200.0) / 1e5, 2)
    173.24
    """
    require_whole(jacks=jacks)
    return GeometryTarget(
        drum_diameter_m=drum_diameter_m,
        line_diameter_m=line_diameter_m,
        arms=(JackArm(area_m2=area_m2, lever_arm_m=lever_arm_m),) * jacks,
        layer=layer,
        nesting=nesting,
    )


@dataclass(frozen=True, kw_only=True)
class MakersTableTarget:
    """Target read from the maker's table of jack pressure against line load; interpolated, never extrapolated.

    Args: pressures_pa, loads_n: the table, both rising; table_jack: the jack it was drawn up for; jack: the jack in
    use; total_area_m2: effective area of that jack (of all, if several), only for jack force and deck reaction.
    Raises: JackMismatch when the two jacks differ; InputError for a table that does not rise; OutsideTable beyond it.
    Source: the maker's table itself.

    >>> table = dict(pressures_pa=(10e6, 20e6), loads_n=(200e3, 400e3), table_jack="J-07")
    >>> MakersTableTarget(**table, jack="J-07").pressure_for(300e3)
    15000000.0
    >>> MakersTableTarget(**table, jack="J-08")
    Traceback (most recent call last):
    fleet.calculation.targets.JackMismatch: This table was drawn up for jack J-07; it says nothing about jack J-08.
    """

    pressures_pa: Sequence[float]
    loads_n: Sequence[float]
    table_jack: str
    jack: str
    total_area_m2: float | None = None
    basis: str = field(default=MAKERS_TABLE, init=False)
    reading_kind: str = field(default="pressure", init=False)

    def __post_init__(self) -> None:
        if not self.table_jack or self.table_jack != self.jack:
            raise JackMismatch(
                f"This table was drawn up for jack {self.table_jack or '(none named)'}; "
                f"it says nothing about jack {self.jack or '(none named)'}."
            )
        if self.total_area_m2 is not None:
            require_positive(total_area_m2=self.total_area_m2)
        _ = self.table

    @cached_property
    def table(self) -> RisingTable:
        """The table, checked."""
        return RisingTable(xs=self.pressures_pa, ys=self.loads_n, x_name="jack pressure", y_name="line load")

    @property
    def highest_reading_si(self) -> float:
        """End of the table, Pa."""
        return float(self.pressures_pa[-1])

    def load_at(self, reading: N, /) -> N:
        """Line load in N at a pressure in Pa."""
        return self.table.y_at(reading)

    def pressure_for(self, load_n: N, /) -> N:
        """Pressure in Pa for a line load in N."""
        return self.table.x_at(load_n)

    def jack_forces_at(self, reading: float, /) -> tuple[float, ...]:
        """Force of the jack in N at a pressure in Pa. Raises: JackForceUnknown without an area."""
        return (jack_force(pressure_pa=reading, area_m2=self._area()),)

    def pressure_for_jack_force(self, total_force_n: float, /) -> float:
        """Pressure in Pa at which the jack pushes with a force in N. Raises: JackForceUnknown without an area."""
        require_not_negative(total_force_n=total_force_n)
        return total_force_n / self._area()

    def _area(self) -> float:
        if self.total_area_m2 is None:
            raise JackForceUnknown("The maker's table gives no jack force: the jack's effective area is not known.")
        return self.total_area_m2


@dataclass(frozen=True, kw_only=True)
class ForceCalibratedTarget:
    """Target for jacks calibrated as force against gauge reading; the moment balance does the rest: F = n·f(P)·L / r.

    Args: readings_pa, forces_n: one jack's calibration, both rising; lever_arm_m: m; drum_diameter_m, line_diameter_m:
    m; jacks: equal jacks acting; layer: from 1; nesting: see geometry.
    Raises: InputError; OutsideTable beyond the calibration. Source: the calibration certificate; moment balance.

    >>> target = ForceCalibratedTarget(readings_pa=(0.0, 20e6), forces_n=(0.0, 140e3), lever_arm_m=1.0,
    ...     drum_diameter_m=0.610, line_diameter_m=0.038)
    >>> round(target.load_at(10e6), 1)
    216049.4
    """

    readings_pa: Sequence[float]
    forces_n: Sequence[float]
    lever_arm_m: float
    drum_diameter_m: float
    line_diameter_m: float
    jacks: int = 1
    layer: int = 1
    nesting: str = LINE_ON_LINE
    basis: str = field(default=FORCE_CALIBRATED_JACK, init=False)
    reading_kind: str = field(default="pressure", init=False)

    def __post_init__(self) -> None:
        require_positive(lever_arm_m=self.lever_arm_m)
        require_whole(jacks=self.jacks)
        _ = self.table, self.radius_m

    @cached_property
    def table(self) -> RisingTable:
        """One jack's calibration, checked."""
        return RisingTable(xs=self.readings_pa, ys=self.forces_n, x_name="gauge reading", y_name="jack force")

    @property
    def highest_reading_si(self) -> float:
        """End of the table, Pa."""
        return float(self.readings_pa[-1])

    @cached_property
    def radius_m(self) -> float:
        """Radius at which the line pulls, m."""
        return moment_radius(
            drum_diameter_m=self.drum_diameter_m,
            line_diameter_m=self.line_diameter_m,
            layer=self.layer,
            nesting=self.nesting,
        )

    def load_at(self, reading: N, /) -> N:
        """Line load in N at a gauge reading in Pa."""
        return self.jacks * self.table.y_at(reading) * self.lever_arm_m / self.radius_m

    def pressure_for(self, load_n: N, /) -> N:
        """Gauge reading in Pa for a line load in N."""
        require_not_negative(load_n=load_n)
        return self.table.x_at(load_n * self.radius_m / (self.jacks * self.lever_arm_m))

    def jack_forces_at(self, reading: float, /) -> tuple[float, ...]:
        """Force of each jack in N at a gauge reading in Pa."""
        return (self.table.y_at(reading),) * self.jacks

    def pressure_for_jack_force(self, total_force_n: float, /) -> float:
        """Gauge reading in Pa at which the jacks together push with a force in N."""
        require_not_negative(total_force_n=total_force_n)
        return self.table.x_at(total_force_n / self.jacks)


@dataclass(frozen=True, kw_only=True)
class LoadCellTarget:
    """A load cell in the line: the reading, in N, is the line load itself, so both directions are the identity.

    >>> LoadCellTarget().load_at(382_200.0)
    382200.0
    """

    basis: str = field(default=LOAD_CELL, init=False)
    reading_kind: str = field(default="force", init=False)
    highest_reading_si: None = field(default=None, init=False)

    def load_at(self, reading: N, /) -> N:
        """Line load in N at a reading in N."""
        require_not_negative(reading_n=reading)
        return reading

    def pressure_for(self, load_n: N, /) -> N:
        """Reading of the cell in N (not a pressure) for a line load in N."""
        require_not_negative(load_n=load_n)
        return load_n

    def jack_forces_at(self, reading: float, /) -> tuple[float, ...]:
        """Raises: JackForceUnknown; the cell says nothing about a jack."""
        raise JackForceUnknown("A load cell in the line gives no jack force.")

    def pressure_for_jack_force(self, total_force_n: float, /) -> float:
        """Raises: JackForceUnknown; the cell says nothing about a jack."""
        raise JackForceUnknown("A load cell in the line gives no jack force.")
