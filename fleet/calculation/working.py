"""The working, line by line, for a page, a worksheet or a certificate.

Forces stand in N, so that a reader who redoes it with a pocket calculator from the printed figures gets the printed
results; in kN their rounding would show in the last digit of the pressure.
Import these names from ``fleet.calculation.brake``.
"""

from dataclasses import dataclass, replace

from fleet.calculation import units
from fleet.calculation.checks import require_positive
from fleet.calculation.geometry import NESTINGS
from fleet.calculation.on_gauge import TargetOnGauge
from fleet.calculation.tables import RisingTable
from fleet.calculation.targets import (
    ForceCalibratedTarget,
    GeometryTarget,
    LoadCellTarget,
    MakersTableTarget,
    Target,
)


@dataclass(frozen=True, kw_only=True)
class Value:
    """One figure that a step uses: its name in words, SI value and unit code for people."""

    name: str
    value_si: float
    unit: str

    @property
    def shown(self) -> str:
        """The figure as everywhere else, with its unit."""
        return units.display(self.value_si, self.unit)


@dataclass(frozen=True, kw_only=True)
class Step:
    """One line of the working. ``key`` is stable; ``name`` and ``formula_in_words`` are for people."""

    key: str
    name: str
    formula_in_words: str
    values: tuple[Value, ...]
    result_si: float
    unit: str

    @property
    def shown(self) -> str:
        """The result as everywhere else, with its unit."""
        return units.display(self.result_si, self.unit)

    @property
    def result(self) -> Value:
        """The result as a figure for the next step."""
        return Value(name=self.name, value_si=self.result_si, unit=self.unit)


def working(
    *, sdmbl_n: float, share: float, target: Target, gauge_unit: str, base_name: str = "ship design MBL"
) -> tuple[Step, ...]:
    """Every step from SDMBL to the target reading and, where it is known, the reaction on the deck.

    Args: sdmbl_n: N; share: fraction; target: any basis; gauge_unit: unit in which the reading is shown; base_name:
    what stands in for SDMBL where a ship has none, so that no other load is called by that name.
    Raises: InputError; OutsideTable; UnitError. Source: moment balance at the drum, or the basis' table.

    >>> from fleet.calculation.targets import equal_jacks
    >>> jack = equal_jacks(area_m2=71.26e-4, lever_arm_m=1.0, drum_diameter_m=0.610, line_diameter_m=0.036)
    >>> for step in working(sdmbl_n=637e3, share=0.6, target=jack, gauge_unit="bar"):
    ...     print(step.name, "=", step.shown)
    brake rendering load = 382200 N
    distance from drum centre to line = 323.0 mm
    moment at the drum = 123450.6 N·m
    force of all jacks = 123451 N
    force of one jack = 123451 N
    target reading = 173.2 bar
    reaction on the deck = 123451 N
    """
    require_positive(sdmbl_n=sdmbl_n, share=share)
    units.check_unit(gauge_unit, target.reading_kind)
    if isinstance(target, TargetOnGauge):
        return _on_gauge(target, sdmbl_n, share, gauge_unit, base_name)
    load = Step(
        key="load",
        name="brake rendering load",
        formula_in_words=f"{base_name} × share",
        values=(_value(base_name, sdmbl_n, "N"), _value(f"share of {base_name}", share, "percent")),
        result_si=share * sdmbl_n,
        unit="N",
    )
    if isinstance(target, GeometryTarget):
        return (load, *_by_geometry(load, target, gauge_unit))
    if isinstance(target, ForceCalibratedTarget):
        return (load, *_by_calibrated_force(load, target, gauge_unit))
    if isinstance(target, MakersTableTarget):
        reading = _between_rows(
            target.table, load.result, "line load", "target reading", "jack pressure", gauge_unit, "maker's table"
        )
        if target.total_area_m2 is None:
            return load, reading
        return load, reading, _deck_from_pressure(reading, target.total_area_m2)
    if isinstance(target, LoadCellTarget):
        return (load, _step("reading", "target reading", "equal to the line load", (load.result,), load, gauge_unit))
    raise TypeError(f"No working is written for {type(target).__name__}.")


def _on_gauge(target: TargetOnGauge, sdmbl_n: float, share: float, gauge_unit: str, base_name: str) -> tuple[Step, ...]:
    """The working in true values, and last what this gauge shows there."""
    true = "target pressure" if target.reading_kind == "pressure" else "target load on the cell"
    steps = working(sdmbl_n=sdmbl_n, share=share, target=target.target, gauge_unit=gauge_unit, base_name=base_name)
    steps = tuple(_renamed(step, "target reading", true) for step in steps)
    wanted = next(step.result for step in steps if step.key == "reading")
    shown = _between_rows(
        target.certificate.table,
        wanted,
        "reference",
        "target reading on this gauge",
        "gauge reading",
        gauge_unit,
        "gauge's certificate",
        y_unit=gauge_unit,
    )
    return (*steps, replace(shown, key="on_gauge"))


def _renamed(step: Step, old: str, new: str) -> Step:
    return replace(
        step,
        name=step.name.replace(old, new),
        formula_in_words=step.formula_in_words.replace(old, new),
        values=tuple(replace(value, name=value.name.replace(old, new)) for value in step.values),
    )


def _value(name: str, value_si: float, unit: str) -> Value:
    return Value(name=name, value_si=value_si, unit=unit)


def _step(key: str, name: str, formula: str, values: tuple[Value, ...], result: float | Step, unit: str) -> Step:
    result_si = result.result_si if isinstance(result, Step) else result
    return Step(key=key, name=name, formula_in_words=formula, values=values, result_si=result_si, unit=unit)


def _radius_and_moment(load: Step, target: GeometryTarget | ForceCalibratedTarget) -> tuple[Step, Step]:
    formula = "(drum diameter + line diameter) ÷ 2"
    values = [
        _value("drum diameter", target.drum_diameter_m, "mm"),
        _value("line diameter", target.line_diameter_m, "mm"),
    ]
    if target.layer > 1:
        formula += " + (layer − 1) × line diameter × layer factor"
        values += [
            _value("layer", target.layer, "count"),
            _value("layer factor", NESTINGS[target.nesting], "ratio"),
        ]
    radius = _step("radius", "distance from drum centre to line", formula, tuple(values), target.radius_m, "mm")
    moment = _step(
        "moment",
        "moment at the drum",
        "brake rendering load × distance from drum centre to line (N × mm ÷ 1000 = N·m)",
        (load.result, radius.result),
        load.result_si * radius.result_si,
        "N_m",
    )
    return radius, moment


def _force_of_all_jacks(moment: Step, lever_arm_m: float) -> Step:
    return _step(
        "all_jacks",
        "force of all jacks",
        "moment at the drum ÷ lever arm (N·m × 1000 ÷ mm = N)",
        (moment.result, _value("lever arm", lever_arm_m, "mm")),
        moment.result_si / lever_arm_m,
        "N",
    )


def _force_of_one_jack(all_jacks: Step, jacks: int) -> Step:
    return _step(
        "one_jack",
        "force of one jack",
        "force of all jacks ÷ number of jacks",
        (all_jacks.result, _value("number of jacks", jacks, "count")),
        all_jacks.result_si / jacks,
        "N",
    )


def _conversion(gauge_unit: str) -> str:
    per_newton = units.shown(units.from_si(1e4, gauge_unit), 6).rstrip("0").rstrip(".")
    return f"1 N/cm² = {per_newton} {units.label(gauge_unit)}"


def _by_geometry(load: Step, target: GeometryTarget, gauge_unit: str) -> tuple[Step, ...]:
    radius, moment = _radius_and_moment(load, target)
    reading_pa = target.pressure_for(load.result_si)
    first = target.arms[0]
    if all(arm == first for arm in target.arms):
        all_jacks = _force_of_all_jacks(moment, first.lever_arm_m)
        one_jack = _force_of_one_jack(all_jacks, len(target.arms))
        reading = _step(
            "reading",
            "target reading",
            f"force of one jack ÷ effective piston area ({_conversion(gauge_unit)})",
            (one_jack.result, _value("effective piston area", first.area_m2, "cm2")),
            reading_pa,
            gauge_unit,
        )
        deck = _step("deck", "reaction on the deck", "force of all jacks", (all_jacks.result,), all_jacks, "N")
        return radius, moment, all_jacks, one_jack, reading, deck
    values = [moment.result]
    for number, arm in enumerate(target.arms, start=1):
        values.append(_value(f"effective piston area of jack {number}", arm.area_m2, "cm2"))
        values.append(_value(f"lever arm of jack {number}", arm.lever_arm_m, "mm"))
    reading = _step(
        "reading",
        "target reading",
        "moment at the drum ÷ sum of (effective piston area × lever arm) of each jack "
        f"(N·m × 1000 ÷ mm = N; {_conversion(gauge_unit)})",
        tuple(values),
        reading_pa,
        gauge_unit,
    )
    return radius, moment, reading, _deck_from_pressure(reading, target.total_area_m2)


def _deck_from_pressure(reading: Step, total_area_m2: float) -> Step:
    return _step(
        "deck",
        "reaction on the deck",
        f"target reading × effective piston area of all jacks ({_conversion(reading.unit)})",
        (reading.result, _value("effective piston area of all jacks", total_area_m2, "cm2")),
        reading.result_si * total_area_m2,
        "N",
    )


def _by_calibrated_force(load: Step, target: ForceCalibratedTarget, gauge_unit: str) -> tuple[Step, ...]:
    radius, moment = _radius_and_moment(load, target)
    all_jacks = _force_of_all_jacks(moment, target.lever_arm_m)
    one_jack = _force_of_one_jack(all_jacks, target.jacks)
    reading = _between_rows(
        target.table, one_jack.result, "jack force", "target reading", "gauge reading", gauge_unit, "jack's calibration"
    )
    deck = _step("deck", "reaction on the deck", "force of all jacks", (all_jacks.result,), all_jacks, "N")
    return radius, moment, all_jacks, one_jack, reading, deck


def _between_rows(
    table: RisingTable,
    wanted: Value,
    y_name: str,
    name: str,
    x_name: str,
    gauge_unit: str,
    source: str,
    y_unit: str = "N",
) -> Step:
    (low_x, low_y), (high_x, high_y) = table.neighbours_of_y(wanted.value_si)
    return _step(
        "reading",
        name,
        f"{source}, between two rows: lower {x_name} + (higher − lower {x_name}) × "
        f"({wanted.name} − lower {y_name}) ÷ (higher − lower {y_name})",
        (
            wanted,
            _value(f"lower {x_name}", low_x, gauge_unit),
            _value(f"lower {y_name}", low_y, y_unit),
            _value(f"higher {x_name}", high_x, gauge_unit),
            _value(f"higher {y_name}", high_y, y_unit),
        ),
        table.x_at(wanted.value_si),
        gauge_unit,
    )
