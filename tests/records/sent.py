"""Submissions as plain rows, for tests of what is derived from them; their bytes are not looked at."""

from datetime import UTC, date, datetime, time
from typing import Any

from fleet.drums.models import Drum
from fleet.records.models import Decision, DrumTest, Round, State, Submission
from tests.factories import DrumParticularsFactory, DrumTestFactory, RoundFactory, UserFactory


def send(
    drum: Drum,
    on: date,
    *,
    state: str = State.APPROVED,
    outcome: str = "set_in_band",
    test: DrumTest | None = None,
    round: Round | None = None,
    decision: str = "",
    **columns: Any,
) -> Submission:
    """One version of a test of this drum, done on a day; as left 60 % unless told otherwise."""
    if test is None:
        closed_on = None if state in {State.DRAFT, State.RETURNED} else on
        round = round or RoundFactory(vessel=drum.winch.vessel, started_on=on, closed_on=closed_on)
        test = DrumTestFactory(round=round, drum=drum, state=state)
    particulars = columns.pop("particulars", None) or drum.particulars.first() or DrumParticularsFactory(drum=drum)
    sender = UserFactory()
    submission = Submission.objects.create(
        test=test,
        version=test.submissions.count() + 1,
        content=b"{}",
        sha256="0" * 64,
        submitted_at=datetime.combine(on, time(15), UTC),
        submitted_by=sender,
        declared_name="Ada Voss",
        declared_rank="chief officer",
        particulars=particulars,
        gauge=test.round.kit.gauge,
        tested_on=on,
        outcome=outcome,
        target_share=0.6,
        band_low=0.55,
        band_high=0.65,
        **{"base_load_n": 637_000.0, "as_left_share": 0.6 if outcome == "set_in_band" else None, **columns},
    )
    kind = decision or {State.APPROVED: "approved", State.RETURNED: "returned"}.get(test.state, "")
    if kind:
        Decision.objects.create(
            submission=submission, kind=kind, person=sender, name="Ines Hall", at=datetime.combine(on, time(18), UTC)
        )
    return submission
