"""Where each drum stands: derived from tests, events and orders every time it is asked, stored nowhere.

Which of the eight states a drum shows, first that fits:

1. returned         shore sent a test back; the ship has to act on the sentence.
2. draft open       a test is being written.
3. retest ordered   shore asks for a test and since then none was sent that was done on or after the order's day.
4. never tested     no test was ever sent.
5. review pending   the newest test waits for shore, and nothing since asks for another.
6. overdue          the day to test by has passed, or something ended what the last good test showed: the last test did
                    not end set in band, or since it there was work on the brake, another line (reported, or named by
                    the particulars), a slip, a wrong mark.
7. due              the day to test by is near (the policy says how near).
8. in date          otherwise.

Where the policy says so, the first test of a new lining is followed by another before the interval ends: it beds in.
Only a test that ended set in band starts the interval. A withdrawn test never counts, a returned one only by a version
that shore approved before. What happened on the day of a test counts as having happened before it.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any
from uuid import UUID

from django.db.models import Exists, OuterRef, Q
from django.utils.formats import date_format
from django.utils.functional import cached_property
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from fleet.calculation.gauge import add_months
from fleet.calculation.lines import is_another_line
from fleet.core.typed import Typed
from fleet.drums.models import BrakeEvent, Drum, DrumParticulars, EventKind, RetestOrder
from fleet.records.models import Decision, DecisionKind, DrumTest, Outcome, State, Submission
from fleet.vessels.models import DecisionRule, Policy, policies_for

FAILED_RESULTS: dict[str, str] = {
    Outcome.COULD_NOT_BE_SET: "could_not_be_set",
    Outcome.STOPPED: "stopped",
    Outcome.OUT_OF_USE: "out_of_use",
    Outcome.RESTRICTED: "restricted",
}


@dataclass(frozen=True)
class AnotherLine:
    """A line of another diameter than that of the proven test, by the particulars since a day."""

    since: date
    old: str
    new: str

    @property
    def reason(self) -> str:
        return _("another line, {new} instead of {old}, {day}").format(
            new=self.new, old=self.old, day=date_format(self.since, "j M Y")
        )


@dataclass(frozen=True)
class DrumState:
    """One drum on one day: its due state and why, its last result, and the rows these come from."""

    drum_id: UUID
    on: date
    due_state: str
    due_on: date | None
    reason: str
    last: Submission | None
    """The newest test that counts, whatever its outcome."""
    proven: Submission | None
    """The newest that ended set in band."""
    in_hand: DrumTest | None
    order: RetestOrder | None
    """The order from shore still open, the earliest to be done."""
    event: BrakeEvent | None
    """What since the proven test asks for another."""
    another_line: AnotherLine | None = None
    """The particulars name another line than that of the proven test."""

    @property
    def result_state(self) -> str:
        """The last result as a code of pictures.states; empty where there is none."""
        return result_state_of(self.last) if self.last else ""

    @property
    def out_of_use(self) -> bool:
        return bool(self.last and self.last.outcome == Outcome.OUT_OF_USE)

    @property
    def restricted(self) -> bool:
        return bool(self.last and self.last.outcome == Outcome.RESTRICTED)

    @property
    def review_pending(self) -> bool:
        """The newest test waits for shore, whatever else the drum shows."""
        return bool(self.last and self.last.test.state == State.SUBMITTED)

    @property
    def wants_test(self) -> bool:
        """The ship has a test to do or to finish here."""
        return self.due_state not in {"in_date", "review_pending"}

    @cached_property
    def word(self) -> str:
        """The state's word with its days, where they say more; empty for the plain word."""
        if self.due_on is None:
            return ""
        days = (self.due_on - self.on).days
        if self.due_state == "overdue" and days < 0:
            return ngettext("overdue by {days} day", "overdue by {days} days", -days).format(days=-days)
        if self.due_state == "due":
            return _("due by {day}").format(day=date_format(self.due_on, "j M Y"))
        if self.due_state == "in_date":
            return _("in date until {day}").format(day=date_format(self.due_on, "j M Y"))
        if self.due_state == "retest_ordered" and self.order:
            # The order's own day: the slip or work it answers lies earlier, and nobody can test by then.
            return _("retest ordered, by {day}").format(day=date_format(self.order.due_on, "j M Y"))
        return ""


def result_state_of(submission: Submission) -> str:
    """What a submission's result is called, as a code of pictures.states; empty where nothing was measured."""
    failed = FAILED_RESULTS.get(submission.outcome)
    if failed:
        return failed
    left, found = submission.as_left_share, submission.as_found_share
    if left is None:
        return ""
    if left > submission.band_high:
        return "too_tight"
    if left < submission.band_low:
        return "too_loose"
    if submission.decision_rule == DecisionRule.GUARDED and submission.verdict == "not_proven":
        return "not_proven"
    if found is not None and (found > submission.band_high or held_at_the_top(submission)):
        return "was_too_tight"
    if found is not None and found < submission.band_low and not submission.as_found_held:
        return "slipped_early"
    return "in_band"


def held_at_the_top(submission: Submission) -> bool:
    """True when the brake was found to hold up to the top of the band without slipping: STOP came first.

    STOP is read at a division mark, so it may lie a little under the band's exact top.
    """
    found = submission.as_found_share
    return submission.as_found_held and found is not None and found >= submission.band_high - 0.01


def drum_states(drums: Iterable[Drum], on: date) -> dict[UUID, DrumState]:
    """The state of each drum on a day, in seven queries however many drums there are."""
    ids = [drum.pk for drum in drums]
    owners = {
        drum_id: (vessel_id, company_id)
        for drum_id, vessel_id, company_id in Drum.objects.filter(pk__in=ids).values_list(
            "pk", "winch__vessel_id", "winch__vessel__company_id"
        )
    }
    policies = policies_for(dict(owners.values()), on)
    sent = _by_drum(_counting_submissions(ids, on), lambda row: row.test.drum_id)
    in_hand = {test.drum_id: test for test in DrumTest.objects.in_hand().filter(drum__in=ids)}
    events = _by_drum(
        BrakeEvent.objects.asking_retest().filter(drum__in=ids, happened_on__lte=on).order_by("happened_on"),
        lambda row: row.drum_id,
    )
    orders = _by_drum(
        RetestOrder.objects.filter(drum__in=ids, taken_back_at__isnull=True).order_by("due_on"),
        lambda row: row.drum_id,
    )
    particulars = _by_drum(_line_diameters(ids, on), lambda row: row.drum_id)
    return {
        drum_id: _state(
            drum_id,
            on,
            policies[owners[drum_id][0]],
            sent.get(drum_id, []),
            in_hand.get(drum_id),
            events.get(drum_id, []),
            orders.get(drum_id, []),
            particulars.get(drum_id, []),
        )
        for drum_id in ids
    }


def _by_drum(rows: Iterable[Any], drum_of: Any) -> dict[UUID, list[Any]]:
    found: dict[UUID, list[Any]] = {}
    for row in rows:
        found.setdefault(drum_of(row), []).append(row)
    return found


@dataclass(frozen=True)
class _LineDiameter:
    """One row of a drum's particulars, as far as it tells of the line."""

    pk: UUID
    drum_id: UUID
    valid_from: date
    line: Typed


def _line_diameters(ids: list[UUID], on: date) -> list[_LineDiameter]:
    """In the order in which they come into force, the one of the day last."""
    rows = DrumParticulars.objects.filter(drum__in=ids, valid_from__lte=on).order_by("valid_from", "created_at")
    found = rows.values_list("pk", "drum_id", "valid_from", "figures__line_diameter")
    return [_LineDiameter(pk, drum, day, Typed.from_dict(line)) for pk, drum, day, line in found if line]


def _another_line(proven: Submission | None, rows: list[_LineDiameter]) -> AnotherLine | None:
    used = next((row for row in rows if proven and row.pk == proven.particulars_id), None)
    if used is None:
        return None
    since: _LineDiameter | None = None
    for row in reversed(rows):
        if row.pk == used.pk or not is_another_line(old_diameter_m=used.line.si, new_diameter_m=row.line.si):
            break
        since = row
    return AnotherLine(since.valid_from, str(used.line), str(rows[-1].line)) if since else None


def _counting_submissions(ids: list[UUID], on: date) -> list[Submission]:
    """One version of each test that counts, newest test first."""
    approved = Decision.objects.filter(submission=OuterRef("pk"), kind=DecisionKind.APPROVED)
    rows = (
        Submission.objects.filter(test__drum__in=ids, tested_on__lte=on)
        .exclude(test__state=State.WITHDRAWN)
        .annotate(was_approved=Exists(approved))
        .filter(Q(was_approved=True) | ~Q(test__state__in=[State.RETURNED, State.DRAFT]))
        .select_related("test")
        .defer("content")
        .order_by("version")
    )
    newest = {row.test_id: row for row in rows}
    return sorted(newest.values(), key=lambda row: (row.tested_on, row.submitted_at), reverse=True)


def _state(
    drum_id: UUID,
    on: date,
    policy: Policy,
    sent: list[Submission],
    in_hand: DrumTest | None,
    events: list[BrakeEvent],
    orders: list[RetestOrder],
    particulars: list[_LineDiameter],
) -> DrumState:
    last = sent[0] if sent else None
    proven = next((row for row in sent if row.outcome == Outcome.SET_IN_BAND), None)
    # Before the first proven test an event adds nothing: the drum is to be tested anyway.
    event = next((row for row in events if proven and row.happened_on > proven.tested_on), None)
    order = next((row for row in orders if not _answers(last, row)), None)
    line = _another_line(proven, particulars)
    bedding = _bedding_in(policy, proven, events)
    due_on, reason = _due(policy, last, proven, event, order, line, bedding)
    code = _code(on, policy, last, in_hand, event, order, line, due_on)
    if code == "returned" and in_hand:
        reason = in_hand.state_reason
    return DrumState(drum_id, on, code, due_on, reason, last, proven, in_hand, order, event, line)


def _answers(last: Submission | None, order: RetestOrder) -> bool:
    """A test done on or after the day of the order, and sent after it was given."""
    return last is not None and last.tested_on >= order.ordered_at.date() and last.submitted_at >= order.ordered_at


def _due(
    policy: Policy,
    last: Submission | None,
    proven: Submission | None,
    event: BrakeEvent | None,
    order: RetestOrder | None,
    line: AnotherLine | None,
    bedding: BrakeEvent | None,
) -> tuple[date | None, str]:
    """The day to test by and why: the earliest of everything that asks."""
    asks: list[tuple[date, str]] = []
    if order:
        asks.append((order.due_on, order.reason))
    if event:
        asks.append((event.happened_on, f"{event.get_kind_display()}, {date_format(event.happened_on, 'j M Y')}"))
    if line:
        asks.append((line.since, line.reason))
    if last and last.outcome != Outcome.SET_IN_BAND:
        said = f"{last.get_outcome_display()}, {date_format(last.tested_on, 'j M Y')}"
        asks.append((last.tested_on, said))
    if proven:
        last_day = add_months(proven.tested_on, policy.interval_months)
        asks.append((last_day, _("last tested {day}").format(day=date_format(proven.tested_on, "j M Y"))))
    if proven and bedding:
        early = add_months(proven.tested_on, policy.lining_retest_months)
        asks.append((early, _("new lining, {day}, beds in").format(day=date_format(bedding.happened_on, "j M Y"))))
    return min(asks, key=lambda ask: ask[0], default=(None, ""))


def _bedding_in(policy: Policy, proven: Submission | None, events: list[BrakeEvent]) -> BrakeEvent | None:
    """The new lining on which the proven test was made before it had bedded in; None where there is none."""
    if proven is None:
        return None
    linings = (row for row in events if row.kind == EventKind.LINING_RENEWED)
    before = [row for row in linings if row.happened_on <= proven.tested_on]
    newest = before[-1] if before else None
    fresh = newest and beds_in(policy, lining_on=newest.happened_on, tested_on=proven.tested_on)
    return newest if fresh else None


def beds_in(policy: Policy, *, lining_on: date, tested_on: date) -> bool:
    """Whether a test was made so soon after new lining that the policy asks for an early one after it."""
    return tested_on < add_months(lining_on, policy.lining_retest_months) if policy.lining_retest_months else False


def _code(
    on: date,
    policy: Policy,
    last: Submission | None,
    in_hand: DrumTest | None,
    event: BrakeEvent | None,
    order: RetestOrder | None,
    line: AnotherLine | None,
    due_on: date | None,
) -> str:
    """The precedence written at the top of this file."""
    if in_hand:
        return "returned" if in_hand.state == State.RETURNED else "draft_open"
    if order:
        return "retest_ordered"
    if last is None or due_on is None:
        return "never_tested"
    asked_since = (event is not None and event.happened_on > last.tested_on) or (
        line is not None and line.since > last.tested_on
    )
    aged = on > add_months(last.tested_on, policy.interval_months)
    if last.test.state == State.SUBMITTED and not asked_since and not aged:
        return "review_pending"
    if on > due_on or event is not None or line is not None or last.outcome != Outcome.SET_IN_BAND:
        return "overdue"
    return "due" if on >= due_on - timedelta(days=policy.due_soon_days) else "in_date"
