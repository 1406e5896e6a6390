"""The catalogue of findings put to one test: its facts and its context gathered from the rows."""

from dataclasses import replace
from datetime import date, timedelta
from typing import Any, cast

from fleet.calculation import gauge as gauge_rules
from fleet.calculation import plausibility as plausible
from fleet.calculation import units
from fleet.drums.models import Drum, DrumKind, DrumParticulars, EventKind, LineMaterial, Nesting
from fleet.records.canonical import read_content
from fleet.records.draft import BandRest, BrakeState, DrumSurface, ParsedDraft, readings_wait_for
from fleet.records.figures import Figures, JackInUse
from fleet.records.models import DrumTest, Outcome, Reading, Submission
from fleet.records.results import Results
from fleet.records.trust import LoadTrust
from fleet.records.trust_content import said
from fleet.records.vicinity import Vicinity

SAME_CAMPAIGN = timedelta(days=90)
FACT_EVENTS = {
    EventKind.LINING_RENEWED,
    EventKind.BRAKE_OVERHAULED,
    EventKind.SPINDLE_RENEWED,
    EventKind.PISTON_RENEWED,
    EventKind.LINE_CHANGED,
    EventKind.UNINTENDED_SLIP,
}
# The brake's own cylinder or piston: work on the brake, and no reason for the test jack's area to change.
SAID_AS: dict[str, str] = {EventKind.PISTON_RENEWED: "brake_overhauled"}
OUTCOME_WORDS = {Outcome.OUT_OF_USE: "defective"}


def findings_of(
    test: DrumTest,
    figures: Figures,
    parsed: ParsedDraft,
    results: Results,
    vicinity: Vicinity,
    trust: LoadTrust | None = None,
) -> tuple[plausible.Finding, ...]:
    """Everything the catalogue notices, worst first."""
    drum = test.drum
    return plausible.find(
        facts_of_test(test, figures, parsed, results, trust),
        previous=[previous_facts(row) for row in vicinity.earlier(test)],
        sisters=_sisters(test, parsed, vicinity),
        events=[
            plausible.EventFacts(kind=cast(Any, SAID_AS.get(event.kind, str(event.kind))), on=event.happened_on)
            for event in drum.events.all()
            if event.kind in FACT_EVENTS
        ],
        sister_drums=_sister_drums(drum, figures, vicinity),
    )


def drum_facts(figures: Figures) -> plausible.DrumFacts:
    """The drum as this test used it, with its jacks."""
    facts = _facts_of(figures.drum, figures.particulars, figures.vessel.base_load.si, figures.vessel.base_load_kind)
    first_arm = figures.jacks[0].lever_arm_m if figures.jacks else None
    return replace(facts, lever_arm_m=first_arm, jacks=tuple(_jack_facts(row) for row in figures.jacks))


def _facts_of(drum: Drum, particulars: DrumParticulars, base_load_n: float, base_load_kind: str) -> plausible.DrumFacts:
    figure = particulars.si
    return plausible.DrumFacts(
        id=str(drum.pk),
        name=drum.name,
        kind="undivided" if drum.kind == DrumKind.UNDIVIDED else "split",
        brake_kind=cast(Any, str(drum.brake_kind)),
        drum_diameter_m=figure("drum_diameter"),
        flange_diameter_m=figure("flange_diameter"),
        line_diameter_m=figure("line_diameter"),
        line_material="wire" if particulars.line_material == LineMaterial.WIRE else "fibre",
        layer=particulars.reference_layer,
        nested=particulars.nesting == Nesting.NESTED,
        base_load_n=base_load_n,
        base_kind=base_load_kind,
        line_mbl_n=figure("line_mbl"),
        line_residual_share=figure("line_residual"),
        setting_kind=cast(Any, str(drum.setting_kind)),
        mark_low_si=figure("mark_least"),
        mark_high_si=figure("mark_most"),
        tighter_direction=1 if drum.tightening_sign > 0 else -1,
        setting_per_turn_si=figure("movement_per_turn"),
        wrap_rad=figure("wrap_angle"),
        mark_per_band_travel=figure("mark_per_band_travel"),
        lining_new_m=figure("lining_new"),
        lining_minimum_m=figure("lining_minimum"),
    )


def _jack_facts(row: JackInUse) -> plausible.JackFacts:
    jack = row.jack
    return plausible.JackFacts(
        id=jack.serial_number,
        kind=cast(Any, str(jack.kind)),
        area_m2=row.area.counts_m2,
        stated_area_m2=row.area.stated_m2,
        bore_m=jack.bore.si if jack.bore else None,
        inner_m=jack.rod_or_hole.si if jack.rod_or_hole else None,
        plunger_m=jack.plunger.si if jack.plunger else None,
        lever_arm_m=row.lever_arm_m,
        nominal_capacity_n=jack.nominal_capacity.si if jack.nominal_capacity else None,
        rated_pressure_pa=jack.rated_pressure.si,
    )


def gauge_facts(figures: Figures, parsed: ParsedDraft) -> plausible.GaugeFacts | None:
    """The gauge or load cell with its newest calibration; a cell's figures are N instead of Pa."""
    instrument = figures.kit.gauge
    tested_on = parsed.values.get("tested_on")
    known = sorted(instrument.calibrations.all(), key=lambda row: row.calibrated_on)
    calibration = instrument.calibration_on(tested_on) if tested_on else None
    # None was in force: the first one after the test, so that it is said to be too late.
    too_late = known[0] if known and tested_on and not calibration else None
    shown = calibration or too_late
    due = None
    if calibration:
        due = calibration.valid_until or gauge_rules.add_months(
            calibration.calibrated_on, figures.policy.calibration_months
        )
    return plausible.GaugeFacts(
        id=instrument.serial_number,
        unit=instrument.unit,
        full_scale_pa=instrument.full_scale.si,
        division_pa=instrument.smallest_division.si,
        accuracy_class=float(instrument.accuracy_class),
        calibrated_on=shown.calibrated_on if shown else None,
        calibration_due=due,
        never_calibrated=not known,
        certificate=figures.certificate,
        certificate_from_pa=figures.covered[0] if figures.covered else None,
        certificate_to_pa=figures.covered[1] if figures.covered else None,
    )


def reading_facts(reading: Reading) -> plausible.ReadingFacts:
    return plausible.ReadingFacts(
        phase=cast(Any, str(reading.phase)),
        reading_pa=reading.gauge_si,
        mark_si=reading.mark_si,
        typed=reading.gauge_text,
        result="slipped" if reading.slipped else "held",
        released_and_reapplied=reading.reapplied,
    )


def facts_of_test(
    test: DrumTest, figures: Figures, parsed: ParsedDraft, results: Results, trust: LoadTrust | None = None
) -> plausible.TestFacts:
    """One test as plain data."""
    waiting = {check.name for check in readings_wait_for(test)}
    low, high = figures.band
    outcome = parsed.values.get("outcome") or None
    return plausible.TestFacts(
        drum=replace(drum_facts(figures), lever_off_square_deg=_off_square_deg(parsed)),
        gauge=gauge_facts(figures, parsed),
        tested_on=parsed.values.get("tested_on"),
        readings=tuple(reading_facts(row.reading) for row in results.rows),
        lining_m=parsed.linings_m,
        drum_surface_ok=_is(parsed, "drum_surface", {DrumSurface.SMOOTH, DrumSurface.RUSTY}),
        band_rest_ok=_is(parsed, "band_rest", {BandRest.CLEAR}),
        # A box not ticked yet says nothing until there are readings.
        pay_out_side_confirmed="pay_out_side" not in waiting if results.rows else None,
        sister_drum_clear="sister_clear" not in waiting if results.rows else None,
        reeled_as_marked=parsed.ticked("reeled_as_marked") or None,
        brake_wet=None if not parsed.values.get("brake_state") else parsed.values["brake_state"] == BrakeState.WET,
        run_in=parsed.ticked("run_in") or None,
        share_aimed=figures.share,
        policy_share=figures.share,
        worn_line_share=float(figures.policy.worn_line_share),
        policy_slips=figures.policy.verification_slips,
        band_low=low,
        band_high=high,
        target_basis=cast(Any, figures.target.basis),
        target_pressure_pa=figures.aim.reading_si,
        stop_pressure_pa=figures.stop.reading_si,
        outcome=cast(Any, OUTCOME_WORDS.get(outcome, outcome)) if outcome else None,
        as_left_share=results.as_left_share,
        trust=_trust_facts(trust) if trust else None,
        mark_left_si=left.si if (left := parsed.typed("final_mark")) else None,
    )


def _trust_facts(trust: LoadTrust) -> plausible.TrustFacts:
    judged = trust.conformity
    return plausible.TrustFacts(
        estimate_share=trust.share,
        expanded_share=trust.expanded_share,
        probability=judged.probability,
        rule=cast(Any, judged.rule),
        verdict=cast(Any, judged.verdict),
        advice=said(trust.advice.sentence) if trust.advice else "",
    )


def _off_square_deg(parsed: ParsedDraft) -> float | None:
    angle = parsed.typed("lever_angle")
    return float(units.from_si(angle.si, "deg")) if angle else None


def _is(parsed: ParsedDraft, name: str, good: set[Any]) -> bool | None:
    value = parsed.values.get(name)
    return value in good if value else None


def previous_facts(submission: Submission) -> plausible.PreviousTest:
    """An earlier test out of its own bytes, so that later changes of the register do not rewrite it."""
    content = read_content(submission)
    particulars = submission.particulars
    jacks = content["kit"]["jacks"]
    areas = [jack["area_m2"] for jack in jacks]
    return plausible.PreviousTest(
        tested_on=submission.tested_on,
        readings=tuple(
            plausible.ReadingFacts(
                phase=row["phase"],
                reading_pa=row["gauge_si"],
                mark_si=row["mark_si"],
                typed=row["gauge_text"],
                result="slipped" if row["slipped"] else "held",
                released_and_reapplied=row["reapplied"],
            )
            for row in content["readings"]
        ),
        mark_si=submission.setting_si,
        gauge_id=submission.gauge.serial_number,
        gauge_unit=content["kit"]["gauge"]["unit"],
        lining_m=tuple(content["lining_m"]),
        drum_diameter_m=particulars.si("drum_diameter"),
        line_diameter_m=particulars.si("line_diameter"),
        lever_arm_m=jacks[0]["lever_arm_m"] if jacks else None,
        area_m2=sum(areas) if areas and None not in areas else None,
        jack_ids=tuple(jack["serial_number"] for jack in jacks),
        base_load_n=submission.base_load_n,
        as_left_share=submission.as_left_share,
        set_in_band=submission.outcome == Outcome.SET_IN_BAND,
    )


def _sisters(test: DrumTest, parsed: ParsedDraft, vicinity: Vicinity) -> list[plausible.SisterTest]:
    """Where the vessel's other drums were left in this campaign, and the time before."""
    tested_on: date = parsed.values["tested_on"] or test.round.started_on
    by_drum: dict[Any, list[Submission]] = {}
    for row in vicinity.sisters_of(test):
        by_drum.setdefault(row.test.drum_id, []).append(row)
    sisters = []
    for drum_id, history in by_drum.items():
        newest, before = history[-1], history[-2] if len(history) > 1 else None
        if abs(newest.tested_on - tested_on) <= SAME_CAMPAIGN:
            sisters.append(
                plausible.SisterTest(
                    drum_id=str(drum_id),
                    setting_kind=cast(Any, str(newest.test.drum.setting_kind)),
                    mark_si=newest.setting_si,
                    previous_mark_si=before.setting_si if before else None,
                )
            )
    return sisters


def _sister_drums(drum: Drum, figures: Figures, vicinity: Vicinity) -> list[plausible.DrumFacts]:
    """The vessel's other drums as registered; they normally share one base load and much of their shape."""
    base = figures.vessel.base_load.si
    return [
        _facts_of(row.drum, row, base, figures.vessel.base_load_kind)
        for row in vicinity.particulars
        if row.drum_id != drum.pk
    ]
