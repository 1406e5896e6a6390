"""The uncertainty budget of one brake rendering load: which rows there are, by the basis of the target.

Sensitivities come from the moment balance where there is one, and from the table itself where there is a table.
"""

from dataclasses import dataclass
from math import sqrt
from typing import cast

import numpy as np

from fleet.calculation.gauge import permissible_error
from fleet.calculation.geometry import NESTINGS
from fleet.calculation.measurement import Measurement
from fleet.calculation.sentences import gettext_noop
from fleet.calculation.targets import (
    ForceCalibratedTarget,
    GeometryTarget,
    LoadCellTarget,
    MakersTableTarget,
)
from fleet.calculation.uncertainty import (
    COSINE,
    COVERAGE,
    NORMAL,
    ONE_SIDED,
    RECTANGULAR,
    RECTANGULAR_DIVISOR,
    Combined,
    Contribution,
    combine,
    cosine_loss,
)
from fleet.calculation.units import Number

GAUGE_CLASS = "gauge_class"
GAUGE_CALIBRATION = "gauge_calibration"
JACK_FORCE = "jack_force"
MAKERS_TABLE_ROW = "makers_table"
DIVISION = "smallest_division"
PISTON_AREA = "piston_area"
LEVER_ARM = "lever_arm"
DRUM_DIAMETER = "drum_diameter"
LINE_DIAMETER = "line_diameter"
LEVER_ANGLE = "lever_angle"
JACK_FRICTION = "jack_friction"
LEVER_WEIGHT = "lever_weight"
PUMP_STROKE = "pump_stroke"
SLIPS = "slips"

ROW_NAMES = {
    GAUGE_CLASS: gettext_noop("gauge, by its accuracy class"),
    GAUGE_CALIBRATION: gettext_noop("gauge, by its calibration certificate"),
    JACK_FORCE: gettext_noop("jack, by its calibration as force"),
    MAKERS_TABLE_ROW: gettext_noop("maker's table"),
    DIVISION: gettext_noop("reading to the gauge's smallest division"),
    PISTON_AREA: gettext_noop("effective piston area"),
    LEVER_ARM: gettext_noop("lever arm"),
    DRUM_DIAMETER: gettext_noop("drum diameter"),
    LINE_DIAMETER: gettext_noop("line diameter"),
    LEVER_ANGLE: gettext_noop("lever not square to the jack"),
    JACK_FRICTION: gettext_noop("friction of the jack's seals"),
    LEVER_WEIGHT: gettext_noop("weight of the lever"),
    PUMP_STROKE: gettext_noop("one stroke of the pump"),
    SLIPS: gettext_noop("spread of the slips"),
}


@dataclass(frozen=True, kw_only=True)
class LoadBudget:
    """A brake rendering load with its budget, in N.

    ``load_n`` is the best estimate: ``uncorrected_n``, the bare moment balance at the corrected reading, plus the rows'
    corrections for what can only take force away. ``not_counted`` names rows for which there was no figure.
    """

    measurement: Measurement
    uncorrected_n: Number
    load_n: Number
    combined: Combined
    not_counted: tuple[str, ...]


def load_budget(measurement: Measurement, *, coverage: float = COVERAGE) -> LoadBudget:
    """Brake rendering load with its uncertainty, row by row.

    Raises: InputError; OutsideTable beyond the certificate or the table.
    Source: JCGM 100:2008: bounds are rectangular (4.3.7); a loss between nothing and a bound is corrected by its middle
    (4.3.8); numeric sensitivities by 5.1.3, note 2. EN 837-1 for the class limit.

    >>> from fleet.calculation.assumptions import Tolerances
    >>> from fleet.calculation.measurement import GaugeInUse
    >>> from fleet.calculation.targets import equal_jacks
    >>> jack = equal_jacks(area_m2=71.26e-4, lever_arm_m=1.0, drum_diameter_m=0.610, line_diameter_m=0.036)
    >>> known = Tolerances(piston_area_relative=0.005, lever_arm_m=0.003, drum_diameter_m=0.004, line_diameter_m=0.001)
    >>> gauge = GaugeInUse(full_scale_si=40e6, accuracy_class=1.6, smallest_division_si=2e5)
    >>> budget = load_budget(Measurement(reading_si=17.324e6, target=jack, gauge=gauge, tolerances=known,
    ...     assumptions=None))
    >>> round(100 * budget.combined.standard_uncertainty / budget.load_n, 3), budget.combined.longest_first[0][0].key
    (2.216, 'gauge_class')
    >>> budget.not_counted
    ('lever_angle', 'jack_friction', 'lever_weight', 'pump_stroke', 'slips')
    """
    return _Rows(measurement).budget(coverage)


@dataclass(frozen=True, kw_only=True)
class _Loss:
    """Something that can only take force away: the part lost on average, and how uncertain that part is."""

    key: str
    lost: float
    standard_uncertainty: float
    half_width_si: float
    half_width_kind: str
    divisor: float | None
    distribution: str
    assumed: bool

    @property
    def kept(self) -> float:
        return 1 - self.lost


class _Rows:
    """Gathers the rows that the basis of the target asks for."""

    def __init__(self, measurement: Measurement) -> None:
        self.given = measurement
        self.target = measurement.target
        self.at_si = measurement.corrected_si
        self.uncorrected_n: Number = self.target.load_at(cast(float, self.at_si))
        self.rows: list[Contribution] = []
        self.not_counted: list[str] = []
        # Losses first: what the other rows are worth goes by the load that is left.
        self.losses = self._all_losses()
        self.kept = 1.0
        for loss in self.losses:
            self.kept *= loss.kept
        self.load_n: Number = self.uncorrected_n * self.kept

    def budget(self, coverage: float) -> LoadBudget:
        if isinstance(self.target, ForceCalibratedTarget):
            self._relative(JACK_FORCE, "jack_force_relative", self.target.table.y_at(cast(float, self.at_si)), "force")
        else:
            self._gauge()
        self._division()
        if isinstance(self.target, MakersTableTarget):
            self._relative(MAKERS_TABLE_ROW, "makers_table_relative", self.uncorrected_n, "force")
        if isinstance(self.target, GeometryTarget):
            self._relative(PISTON_AREA, "piston_area_relative", self.target.total_area_m2, "area")
        if isinstance(self.target, GeometryTarget | ForceCalibratedTarget):
            self._lever_and_drum(self.target)
        self._loss_rows()
        if self.target.reading_kind == "pressure":
            self._stroke()
        self._slips()
        return LoadBudget(
            measurement=self.given,
            uncorrected_n=self.uncorrected_n,
            load_n=self.load_n,
            combined=combine(self.rows, coverage=coverage),
            not_counted=tuple(key for key in ROW_NAMES if key in self.not_counted),
        )

    def _figure(self, key: str, name: str) -> tuple[float, bool] | None:
        """The half-width and whether it is assumed; None where there is nothing to count."""
        known = getattr(self.given.tolerances, name)
        is_assumed = known is None
        if is_assumed and self.given.assumptions is not None:
            known = getattr(self.given.assumptions.tolerances, name)
        if known is None:
            self.not_counted.append(key)
        return (known, is_assumed) if known else None

    def _add_bound(
        self,
        key: str,
        half_width_si: Number,
        sensitivity: Number,
        *,
        value_si: Number | None,
        kind: str,
        assumed: bool,
        value_kind: str = "",
    ) -> None:
        self.rows.append(
            Contribution(
                key=key,
                name=ROW_NAMES[key],
                standard_uncertainty=half_width_si / RECTANGULAR_DIVISOR,
                half_width_si=half_width_si,
                divisor=RECTANGULAR_DIVISOR,
                distribution=RECTANGULAR,
                sensitivity=sensitivity,
                value_si=value_si,
                kind=kind,
                value_kind=value_kind,
                assumed=assumed,
            )
        )

    def _relative(self, key: str, name: str, value_si: Number, value_kind: str) -> None:
        """A bound known as a part of the figure, which the load is proportional to."""
        figure = self._figure(key, name)
        if figure is not None:
            bound, assumed = figure
            self._add_bound(
                key, bound, self.load_n, value_si=value_si, kind="share", assumed=assumed, value_kind=value_kind
            )

    def _length(self, key: str, name: str, sensitivity: Number, value_si: Number | None) -> None:
        figure = self._figure(key, name)
        if figure is not None:
            self._add_bound(key, figure[0], sensitivity, value_si=value_si, kind="length", assumed=figure[1])

    def _slope(self, step_si: Number) -> Number:
        """Change of the load per change of the reading; by a table, over one step either way inside the table."""
        if isinstance(self.target, GeometryTarget):
            return self.kept * self.target.moment_per_pressure_m3 / self.target.radius_m
        if isinstance(self.target, MakersTableTarget | ForceCalibratedTarget):
            xs = self.target.table.xs
            low_si = np.clip(self.at_si - step_si, xs[0], xs[-1])
            high_si = np.clip(self.at_si + step_si, xs[0], xs[-1])
            return self.kept * (self.target.load_at(high_si) - self.target.load_at(low_si)) / (high_si - low_si)
        return 1.0

    def _gauge(self) -> None:
        gauge = self.given.gauge
        if gauge.certificate is not None and gauge.is_certified:
            standard_si = gauge.certificate.standard_uncertainty_at(cast(float, self.given.reading_si))
            factor = gauge.certificate.coverage_factor
            self.rows.append(
                Contribution(
                    key=GAUGE_CALIBRATION,
                    name=ROW_NAMES[GAUGE_CALIBRATION],
                    standard_uncertainty=standard_si,
                    half_width_si=None if factor is None else factor * standard_si,
                    divisor=factor,
                    distribution=NORMAL,
                    sensitivity=self._slope(standard_si),
                    value_si=self.given.reading_si,
                    kind=self.target.reading_kind,
                )
            )
        elif gauge.accuracy_class is not None:
            limit_si = permissible_error(accuracy_class=gauge.accuracy_class, span_pa=gauge.full_scale_si)
            self._add_reading_bound(GAUGE_CLASS, limit_si, assumed=False)

    def _add_reading_bound(self, key: str, half_width_si: float, *, assumed: bool) -> None:
        self._add_bound(
            key,
            half_width_si,
            self._slope(half_width_si / RECTANGULAR_DIVISOR),
            value_si=self.given.reading_si,
            kind=self.target.reading_kind,
            assumed=assumed,
        )

    def _division_si(self) -> tuple[float, bool] | None:
        if self.given.gauge.smallest_division_si is not None:
            return self.given.gauge.smallest_division_si, False
        if self.given.assumptions is not None:
            return self.given.assumptions.smallest_division_of_scale * self.given.gauge.full_scale_si, True
        return None

    def _division(self) -> None:
        division = self._division_si()
        if division is None:
            self.not_counted.append(DIVISION)
        else:
            self._add_reading_bound(DIVISION, division[0] / 2, assumed=division[1])

    def _lever_and_drum(self, target: GeometryTarget | ForceCalibratedTarget) -> None:
        if isinstance(target, ForceCalibratedTarget):
            per_arm_m: Number = self.load_n / target.lever_arm_m
            arm_m: Number | None = target.lever_arm_m
        else:
            # One rule measures every arm: all of them are long or short together.
            per_arm_m = self.load_n * target.total_area_m2 / target.moment_per_pressure_m3
            arm_m = target.arms[0].lever_arm_m if len(target.arms) == 1 else None
        self._length(LEVER_ARM, "lever_arm_m", per_arm_m, arm_m)
        per_radius_m = -self.load_n / target.radius_m
        self._length(DRUM_DIAMETER, "drum_diameter_m", per_radius_m / 2, target.drum_diameter_m)
        in_layers = 0.5 + (target.layer - 1) * NESTINGS[target.nesting]
        self._length(LINE_DIAMETER, "line_diameter_m", per_radius_m * in_layers, target.line_diameter_m)

    def _all_losses(self) -> list[_Loss]:
        found = []
        if not isinstance(self.target, LoadCellTarget):
            found.append(self._angle_loss())
        if isinstance(self.target, GeometryTarget):
            found.append(self._part_lost(JACK_FRICTION, "jack_friction_relative"))
        if isinstance(self.target, GeometryTarget | ForceCalibratedTarget):
            found.append(self._part_lost(LEVER_WEIGHT, "lever_weight_relative"))
        return [loss for loss in found if loss is not None]

    def _angle_loss(self) -> _Loss | None:
        figure = self._figure(LEVER_ANGLE, "lever_angle_rad")
        if figure is None:
            return None
        kept, standard = cosine_loss(figure[0])
        return _Loss(
            key=LEVER_ANGLE,
            lost=1 - kept,
            standard_uncertainty=standard,
            half_width_si=figure[0],
            half_width_kind="angle",
            divisor=None,
            distribution=COSINE,
            assumed=figure[1],
        )

    def _part_lost(self, key: str, name: str) -> _Loss | None:
        figure = self._figure(key, name)
        if figure is None:
            return None
        half = figure[0] / 2
        return _Loss(
            key=key,
            lost=half,
            standard_uncertainty=half / RECTANGULAR_DIVISOR,
            half_width_si=half,
            half_width_kind="share",
            divisor=RECTANGULAR_DIVISOR,
            distribution=ONE_SIDED,
            assumed=figure[1],
        )

    def _loss_rows(self) -> None:
        remaining_n = self.uncorrected_n
        for loss in self.losses:
            self.rows.append(
                Contribution(
                    key=loss.key,
                    name=ROW_NAMES[loss.key],
                    standard_uncertainty=loss.standard_uncertainty,
                    half_width_si=loss.half_width_si,
                    divisor=loss.divisor,
                    distribution=loss.distribution,
                    sensitivity=-self.load_n / loss.kept,
                    value_si=loss.lost,
                    kind="share",
                    half_width_kind=loss.half_width_kind,
                    correction=-remaining_n * loss.lost,
                    assumed=loss.assumed,
                )
            )
            remaining_n = remaining_n * loss.kept

    def _stroke(self) -> None:
        figure = self._figure(PUMP_STROKE, "pump_stroke_pa")
        if figure is not None:
            self._add_reading_bound(PUMP_STROKE, figure[0] / 2, assumed=figure[1])

    def _slips(self) -> None:
        spread, assumptions = self.given.spread, self.given.assumptions
        if spread is not None:
            standard_si: Number = spread.standard_deviation_si
            degrees, slips, assumed = spread.degrees_of_freedom, spread.slips, spread.assumed
        elif assumptions is not None:
            standard_si = assumptions.slip_spread_relative * self.given.reading_si
            degrees, slips, assumed = assumptions.slip_spread_degrees, 1, True
        else:
            self.not_counted.append(SLIPS)
            return
        division = self._division_si()
        if division is not None:
            # No scale shows a spread finer than its own division can hide.
            standard_si = np.maximum(standard_si, division[0] / 2 / RECTANGULAR_DIVISOR)
        mean_si = standard_si / sqrt(slips)
        self.rows.append(
            Contribution(
                key=SLIPS,
                name=ROW_NAMES[SLIPS],
                standard_uncertainty=mean_si,
                half_width_si=standard_si,
                divisor=sqrt(slips),
                distribution=NORMAL,
                sensitivity=self._slope(mean_si),
                degrees_of_freedom=degrees,
                value_si=self.given.reading_si,
                kind=self.target.reading_kind,
                assumed=assumed,
            )
        )
