"""How far a load can be trusted, as plain data: the same figures, rounded once, for record, pages and papers."""

from dataclasses import asdict
from math import isfinite
from typing import Any

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

from fleet.calculation import budget, units
from fleet.calculation.assumptions import SOURCE
from fleet.calculation.conformity import GUARDED, SIMPLE, VERDICTS
from fleet.calculation.measurement import Measurement
from fleet.calculation.sentences import Sentence, points_shown, probability_shown
from fleet.calculation.uncertainty import COSINE, ONE_SIDED, RECTANGULAR, Contribution
from fleet.records.trust import LoadTrust

ANOTHER_THING = lazy("How well a hand finds the mark again is another thing and is not in it.")
MEANING = lazy("The measurement alone: as tested, {state}, on that day.")
RULE_LABELS: dict[str, str | Promise] = {
    SIMPLE: lazy("simple acceptance: the best estimate lies in the band"),
    GUARDED: lazy("guarded acceptance: the best estimate lies in the band by its uncertainty"),
}
UNITS_SHOWN = {"length": "mm", "area": "cm2", "angle": "deg", "force": "kN"}
# Which figure of the policy stands behind a row where nobody measured.
ASSUMED_BY_ROW = {
    budget.PISTON_AREA: "piston_area_relative",
    budget.LEVER_ARM: "lever_arm_m",
    budget.DRUM_DIAMETER: "drum_diameter_m",
    budget.LINE_DIAMETER: "line_diameter_m",
    budget.LEVER_ANGLE: "lever_angle_rad",
    budget.JACK_FRICTION: "jack_friction_relative",
    budget.LEVER_WEIGHT: "lever_weight_relative",
    budget.PUMP_STROKE: "pump_stroke_pa",
    budget.MAKERS_TABLE_ROW: "makers_table_relative",
    budget.JACK_FORCE: "jack_force_relative",
    budget.DIVISION: "smallest_division_of_scale",
    budget.SLIPS: "slip_spread_relative",
}
# Parts of a percent are what most rows of a budget come to.
PARTS_DECIMALS = 2
SENSITIVITY_DECIMALS = 3
MANY_DEGREES = 1000


def trust_content(trust: LoadTrust, *, as_read_share: float | None, was_dry: bool) -> dict[str, Any]:
    """What the record keeps; every ``…_shown`` is ready for people, fractions are of the base load."""
    total, judged = trust.budget.combined, trust.conformity
    low, high = trust.whisker
    return {
        "load_n": trust.load_n,
        "load_shown": units.display(trust.load_n, "kN"),
        "load_tf_shown": units.display(trust.load_n, "tf"),
        "share": trust.share,
        "share_shown": units.display(trust.share, "percent"),
        "as_read_share_shown": units.display(as_read_share, "percent") if as_read_share is not None else "",
        "U_n": trust.expanded_n,
        "U_shown": units.display(trust.expanded_n, "kN"),
        "U_points_shown": points_shown(trust.expanded_share),
        "k_shown": units.shown(float(total.coverage_factor), 2),
        "dof_shown": _degrees(float(total.degrees_of_freedom)),
        "coverage": total.coverage,
        "whisker": [low, high],
        "whisker_shown": [units.display(low, "percent"), units.display(high, "percent")],
        "band_shown": f"{units.digits(judged.lower, 'percent')} to {units.display(judged.upper, 'percent')}",
        "rule": judged.rule,
        "rule_label": str(RULE_LABELS[judged.rule]),
        "probability": judged.probability,
        "probability_shown": probability_shown(judged.probability),
        "verdict": judged.verdict,
        "verdict_label": _(VERDICTS[judged.verdict]),
        "sentence": said(judged.sentence),
        "advice": said(trust.advice.sentence) if trust.advice else "",
        "rows": [_row(trust, row, share) for row, share in total.longest_first],
        "not_counted": [_(budget.ROW_NAMES[key]) for key in trust.budget.not_counted],
        "correction": said(trust.correction.sentence(trust.gauge_unit)) if trust.correction else "",
        "meaning": f"{str(MEANING).format(state=_('dry') if was_dry else _('not dry'))} {ANOTHER_THING}",
        "inputs": _inputs(trust.budget.measurement),
    }


def _inputs(measured: Measurement) -> dict[str, Any]:
    """What a reader of the record cannot find elsewhere in it to work the budget out again, unrounded."""
    spread = measured.spread
    return {
        "tolerances": asdict(measured.tolerances),
        "assumptions": asdict(measured.assumptions) if measured.assumptions else None,
        # No number stands for very many degrees of freedom in JSON.
        "spread": {
            **asdict(spread),
            "degrees_of_freedom": spread.degrees_of_freedom if isfinite(spread.degrees_of_freedom) else None,
        }
        if spread
        else None,
    }


def said(sentence: Sentence) -> str:
    """A sentence of the calculation in the reader's language."""
    return _(sentence.template).format(**sentence.figures)


def _degrees(degrees: float) -> str:
    return units.shown(int(degrees * (1 + 1e-9)), 0) if isfinite(degrees) and degrees < MANY_DEGREES else _("very many")


def _row(trust: LoadTrust, row: Contribution, share: float) -> dict[str, Any]:
    standard_unit = _unit(trust, row.kind)
    per_unit_n = float(row.sensitivity) * units.to_si(1.0, standard_unit)
    return {
        "key": row.key,
        "name": _(row.name),
        "value_shown": _figure(trust, row.value_si, row.value_kind or row.kind),
        "half_width_shown": _figure(trust, row.half_width_si, row.half_width_kind or row.kind),
        "distribution": row.distribution,
        "distribution_label": _distribution(row),
        "sensitivity_shown": f"{units.shown(units.from_si(per_unit_n, 'kN'), SENSITIVITY_DECIMALS)} "
        f"{units.label('kN')}/{units.label(standard_unit)}",
        "contribution_shown": units.shown_quantity(
            float(row.contribution) / trust.base_load_n, "percent", PARTS_DECIMALS
        ),
        "correction_shown": units.shown_quantity(float(row.correction) / trust.base_load_n, "percent", PARTS_DECIMALS)
        if row.correction
        else "",
        "share": share,
        "share_shown": units.display(share, "percent"),
        "assumed": row.assumed,
        "assumed_by": _assumed_by(trust, row),
    }


def _assumed_by(trust: LoadTrust, row: Contribution) -> str:
    if not row.assumed:
        return ""
    is_own = ASSUMED_BY_ROW.get(row.key) in trust.own_assumptions
    return _("the operator's figure") if is_own else _(SOURCE)


def _unit(trust: LoadTrust, kind: str) -> str:
    if kind == trust.budget.measurement.target.reading_kind:
        return trust.gauge_unit
    return "percent" if kind == "share" else UNITS_SHOWN[kind]


def _figure(trust: LoadTrust, value_si: Any, kind: str) -> str:
    """A row's figure in the unit in which it is known aboard; empty where several figures stand behind one row."""
    if value_si is None:
        return ""
    unit = _unit(trust, kind)
    if unit == "percent":
        return f"{units.shown_quantity(float(value_si), unit, PARTS_DECIMALS)} {units.label(unit)}"
    return units.display(float(value_si), unit)


def _distribution(row: Contribution) -> str:
    if row.distribution == RECTANGULAR:
        return _("anywhere within these limits, each place as likely")
    if row.distribution == ONE_SIDED:
        return _("takes force away only: anywhere within these limits around the middle, which is corrected for")
    if row.distribution == COSINE:
        return _("anywhere within these limits; the loss by the cosine is corrected for")
    if row.key == budget.SLIPS:
        slips = round((row.divisor or 1.0) ** 2)
        return _("normal: the standard deviation of one slip; the load is the mean of {slips}").format(slips=slips)
    if row.divisor is not None:
        return _("normal, as the certificate states it with k = {factor}").format(factor=units.shown(row.divisor, 2))
    return _("normal, as the certificate states it")
