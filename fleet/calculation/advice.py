"""What would settle a verdict: the budget worked out again with its largest share improved, and again if need be.

What can be had better is ours, common practice, no published source: see ``BETTER`` and ``GAUGE_SCALES``.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import radians

from fleet.calculation import budget, units
from fleet.calculation.budget import LoadBudget, load_budget
from fleet.calculation.conformity import GUARDED, NOT_PROVEN, Conformity, assess
from fleet.calculation.gauge import USABLE_TO
from fleet.calculation.measurement import GaugeInUse, Measurement
from fleet.calculation.sentences import Sentence, gettext_noop, points_shown
from fleet.calculation.slips import SlipSpread
from fleet.calculation.targets import ForceCalibratedTarget
from fleet.calculation.uncertainty import Contribution

# Ends of scale on the market, in the gauge's own unit.
_DECIMAL_SCALES = (100.0, 160.0, 250.0, 400.0, 600.0, 700.0, 1000.0)
GAUGE_SCALES = {
    "bar": _DECIMAL_SCALES,
    "kgf/cm2": _DECIMAL_SCALES,
    "MPa": tuple(scale / 10 for scale in _DECIMAL_SCALES),
    "psi": (1500.0, 2000.0, 3000.0, 5000.0, 10_000.0, 15_000.0),
}
# Class, and how many divisions the scale of such a gauge has at least.
GAUGE_CLASSES = {1.0: 100, 0.6: 200, 0.25: 500}
GAUGE_ROWS = (budget.GAUGE_CLASS, budget.GAUGE_CALIBRATION, budget.DIVISION)
MOST_SLIPS = 5
MOST_STEPS = 4

BETTER: dict[str, tuple[str, float, str, str]] = {
    budget.PISTON_AREA: (
        "piston_area_relative", 0.002, "percent",
        gettext_noop("the effective piston area from the maker or a certificate, known to ± {value}"),
    ),
    budget.LEVER_ARM: (
        "lever_arm_m", 0.001, "mm", gettext_noop("the lever arm measured to ± {value}"),
    ),
    budget.DRUM_DIAMETER: (
        "drum_diameter_m", 0.001, "mm", gettext_noop("the drum diameter measured to ± {value}"),
    ),
    budget.LINE_DIAMETER: (
        "line_diameter_m", 0.0005, "mm", gettext_noop("the line diameter measured to ± {value}"),
    ),
    budget.LEVER_ANGLE: (
        "lever_angle_rad", radians(1.0), "deg", gettext_noop("the lever set square to the jack within {value}"),
    ),
    budget.JACK_FRICTION: (
        "jack_friction_relative", 0.005, "percent",
        gettext_noop("a jack whose seal friction is known to be at most {value}"),
    ),
    budget.LEVER_WEIGHT: (
        "lever_weight_relative", 0.002, "percent",
        gettext_noop("the lever weighed, so that its weight is known to {value} of the load"),
    ),
    budget.PUMP_STROKE: (
        "pump_stroke_pa", 1e5, "bar", gettext_noop("a slower pump, with at most {value} for one stroke"),
    ),
    budget.MAKERS_TABLE_ROW: (
        "makers_table_relative", 0.01, "percent", gettext_noop("a maker's table good to ± {value}"),
    ),
    budget.JACK_FORCE: (
        "jack_force_relative", 0.005, "percent", gettext_noop("a jack calibrated as force to ± {value}"),
    ),
}  # fmt: skip

A_GAUGE = gettext_noop("a 0–{scale} class {accuracy_class} gauge (divided to {division} or finer)")
A_CELL = gettext_noop("a load cell of class {accuracy_class} (divided to {division} or finer)")
MORE_SLIPS = gettext_noop("{slips} slips, the brake released and re-applied between them,")

TOO_COARSE = gettext_noop("The gauge is too coarse for this band: {first} would settle it.")
LARGEST = gettext_noop("The largest part of the uncertainty is: {largest}. Here {first} would settle it.")
TOGETHER = gettext_noop("The largest part of the uncertainty is: {largest}. Together, {all} would settle it.")
NOT_ENOUGH = gettext_noop(
    "The largest part of the uncertainty is: {largest}. Even {all} would only bring it from ± {before} to ± {after} "
    "points. The load is too near the edge of the band: set it nearer the middle, between {aim_from} and {aim_to}."
)
NO_ROOM = gettext_noop(
    "The largest part of the uncertainty is: {largest}. Even {all} would only bring it from ± {before} to ± {after} "
    "points, which leaves no load that could be shown to be in this band: have the test made with a calibrated force."
)
NOTHING_BETTER = gettext_noop(
    "The largest part of the uncertainty is: {largest}. Nothing usual on board would make it smaller: set the load "
    "nearer the middle of the band, or have the test made with a calibrated force."
)


@dataclass(frozen=True, kw_only=True)
class Improvement:
    """One step: which row was improved, by what, and what the budget and the verdict became."""

    key: str
    what: Sentence
    budget: LoadBudget
    conformity: Conformity


@dataclass(frozen=True, kw_only=True)
class Advice:
    """How a *not proven* could be settled, judged by guarded acceptance.

    ``steps`` are taken one on top of the other, the largest share first; ``settles`` tells whether they decide it.
    """

    largest: str
    steps: tuple[Improvement, ...]
    settles: bool
    sentence: Sentence


def advise(
    found: LoadBudget,
    *,
    base_load_n: float,
    lower: float,
    upper: float,
    gauge_unit: str = "bar",
    base_name: str = "ship design MBL",
) -> Advice | None:
    """Improve the largest share of the budget, work it out again, and so on until the verdict is decided.

    Args: found: the budget of the load; base_load_n: SDMBL or what stands for it, N; lower, upper: the band as
    fractions of it; gauge_unit: the unit on the dial; base_name: what the base load is called.
    Returns None when guarded acceptance decides already. Raises: InputError; OutsideTable; UnitError.
    Source: JCGM 100:2008 for each budget, JCGM 106:2012, 8.3, for each verdict; what can be had better is common
    practice, no published source.

    >>> from fleet.calculation.targets import equal_jacks
    >>> jack = equal_jacks(area_m2=71.26e-4, lever_arm_m=1.0, drum_diameter_m=0.610, line_diameter_m=0.036)
    >>> coarse = GaugeInUse(full_scale_si=700e5, accuracy_class=1.6, smallest_division_si=10e5)
    >>> found = load_budget(Measurement(reading_si=173e5, target=jack, gauge=coarse))
    >>> print(advise(found, base_load_n=637e3, lower=0.55, upper=0.65).sentence.text)
    The gauge is too coarse for this band: a 0–250 bar class 1.0 gauge (divided to 2.5 bar or finer) would settle it.
    """
    units.check_unit(gauge_unit, found.measurement.target.reading_kind)
    search = _Search(base_load_n=base_load_n, lower=lower, upper=upper, unit=gauge_unit, base_name=base_name)
    before = search.judge(found)
    if before.verdict != NOT_PROVEN:
        return None
    steps: list[Improvement] = []
    while len(steps) < MOST_STEPS:
        step = search.step_from(steps[-1].budget if steps else found)
        if step is None:
            break
        steps.append(step)
        if step.conformity.verdict != NOT_PROVEN:
            break
    largest = found.combined.longest_first[0][0]
    return Advice(
        largest=largest.key,
        steps=tuple(steps),
        settles=bool(steps) and steps[-1].conformity.verdict != NOT_PROVEN,
        sentence=_sentence(largest, steps, before),
    )


@dataclass(frozen=True, kw_only=True)
class _Search:
    """Tries what can be had better."""

    base_load_n: float
    lower: float
    upper: float
    unit: str
    base_name: str

    def judge(self, result: LoadBudget) -> Conformity:
        return assess(
            estimate=float(result.load_n) / self.base_load_n,
            standard_uncertainty=float(result.combined.standard_uncertainty) / self.base_load_n,
            expanded_uncertainty=float(result.combined.expanded_uncertainty) / self.base_load_n,
            lower=self.lower,
            upper=self.upper,
            rule=GUARDED,
            base_name=self.base_name,
        )

    def step_from(self, now: LoadBudget) -> Improvement | None:
        """Improve the largest row that can be improved: the mildest step that settles it, otherwise the best one."""
        for row, _ in now.combined.longest_first:
            tried = [
                Improvement(key=row.key, what=what, budget=result, conformity=self.judge(result))
                for what, better in self._options(row, now)
                if _is_better(result := load_budget(better, coverage=now.combined.coverage), now)
            ]
            if tried:
                settling = [step for step in tried if step.conformity.verdict != NOT_PROVEN]
                return settling[0] if settling else tried[-1]
        return None

    def _options(self, row: Contribution, now: LoadBudget) -> Iterator[tuple[Sentence, Measurement]]:
        measured = now.measurement
        if row.key in GAUGE_ROWS and not isinstance(measured.target, ForceCalibratedTarget):
            yield from self._gauges(measured)
        elif row.key == budget.SLIPS:
            yield from _more_slips(row, measured)
        elif row.key in BETTER:
            name, value_si, unit, template = BETTER[row.key]
            shown_unit = self.unit if row.key == budget.PUMP_STROKE else unit
            what = Sentence(template=template, figures={"value": units.display(value_si, shown_unit)})
            yield what, replace(measured, tolerances=replace(measured.tolerances, **{name: value_si}))

    def _gauges(self, measured: Measurement) -> Iterator[tuple[Sentence, Measurement]]:
        reading = units.from_si(float(measured.corrected_si), self.unit)
        is_cell = self.unit not in GAUGE_SCALES
        scales = (units.from_si(measured.gauge.full_scale_si, self.unit),) if is_cell else GAUGE_SCALES[self.unit]
        scale = next((scale for scale in scales if is_cell or reading <= USABLE_TO * scale), None)
        if scale is None:
            return
        for accuracy_class, divisions in GAUGE_CLASSES.items():
            division = scale / divisions
            gauge = GaugeInUse(
                full_scale_si=units.to_si(scale, self.unit),
                accuracy_class=accuracy_class,
                smallest_division_si=units.to_si(division, self.unit),
            )
            figures = {
                "scale": f"{_plain(scale)} {units.label(self.unit)}",
                "accuracy_class": str(accuracy_class),
                "division": f"{_plain(division)} {units.label(self.unit)}",
            }
            yield (
                Sentence(template=A_CELL if is_cell else A_GAUGE, figures=figures),
                replace(measured, reading_si=float(measured.corrected_si), gauge=gauge),
            )


def _is_better(result: LoadBudget, now: LoadBudget) -> bool:
    return float(result.combined.expanded_uncertainty) < float(now.combined.expanded_uncertainty)


def _more_slips(row: Contribution, measured: Measurement) -> Iterator[tuple[Sentence, Measurement]]:
    already = 1 if measured.spread is None else measured.spread.slips
    for slips in range(max(3, already + 1), MOST_SLIPS + 1):
        spread = SlipSpread(
            standard_deviation_si=float(row.half_width_si or 0.0),
            degrees_of_freedom=float(row.degrees_of_freedom) + slips - already,
            slips=slips,
            assumed=row.assumed,
        )
        yield Sentence(template=MORE_SLIPS, figures={"slips": str(slips)}), replace(measured, spread=spread)


def _plain(value: float) -> str:
    return units.shown(value, 3).rstrip("0").rstrip(".")


def _sentence(largest: Contribution, steps: Sequence[Improvement], before: Conformity) -> Sentence:
    if not steps:
        return Sentence(template=NOTHING_BETTER, figures={"largest": largest.name})
    last = steps[-1].conformity
    everything = [step.what.text for step in steps]
    figures = {
        "largest": largest.name,
        "first": everything[0],
        "all": " and ".join(everything),
        "before": points_shown(before.expanded_uncertainty),
        "after": points_shown(last.expanded_uncertainty),
    }
    if last.verdict != NOT_PROVEN:
        if len(steps) > 1:
            return Sentence(template=TOGETHER, figures=figures)
        return Sentence(template=TOO_COARSE if steps[0].key in GAUGE_ROWS else LARGEST, figures=figures)
    if not last.can_be_proven:
        return Sentence(template=NO_ROOM, figures=figures)
    aim = {"aim_from": units.display(last.accept_from, "percent"), "aim_to": units.display(last.accept_to, "percent")}
    return Sentence(template=NOT_ENOUGH, figures={**figures, **aim})
