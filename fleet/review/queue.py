"""What needs a superintendent today, worst first, each with its reason in one sentence."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from uuid import UUID

from django.db.models import Exists, OuterRef, QuerySet
from django.urls import reverse
from django.utils.formats import date_format
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

from fleet.calculation import units
from fleet.calculation.consequence import Consequence, expected_consequence
from fleet.calculation.stop import BRAKE_DESIGN_SHARE
from fleet.drums.models import Drum
from fleet.records.due import FAILED_RESULTS, DrumState, drum_states, held_at_the_top, result_state_of
from fleet.records.models import Finding, Outcome, State, Submission
from fleet.review.models import DrumFlag
from fleet.vessels.models import Vessel, policies_for

REASONS: dict[str, str | Promise] = {
    "review": lazy("sent in, to be reviewed"),
    "failed": lazy("brake failed, restricted or out of use"),
    "retest": lazy("retest ordered"),
    "overdue": lazy("overdue or never tested"),
    "flag": lazy("flagged by shore"),
    "due": lazy("coming due"),
}
# One scale for unlike things, so that the worst comes first; points of share outside the band are added to it.
STOP_FINDING, FAILED_SENT, FAILED_STANDING, RETEST_LATE = 100.0, 80.0, 60.0, 45.0
OUTSIDE_BAND, ASK_FINDING, RETEST_OPEN, FLAGGED = 30.0, 24.0, 23.0, 22.5
OVERDUE, CLEAN, NEVER_TESTED = 12.0, 10.0, 5.0
MOST_FOR_DEVIATION = 29.0
OUTCOME_WEIGHT = {Outcome.OUT_OF_USE: 12.0, Outcome.RESTRICTED: 8.0, Outcome.COULD_NOT_BE_SET: 6.0}


@dataclass(frozen=True)
class Item:
    """One row of the queue."""

    reason: str
    urgency: float
    state: str
    word: str
    drum: Drum
    sentence: str
    more: str
    shown: Submission | None
    url: str
    action: str
    days_over: int = 0
    expected: str = ""
    """What is expected outside the band, both ways, as the operator weighs it."""
    event: str = ""
    """What happened to the brake since its last good test, where that is why it is overdue."""

    @property
    def vessel(self) -> Vessel:
        return self.drum.winch.vessel

    @property
    def has_shares(self) -> bool:
        """Whether there is anything to draw on a strip."""
        shown = self.shown
        return shown is not None and (shown.as_found_share is not None or shown.as_left_share is not None)


@dataclass(frozen=True)
class Queue:
    """What needs somebody, and every fitted drum with its state."""

    items: list[Item]
    fitted: dict[UUID, Drum]
    states: dict[UUID, DrumState]

    @property
    def drums(self) -> int:
        return len(self.fitted)


def queue_for(vessels: QuerySet[Vessel], *, on: date) -> Queue:
    """The whole queue of these vessels, in a fixed number of queries."""
    fitted = Drum.objects.filter(winch__vessel__in=vessels).fitted().select_related("winch__vessel")
    drums = {drum.pk: drum for drum in fitted}
    states = drum_states(drums.values(), on)
    policies = policies_for(dict(vessels.values_list("pk", "company_id")), on)
    weights = {vessel: float(policy.tight_weight) for vessel, policy in policies.items()}
    items = [
        _submission_item(row, drums[row.test.drum_id], weights[drums[row.test.drum_id].winch.vessel_id])
        for row in waiting(vessels)
        if row.test.drum_id in drums
    ]
    for state in states.values():
        items.extend(_drum_items(state, drums[state.drum_id], on))
    flags = DrumFlag.objects.standing().filter(drum__in=drums).select_related("raised_by")
    items.extend(_flag_item(flag, drums[flag.drum_id], states[flag.drum_id]) for flag in flags)
    items.sort(key=lambda item: (-item.urgency, item.vessel.name, item.drum.area_order, item.drum.order))
    return Queue(items, drums, states)


def _flag_item(flag: DrumFlag, drum: Drum, state: DrumState) -> Item:
    by = _("Flagged by {name}, {day}.").format(name=flag.raised_by.name, day=date_format(flag.raised_at, "j M Y"))
    url = reverse("review:flag_clear", args=[flag.pk])
    return Item("flag", FLAGGED, state.due_state, state.word, drum, flag.word, by, state.last, url, _("Clear the flag"))


def waiting(vessels: QuerySet[Vessel]) -> Iterable[Submission]:
    """The newest versions that wait for a decision, with their findings."""
    newer = Submission.objects.filter(test=OuterRef("test"), version__gt=OuterRef("version"))
    return (
        Submission.objects.filter(test__round__vessel__in=vessels, test__state=State.SUBMITTED)
        .filter(~Exists(newer))
        .select_related("test")
        .prefetch_related("findings")
        .defer("content")
        .order_by("submitted_at")
    )


def consequence_of(submission: Submission, tight_weight: float) -> Consequence:
    """What is expected outside the band, as found or as left whichever counts more by the operator's weighting."""
    deviation = (submission.expanded_share or 0.0) / 2
    shares = [
        (submission.as_found_share, 0.0 if submission.as_found_held else deviation),
        (submission.estimate_share or submission.as_left_share, deviation),
    ]
    if held_at_the_top(submission):
        # Nobody knows by how much it held too much: counted as if up to the brake's design holding load.
        shares.append((BRAKE_DESIGN_SHARE, 0.0))
    found = [
        expected_consequence(
            share=share,
            standard_uncertainty=uncertain,
            lower=submission.band_low,
            upper=submission.band_high,
            tight_weight=tight_weight,
        )
        for share, uncertain in shares
        if share is not None
    ]
    nothing = Consequence(too_tight=0.0, too_loose=0.0, weighted=0.0)
    return max(found, key=lambda one: one.weighted, default=nothing)


def is_outside(submission: Submission) -> bool:
    """Found or left outside the band, as read."""
    shares = [share for share in (submission.as_found_share, submission.as_left_share) if share is not None]
    outside = any(not submission.band_low <= share <= submission.band_high for share in shares)
    return outside or held_at_the_top(submission)


def _submission_item(row: Submission, drum: Drum, tight_weight: float) -> Item:
    expected = consequence_of(row, tight_weight)
    to_answer = [finding for finding in row.findings.all() if finding.level in {"ask", "stop"}]
    urgency = CLEAN
    if to_answer:
        urgency = ASK_FINDING + min(len(to_answer), 5)
    if is_outside(row):
        urgency = OUTSIDE_BAND + min(100 * float(expected.weighted), MOST_FOR_DEVIATION)
    if row.outcome != Outcome.SET_IN_BAND:
        urgency = FAILED_SENT + OUTCOME_WEIGHT.get(Outcome(row.outcome), 0.0)
    if any(finding.level == "stop" for finding in to_answer):
        urgency = STOP_FINDING
    return Item(
        reason="review",
        urgency=urgency,
        state=result_state_of(row) or "review_pending",
        word="",
        drum=drum,
        sentence=why(row),
        more=" ".join(filter(None, [look_at_too(row), _findings_words(to_answer)])),
        expected=expected_words(expected, tight_weight) if is_outside(row) else "",
        shown=row,
        url=reverse("review:review", args=[row.pk]),
        action=_("Review"),
    )


def why(row: Submission) -> str:
    """What a submission says of its brake, in one sentence."""
    if row.outcome != Outcome.SET_IN_BAND:
        return _("The ship records: {outcome}.").format(outcome=row.get_outcome_display())
    found, left = row.as_found_share, row.as_left_share
    band = f"{_points(row.band_low)}–{_points(row.band_high)} %"
    left_words = units.display(left, "percent") if left is not None else "–"
    if result_state_of(row) == "not_proven" and row.expanded_share is not None:
        return _("As left {left}, in band as read, but uncertain by ± {points} points: not proven by the rule.").format(
            left=left_words, points=units.digits(row.expanded_share, "percent")
        )
    if found is None:
        return _("As left {left}; no as-found reading was taken.").format(left=left_words)
    found_words = units.display(found, "percent")
    if held_at_the_top(row):
        return _(
            "As found it held at {found}, where it was stopped, and did not slip: until this test the brake held "
            "too much."
        ).format(found=found_words)
    if found > row.band_high:
        return _("As found {found}, above the band {band}: until this test the brake held too much.").format(
            found=found_words, band=band
        )
    if found < row.band_low:
        return _("As found {found}, below the band {band}: until this test the brake would have slipped early.").format(
            found=found_words, band=band
        )
    return _("As found {found}, as left {left}: in band before and after.").format(found=found_words, left=left_words)


def look_at_too(row: Submission) -> str:
    """What else the ship should look at, because of what the brake would have done until this test."""
    found = row.as_found_share
    if found is None:
        return ""
    if found > row.band_high or held_at_the_top(row):
        shown = units.display(found, "percent")
        to = _("more than {share}").format(share=shown) if row.as_found_held else shown
        return _(
            "Look at the line too: it could be loaded to {share} of the base load before the brake gave way."
        ).format(share=to)
    if found < row.band_low and not row.as_found_held:
        return _("Ask the ship whether the brake slipped at a berth since the last test.")
    return ""


def expected_words(expected: Consequence, tight_weight: float) -> str:
    tight, loose = (units.digits(float(part), "percent") for part in (expected.too_tight, expected.too_loose))
    return _("Expected outside the band: {tight} points too tight (counted {weight} times), {loose} too loose.").format(
        tight=tight, loose=loose, weight=f"{tight_weight:g}"
    )


def _points(share: float) -> str:
    return units.digits(share, "percent").removesuffix(".0")


def _findings_words(to_answer: list[Finding]) -> str:
    if not to_answer:
        return ""
    first = min(to_answer, key=lambda row: (row.level != "stop", row.order)).sentence
    if len(to_answer) == 1:
        return _("To be answered: {sentence}").format(sentence=first)
    return _("{number} findings to be answered, first: {sentence}").format(number=len(to_answer), sentence=first)


def _drum_items(state: DrumState, drum: Drum, on: date) -> Iterable[Item]:
    history = reverse("records:history", args=[drum.pk])

    def item(reason: str, urgency: float, code: str, word: str, sentence: str) -> Item:
        return Item(reason, urgency, code, word, drum, sentence, "", state.last, history, _("History"))

    last = state.last
    if last and last.outcome != Outcome.SET_IN_BAND and not state.review_pending:
        since = date_format(last.tested_on, "j M Y")
        sentence = _("{outcome} since {day}; no good test has followed.").format(
            outcome=str(last.get_outcome_display()).capitalize(), day=since
        )
        urgency = FAILED_STANDING + OUTCOME_WEIGHT.get(Outcome(last.outcome), 0.0)
        yield item("failed", urgency, FAILED_RESULTS[last.outcome], "", sentence)
        return
    if state.due_state == "retest_ordered" and state.order:
        late = on > state.order.due_on
        sentence = _("A retest was ordered for {day}: {reason}").format(
            day=date_format(state.order.due_on, "j M Y"), reason=state.order.reason
        )
        word = _("retest late") if late else ""
        yield item("retest", RETEST_LATE if late else RETEST_OPEN, "retest_ordered", word, sentence)
    elif state.due_state == "overdue":
        days = (on - state.due_on).days if state.due_on else 0
        sentence = _("A test is overdue: {reason}.").format(reason=state.reason)
        row = item("overdue", OVERDUE + min(days / 30, 10.0), "overdue", state.word, sentence)
        yield replace(row, days_over=days, event=_event_words(state))
    elif state.due_state == "never_tested":
        yield item("overdue", NEVER_TESTED, "never_tested", "", _("No test of this brake is on record."))


def _event_words(state: DrumState) -> str:
    if state.event is None:
        return ""
    return f"{state.event.get_kind_display()}, {date_format(state.event.happened_on, 'j M Y')}"
