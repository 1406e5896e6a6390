"""The content of a submission: everything a reader needs to check the test without us, as plain data."""

from typing import Any

from fleet.calculation import units
from fleet.calculation.plausibility import Finding
from fleet.core.typed import Typed
from fleet.drums.figures import FIGURE_BY_NAME
from fleet.drums.models import Drum, DrumParticulars
from fleet.gauges.models import Gauge, GaugeCalibration
from fleet.gauges.points import Point
from fleet.records.draft import CHECKS, LININGS, ParsedDraft
from fleet.records.figures import Figures, JackInUse
from fleet.records.layers import layers_content
from fleet.records.models import Confirmation, DrumTest, Outcome, Phase, Photo, Round
from fleet.records.results import ReadingResult, Results
from fleet.records.trust import LoadTrust
from fleet.records.trust_content import said, trust_content
from fleet.vessels.models import Policy, Vessel

SCHEMA = "brake-rendering-test/1"
CALCULATION_VERSION = "2"
STOP_LIMIT_LABELS = {
    "operators_ceiling": "the operator's ceiling",
    "brake_design_load": "80 % of the base load, the brake's design holding load",
    "jack_rating": "80 % of the jack's rated pressure",
    "lever_safe_load": "the lever's safe load",
    "deck_allowed_load": "the load allowed on the footing",
    "gauge_usable_part": "the usable part of the gauge, 75 % of full scale",
    "gauge_full_scale": "the end of the gauge's scale",
    "end_of_table": "the end of the table",
    "end_of_certificate": "the end of the gauge's calibration certificate",
}


def content_of(
    test: DrumTest,
    figures: Figures,
    parsed: ParsedDraft,
    results: Results,
    findings: tuple[Finding, ...],
    photos: list[Photo],
    trust: LoadTrust | None = None,
) -> dict[str, Any]:
    """What confirmations and the submission speak of; names and times of the acts are added by the submission."""
    content: dict[str, Any] = {
        "schema": SCHEMA,
        "calculation_version": CALCULATION_VERSION,
        "test_id": str(test.pk),
        "company": {"name": figures.vessel.company.name, "demo": figures.vessel.company.is_demo},
        "vessel": _vessel(figures.vessel),
        "drum": _drum(figures.drum, figures.particulars),
        "figures": {
            name: {
                **stored,
                "origin_label": str(figure.origin_label) if (figure := figures.particulars.figure(name)) else "",
                "label": str(FIGURE_BY_NAME[name].label),
                "shown": str(Typed.from_dict(stored)),
            }
            for name, stored in figures.particulars.figures.items()
            if name in FIGURE_BY_NAME
        },
        "line_material": str(figures.particulars.get_line_material_display()),
        "target_basis": figures.target.basis,
        "target_basis_label": str(figures.particulars.get_target_basis_display()),
        "maker_table": figures.particulars.maker_table,
        "maker_table_document": figures.particulars.maker_table_document,
        "maker_table_jack": figures.particulars.maker_table_jack,
        "kit": _kit(figures, parsed),
        "round": _round(test.round),
        "tested": {
            "on": parsed.values["tested_on"].isoformat() if parsed.values["tested_on"] else "",
            "at": parsed.values["tested_at"].isoformat("minutes") if parsed.values["tested_at"] else "",
            "utc_offset": utc_offset(test.round.utc_offset_minutes),
        },
        "policy": _policy(figures.policy),
        "draft": dict(sorted(test.draft.items())),
        "checks": {check.name: parsed.ticked(check.name) for check in CHECKS},
        "check_labels": {check.name: str(check.label) for check in CHECKS},
        "lining_m": list(parsed.linings_m),
        "lining_shown": [str(value) for name in LININGS if (value := parsed.typed(name))],
        **layers_content(figures, results),
        "working": _working(figures),
        "target": _target(figures),
        "stop": {
            "limit": figures.stop.limit,
            "limit_label": STOP_LIMIT_LABELS[figures.stop.limit],
            "reading_si": figures.stop.reading_si,
            "reading_shown": units.display(figures.stop.reading_si, figures.gauge_unit),
            "mark_shown": figures.stop_mark.shown,
        },
        "readings": [_reading(row, figures) for row in results.rows],
        "results": _results(results, parsed),
        "outcome": {
            "code": parsed.values["outcome"],
            "label": str(Outcome(parsed.values["outcome"]).label) if parsed.values["outcome"] else "",
            "defect_reference": parsed.values["defect_reference"],
            "who_was_told": parsed.values["who_was_told"],
            "remarks": parsed.values["remarks"],
            "mark_fixed": parsed.values["mark_fixed"],
        },
        "findings": [
            {
                "code": finding.code,
                "level": finding.level,
                "sentence": finding.sentence,
                "ship_reply": test.draft.get(f"reply_{finding.code}", ""),
            }
            for finding in findings
        ],
        "photos": [
            {"id": str(photo.pk), "kind": photo.kind, "caption": photo.caption, "sha256": photo.sha256}
            for photo in photos
        ],
    }
    # None in what was sent before loads had an uncertainty, nor where no slip verified the mark.
    if trust is not None:
        content["trust"] = trust_content(trust, as_read_share=results.as_left_share, was_dry=parsed.was_dry)
    # Only in a version that answers shore: what was sent or confirmed before this field was there keeps its bytes.
    if answer := parsed.values["answer_to_shore"]:
        content["answer_to_shore"] = answer
    return content


def utc_offset(minutes: int) -> str:
    """Ship's time as UTC+3, UTC−3:30 or UTC."""
    if minutes == 0:
        return "UTC"
    hours, rest = divmod(abs(minutes), 60)
    return f"UTC{'+' if minutes > 0 else '−'}{hours}" + (f":{rest:02}" if rest else "")


def confirmation_content(confirmation: Confirmation) -> dict[str, Any]:
    return {
        "kind": confirmation.kind,
        "kind_label": str(confirmation.get_kind_display()),
        "name": confirmation.name,
        "rank": confirmation.rank,
        "at": confirmation.at.isoformat(),
    }


def _typed(value: Typed | None) -> dict[str, Any] | None:
    return {**value.to_dict(), "shown": str(value)} if value else None


def _vessel(vessel: Vessel) -> dict[str, Any]:
    return {
        "name": vessel.name,
        "imo_number": vessel.imo_number,
        "base_load": {
            **(_typed(vessel.base_load) or {}),
            "kind": vessel.base_load_kind,
            "kind_label": str(vessel.get_base_load_kind_display()),
            "document": vessel.base_load_document,
        },
    }


def _drum(drum: Drum, particulars: DrumParticulars) -> dict[str, Any]:
    return {
        "id": str(drum.pk),
        "name": drum.name,
        "winch": drum.winch.name,
        "place": drum.place,
        "kind": drum.kind,
        "kind_label": str(drum.get_kind_display()),
        "brake_kind": drum.brake_kind,
        "brake_kind_label": str(drum.get_brake_kind_display()),
        "setting_kind": drum.setting_kind,
        "setting_kind_label": str(drum.get_setting_kind_display()),
        "mark_from": drum.mark_from,
        "mark_to": drum.mark_to,
        "tighter_is": drum.tighter_is,
        "line_off": drum.line_off,
        "line_off_label": str(drum.get_line_off_display()),
        "lead": drum.lead,
        "reference_layer": particulars.reference_layer,
        "nesting": particulars.nesting,
        "nesting_label": str(particulars.get_nesting_display()),
        "particulars_id": str(particulars.pk),
        "particulars_from": particulars.valid_from.isoformat(),
    }


def _kit(figures: Figures, parsed: ParsedDraft) -> dict[str, Any]:
    kit = figures.kit
    lever, footing = kit.lever, kit.footing
    return {
        "name": kit.name,
        "gauge": _gauge(kit.gauge, parsed),
        "jacks": [_jack(row) for row in figures.jacks],
        "lever": {"name": lever.name, "arm": _typed(lever.arm), "safe_load": _typed(lever.safe_load)},
        "footing": {"name": footing.name, "allowed_load": _typed(footing.allowed_load)} if footing else None,
    }


def _gauge(gauge: Gauge, parsed: ParsedDraft) -> dict[str, Any]:
    tested_on = parsed.values.get("tested_on")
    calibration = gauge.calibration_on(tested_on) if tested_on else None
    return {
        "name": gauge.name,
        "serial_number": gauge.serial_number,
        "unit": gauge.unit,
        "unit_label": units.label(gauge.unit),
        "full_scale": _typed(gauge.full_scale),
        "smallest_division": _typed(gauge.smallest_division),
        "accuracy_class": f"{gauge.accuracy_class.normalize():f}",
        "calibration": {
            "certificate_number": calibration.certificate_number,
            "laboratory": calibration.laboratory,
            "calibrated_on": calibration.calibrated_on.isoformat(),
            "valid_until": calibration.valid_until.isoformat() if calibration.valid_until else "",
            **_points(calibration),
        }
        if calibration
        else None,
    }


def _points(calibration: GaugeCalibration) -> dict[str, Any]:
    """The certificate's points, by which readings are corrected; nothing where only its dates are known."""
    points = [
        {
            "reading": _typed(point.reading),
            "reference": _typed(point.reference),
            "U": _typed(point.U),
            "k": point.k,
            "direction": point.direction,
        }
        for point in map(Point.from_dict, calibration.points)
    ]
    return {"points": points} if points else {}


def _jack(row: JackInUse) -> dict[str, Any]:
    jack, area = row.jack, row.area
    return {
        "name": jack.name,
        "serial_number": jack.serial_number,
        "kind": jack.kind,
        "kind_label": str(jack.get_kind_display()),
        "acts": jack.acts,
        "area_m2": area.counts_m2,
        "area_shown": units.display(area.counts_m2, "cm2") if area.counts_m2 is not None else "",
        "area_counts": jack.area_counts,
        "area_counts_label": str(jack.get_area_counts_display()),
        "stated_area": _typed(jack.stated_area),
        "measured_area_shown": units.display(area.measured_m2, "cm2") if area.measured_m2 is not None else "",
        "document": jack.stated_area_document,
        "lever_arm_m": row.lever_arm_m,
        "lever_arm_shown": row.lever_arm_shown,
        "rated_pressure": _typed(jack.rated_pressure),
        "force_table": jack.force_table,
        "force_table_document": jack.force_table_document,
    }


def _round(round_: Round) -> dict[str, Any]:
    return {
        "id": str(round_.pk),
        "kind": round_.kind,
        "kind_label": str(round_.get_kind_display()),
        "place": round_.place,
        "permit": round_.permit,
        "people": round_.people,
        "weather": round_.weather,
        "done_by": round_.done_by,
        "done_by_label": str(round_.get_done_by_display()),
        "done_by_name": round_.done_by_name,
        "report": {"name": round_.report_name, "sha256": round_.report_sha256} if round_.report else None,
        "utc_offset_minutes": round_.utc_offset_minutes,
    }


def _policy(policy: Policy) -> dict[str, Any]:
    source = "common practice" if policy.is_common_practice else str(policy)
    return {
        "id": "" if policy.is_common_practice else str(policy.pk),
        "source": source,
        "share": float(policy.share),
        "share_shown": units.display(float(policy.share), "percent"),
        "band_low": float(policy.band_low),
        "band_high": float(policy.band_high),
        "band_shown": f"{units.digits(float(policy.band_low), 'percent')} to "
        f"{units.display(float(policy.band_high), 'percent')}",
        "ceiling": float(policy.ceiling),
        "decision_rule": policy.decision_rule,
        "decision_rule_label": str(policy.get_decision_rule_display()),
        "verification_slips": policy.verification_slips,
        "calibration_months": policy.calibration_months,
    }


def _working(figures: Figures) -> list[dict[str, Any]]:
    return [
        {
            "key": step.key,
            "name": step.name,
            "formula": step.formula_in_words,
            "values": [{"name": value.name, "shown": value.shown} for value in step.values],
            "shown": step.shown,
            "result_si": step.result_si,
            "unit": step.unit,
        }
        for step in figures.aim.steps
    ]


def _target(figures: Figures) -> dict[str, Any]:
    aim, mark = figures.aim, figures.mark
    correction = figures.correction_at(aim.reading_si)
    found = {
        "load_n": aim.load_n,
        "load_shown": units.display(aim.load_n, "kN"),
        "load_tf_shown": units.display(aim.load_n, "tf"),
        "reading_si": aim.reading_si,
        "reading_shown": units.display(aim.reading_si, figures.gauge_unit),
        "mark_shown": mark.shown,
        "mark_share": mark.share,
        "mark_share_shown": units.display(mark.share, "percent"),
    }
    # Only where the gauge's certificate counts, or is there and does not.
    if correction is not None:
        found["correction"] = said(correction.sentence(figures.gauge_unit))
    if figures.uncovered:
        found["uncovered"] = figures.uncovered
    return found


def _reading(row: ReadingResult, figures: Figures) -> dict[str, Any]:
    reading = row.reading
    return {
        "order": reading.order,
        "phase": reading.phase,
        "phase_label": str(Phase(reading.phase).label),
        "mark_text": reading.mark_text,
        "mark_unit": reading.mark_unit,
        "mark_si": reading.mark_si,
        "gauge_text": reading.gauge_text,
        "gauge_unit": reading.gauge_unit,
        "gauge_si": reading.gauge_si,
        "slipped": reading.slipped,
        "reapplied": reading.reapplied,
        "rest_minutes": reading.rest_minutes,
        "load_n": row.load_n,
        "load_shown": row.load_shown,
        "share": row.share,
        "share_shown": row.share_shown,
        **_corrected(reading.gauge_si, figures),
    }


def _corrected(gauge_si: float, figures: Figures) -> dict[str, Any]:
    """What the reading means by the gauge's certificate; nothing where that does not count."""
    correction = figures.correction_at(gauge_si)
    if correction is None:
        return {}
    return {
        "corrected_si": correction.reference_pa,
        "corrected_shown": units.display(correction.reference_pa, figures.gauge_unit),
    }


def _results(results: Results, parsed: ParsedDraft) -> dict[str, Any]:
    load_n = results.as_left_load_n
    return {
        "as_found_phase": results.as_found_phase,
        "as_found_phase_label": str(Phase(results.as_found_phase).label) if results.as_found_phase else "",
        "as_found_share": results.as_found_share,
        "as_found_held": results.as_found_held,
        "as_found_share_shown": results.as_found_shown,
        "as_left_share": results.as_left_share,
        "as_left_share_shown": results.as_left_shown,
        "as_left_load_n": load_n,
        "as_left_load_shown": results.as_left_load_shown,
        "as_left_load_tf_shown": units.display(load_n, "tf") if load_n is not None else "",
        "spread_share": results.spread_share,
        "spread_shown": results.spread_shown,
        "verification_slips": results.verification_slips,
        "setting": _typed(parsed.typed("final_mark")),
        "old_setting": _typed(parsed.typed("old_mark")),
        "in_band": results.in_band,
    }
