"""The vessel's deck as one reads it: every drum with its state, what it wants next, and the first sentence."""

from collections import Counter
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from uuid import UUID

from django.urls import reverse
from django.utils.formats import date_format
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from fleet.core.pictures.ship_deck import DeckDrum
from fleet.drums.models import Area, Drum
from fleet.records.due import DrumState, drum_states
from fleet.records.models import Round
from fleet.vessels.models import Vessel

# The picture's own names of the areas, where they differ.
AREA_IN_PICTURE = {Area.AFT: "aft_deck"}
ASKS = ("overdue", "never_tested", "retest_ordered", "due")


@dataclass(frozen=True)
class Step:
    """Something to do next: the words and the page it leads to."""

    label: str | Promise
    page: str
    id: UUID


@dataclass(frozen=True)
class DeckRow:
    drum: Drum
    state: DrumState
    steps: tuple[Step, ...]


@dataclass(frozen=True)
class Deck:
    """What the deck page shows; `may_test` is the reader's right to open rounds and to test."""

    vessel: Vessel
    on: date
    rows: tuple[DeckRow, ...]
    rounds: tuple[Round, ...]
    may_test: bool

    @cached_property
    def counts(self) -> Counter[str]:
        return Counter(row.state.due_state for row in self.rows)

    @property
    def asking(self) -> list[DeckRow]:
        """The drums that are to be tested, the most pressing first."""
        found = [row for row in self.rows if row.state.due_state in ASKS]
        return sorted(found, key=lambda row: (ASKS.index(row.state.due_state), row.state.due_on or date.min))

    @property
    def is_warning(self) -> bool:
        return any(self.counts[code] for code in ("overdue", "never_tested", "retest_ordered", "returned"))

    @property
    def picture(self) -> list[DeckDrum]:
        return [
            DeckDrum(
                name=row.drum.name,
                area=AREA_IN_PICTURE.get(Area(row.drum.area), row.drum.area),
                side=row.drum.side,
                order=row.drum.order,
                due_state=row.state.due_state,
                result_state=row.state.result_state,
                url=reverse("records:prepare", args=[row.drum.pk]),
            )
            for row in self.rows
        ]

    @property
    def sentences(self) -> list[str]:
        """What is the matter, the most pressing first."""
        if not self.rows:
            return [_("No drum is registered on this vessel yet: register its winches and drums first.")]
        found = []
        if back := [row.drum.name for row in self.rows if row.state.due_state == "returned"]:
            found.append(
                _("Shore sent back: {drums}. Read the sentence, put it right and send it again.").format(
                    drums=", ".join(back)
                )
            )
        if self.asking:
            found.append(self._asking_sentence())
        if self.counts["draft_open"]:
            found.append(
                ngettext(
                    "{n} test is being written: finish it and submit it.",
                    "{n} tests are being written: finish them and submit them.",
                    self.counts["draft_open"],
                ).format(n=self.counts["draft_open"])
            )
        if self.counts["review_pending"]:
            found.append(
                ngettext(
                    "{n} result is accepted aboard and waits for shore's review.",
                    "{n} results are accepted aboard and wait for shore's review.",
                    self.counts["review_pending"],
                ).format(n=self.counts["review_pending"])
            )
        return found or [self._all_in_date()]

    def _all_in_date(self) -> str:
        days = [row.state.due_on for row in self.rows if row.state.due_on]
        return _("All {n} drums are in date; the first is to be tested again by {day}.").format(
            n=len(self.rows), day=_day(min(days))
        )

    def _asking_sentence(self) -> str:
        total, asking = len(self.rows), self.asking
        due = [row.state.due_on for row in asking if row.state.due_state == "due" and row.state.due_on]
        if len(due) == len(asking):
            return ngettext(
                "{n} of {total} drums is due by {day}.", "{n} of {total} drums are due by {day}.", len(asking)
            ).format(n=len(asking), total=total, day=_day(max(due)))
        parts = []
        if n := self.counts["overdue"]:
            parts.append(_("{n} overdue").format(n=n))
        if n := self.counts["never_tested"]:
            parts.append(_("{n} never tested").format(n=n))
        if n := self.counts["retest_ordered"]:
            parts.append(_("{n} ordered by shore").format(n=n))
        if due:
            parts.append(_("{n} due by {day}").format(n=len(due), day=_day(max(due))))
        return ngettext(
            "{n} of {total} drums is to be tested: {parts}.",
            "{n} of {total} drums are to be tested: {parts}.",
            len(asking),
        ).format(n=len(asking), total=total, parts=", ".join(parts))

    @property
    def next_step(self) -> Step | None:
        """The one thing to do now, where the reader may do it."""
        if not self.may_test or not self.rows:
            return None
        if back := next((row for row in self.rows if row.state.due_state == "returned"), None):
            return back.steps[0]
        if self.asking and not self.rounds:
            return Step(_("Open this year's round"), "records:round_new", self.vessel.pk)
        if draft := next((row for row in self.rows if row.state.due_state == "draft_open"), None):
            return Step(_("Go on with {drum}").format(drum=draft.drum.name), draft.steps[0].page, draft.steps[0].id)
        if self.asking:
            drum = self.asking[0].drum
            return Step(_("Prepare {drum}").format(drum=drum.name), "records:prepare", drum.pk)
        return None


def _day(day: date) -> str:
    return date_format(day, "j F Y")


def deck_of(*, vessel: Vessel, on: date, may_test: bool) -> Deck:
    """Gather the deck in a fixed number of queries."""
    drums = list(Drum.objects.filter(winch__vessel=vessel).fitted().select_related("winch"))
    states = drum_states(drums, on)
    rounds = tuple(
        Round.objects.open().filter(vessel=vessel).select_related("kit__gauge").order_by("started_on", "created_at")
    )
    rows = tuple(
        DeckRow(drum, states[drum.pk], tuple(steps_for(drum, states[drum.pk], rounds, may_test=may_test)))
        for drum in drums
    )
    return Deck(vessel, on, rows, rounds, may_test)


def steps_for(drum: Drum, state: DrumState, rounds: tuple[Round, ...], *, may_test: bool) -> list[Step]:
    """What this drum wants next, the first thing first; its history last."""
    found = []
    if state.in_hand:
        if may_test:
            words = _("Answer shore") if state.due_state == "returned" else _("Go on with the test")
            found.append(Step(words, "records:test", state.in_hand.pk))
        found.append(Step(_("Check and release"), "records:check", state.in_hand.pk))
    if state.last and state.due_state == "review_pending":
        found.append(Step(_("See the record"), "records:record", state.last.test_id))
    found.append(Step(_("Prepare"), "records:prepare", drum.pk))
    if may_test and rounds and state.wants_test and not state.in_hand:
        found.append(Step(_("Test"), "records:test_start", drum.pk))
    found.append(Step(_("History"), "records:history", drum.pk))
    return found
