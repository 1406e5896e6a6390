"""A round as one reads it: what its drums share, and how far each drum has come."""

from collections import Counter
from dataclasses import dataclass
from datetime import date
from functools import cached_property

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from fleet.drums.models import Drum
from fleet.records.deck import Step, steps_for
from fleet.records.due import DrumState, drum_states
from fleet.records.models import DrumTest, Round, State

# The state of a test as the picture that goes with it.
SHAPES = {
    State.DRAFT: "draft_open",
    State.RETURNED: "returned",
    State.SUBMITTED: "accepted_aboard",
    State.APPROVED: "approved",
    State.SUPERSEDED: "superseded",
    State.WITHDRAWN: "withdrawn",
}


@dataclass(frozen=True)
class RoundRow:
    drum: Drum
    state: DrumState
    test: DrumTest | None
    steps: tuple[Step, ...]

    @property
    def shape(self) -> str:
        return SHAPES[State(self.test.state)] if self.test else ""

    @property
    def result(self) -> str:
        """What came out of the test of this round, so that an approved record of failure is not read as a good one."""
        last = self.state.last
        return self.state.result_state if self.test and last and last.test_id == self.test.pk else ""


@dataclass(frozen=True)
class RoundPage:
    round: Round
    rows: tuple[RoundRow, ...]
    may_test: bool

    @cached_property
    def counts(self) -> Counter[str]:
        return Counter(row.test.state for row in self.rows if row.test)

    @property
    def in_hand(self) -> int:
        return self.counts[State.DRAFT] + self.counts[State.RETURNED]

    @property
    def sentence(self) -> str:
        """How far the round has come and what is left."""
        total, begun = len(self.rows), sum(self.counts.values())
        sent = begun - self.in_hand
        said = _("{sent} of {total} drums are sent").format(sent=sent, total=total)
        if self.round.closed_on:
            return _("This round is closed: {said}.").format(said=said)
        left = []
        if self.in_hand:
            left.append(ngettext("{n} test in hand", "{n} tests in hand", self.in_hand).format(n=self.in_hand))
        if total > begun:
            left.append(_("{n} not begun").format(n=total - begun))
        return f"{said}, {', '.join(left)}." if left else _("{said}: close the round.").format(said=said)


def round_page_of(row: Round, *, on: date, may_test: bool) -> RoundPage:
    """Every drum aboard, and those tested in this round that have left since, in a fixed number of queries."""
    tests = {test.drum_id: test for test in row.tests.order_by("created_at")}
    fitted = list(Drum.objects.filter(winch__vessel=row.vessel_id).fitted().select_related("winch"))
    gone = list(Drum.objects.filter(pk__in=tests.keys() - {drum.pk for drum in fitted}).select_related("winch"))
    states = drum_states([*fitted, *gone], on)
    rounds = () if row.closed_on else (row,)
    return RoundPage(
        row,
        tuple(
            RoundRow(
                drum,
                states[drum.pk],
                tests.get(drum.pk),
                tuple(steps_for(drum, states[drum.pk], rounds, may_test=may_test)),
            )
            for drum in [*fitted, *gone]
        ),
        may_test,
    )
