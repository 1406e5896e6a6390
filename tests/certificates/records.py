"""A test as a ship sends it, made from rows: for the tests of what the shore does with it."""

from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from typing import Any

from fleet.accounts.models import Role, User
from fleet.certificates.models import Certificate
from fleet.core.typed import Typed
from fleet.drums.models import Drum
from fleet.records.draft import CHECKS
from fleet.records.models import Decision, DrumTest, Finding, Phase, Reading, Round, State, Submission
from fleet.records.submissions import drum_test_submit, instruments_confirm, master_release
from fleet.review.services import submission_approve
from fleet.vessels.models import Vessel
from tests.cast import person_with_role
from tests.factories import DrumParticularsFactory, RoundFactory

TESTED = date(2026, 11, 20)
SENT = datetime(2026, 11, 20, 16, 30, tzinfo=UTC)
DRAFT = {
    **{check.name: "on" for check in CHECKS},
    "tested_at": "10:40",
    "brake_state": "dry",
    "lining_1": "9.8",
    "lining_2": "9.6",
    "lining_3": "9.7",
    "lining_unit": "mm",
    "lining_condition": "sound",
    "drum_surface": "smooth",
    "band_rest": "clear",
    "setting_unit": "mm",
    "old_mark": "53.5",
    "final_mark": "49",
    "mark_fixed": "locking plate welded to the stop",
    "outcome": "set_in_band",
}
# As found 51.3 %, tightened, then two verification slips: on the constructed case C4 with its 0–250 bar gauge.
READINGS = (
    (Phase.AS_FOUND_UNTOUCHED, "53.5", "148", True, False),
    (Phase.ADJUSTING, "50.5", "164", True, True),
    (Phase.VERIFICATION, "49", "172", True, True),
    (Phase.VERIFICATION, "49", "173", True, True),
)
FAILED_READINGS = ((Phase.ADJUSTING, "40", "120", True, True),)


@dataclass
class Ship:
    """The people of one ship who answer for its records."""

    vessel: Vessel
    officer: User
    engineer: User
    master: User
    rounds: dict[int, Round] = field(default_factory=dict)


def ship_of(vessel: Vessel) -> Ship:
    officer, engineer, master = (
        person_with_role(vessel.company, role, vessel) for role in (Role.OFFICER, Role.ENGINEER, Role.MASTER)
    )
    return Ship(vessel, officer, engineer, master)


def drum_on(vessel: Vessel, **fields: Any) -> Drum:
    drum: Drum = DrumParticularsFactory(drum__winch__vessel=vessel, **fields).drum
    return drum


def submitted(
    ship: Ship,
    drum: Drum | None = None,
    *,
    tested_on: date = TESTED,
    findings: tuple[tuple[str, str, str], ...] = (),
    **more: Any,
) -> Submission:
    """A drum's test, filled in, confirmed, released and sent; `findings` are (code, level, sentence)."""
    test = drafted(ship, drum, tested_on=tested_on, **more)
    return send(test, ship, at=SENT + (tested_on - TESTED), findings=findings)


def drafted(
    ship: Ship,
    drum: Drum | None = None,
    *,
    tested_on: date = TESTED,
    readings: Any = READINGS,
    round: Round | None = None,
    **draft: str,
) -> DrumTest:
    """A drum's test, filled in and not yet confirmed."""
    drum = drum or drum_on(ship.vessel)
    if round is None:
        round = ship.rounds.get(tested_on.year)
    if round is None:
        round = ship.rounds[tested_on.year] = RoundFactory(vessel=ship.vessel, started_on=tested_on)
    test = DrumTest.objects.create(
        round=round,
        drum=drum,
        created_by=ship.officer,
        draft={**DRAFT, "tested_on": tested_on.isoformat(), **draft},
    )
    for order, (phase, mark, gauge, slipped, reapplied) in enumerate(readings, start=1):
        Reading.objects.create(
            test=test,
            order=order,
            phase=phase,
            mark_text=mark,
            mark_unit="mm",
            mark_si=Typed.read(mark, "mm").si,
            gauge_text=gauge,
            gauge_unit="bar",
            gauge_si=Typed.read(gauge, "bar").si,
            slipped=slipped,
            reapplied=reapplied,
            author=ship.officer,
        )
    return test


def failed(ship: Ship, drum: Drum | None = None, *, outcome: str = "could_not_be_set", **more: Any) -> Submission:
    return submitted(
        ship,
        drum,
        readings=FAILED_READINGS,
        outcome=outcome,
        defect_reference="DR-26-031",
        who_was_told="technical superintendent, by mail",
        **more,
    )


def send(
    test: DrumTest,
    ship: Ship,
    *,
    at: datetime,
    findings: tuple[tuple[str, str, str], ...] = (),
) -> Submission:
    """Confirm, release and submit through the services; `findings` are added to what the catalogue notices."""
    if test.state == State.RETURNED:
        test.draft.setdefault("answer_to_shore", "Done as asked.")
        test.save(update_fields=["draft"])
    release(test, ship, at=at)
    submission = drum_test_submit(
        test=test, declared_name=ship.officer.name, declared_rank="chief officer", actor=ship.officer, at=at
    )
    for order, (code, level, sentence) in enumerate(findings, start=50):
        Finding.objects.create(submission=submission, order=order, code=code, level=level, template=sentence)
    submission.test.refresh_from_db()
    return submission


def release(test: DrumTest, ship: Ship, *, at: datetime) -> None:
    """Confirmed by the engineer and released by the master: all but sent."""
    instruments_confirm(test=test, name=ship.engineer.name, rank="chief engineer", actor=ship.engineer, at=at)
    master_release(test=test, name=ship.master.name, rank="master", actor=ship.master, at=at)


def answers_to(submission: Submission) -> dict[str, str]:
    """An answer for each finding that asks for one."""
    return {row.code: "Photo seen; it is right." for row in submission.findings.all() if row.level != "note"}


def approved(submission: Submission, person: User, *, at: datetime | None = None, sentence: str = "") -> Decision:
    """The submission approved with every finding answered, a day after it was sent."""
    return submission_approve(
        submission=submission,
        sentence=sentence,
        finding_answers=answers_to(submission),
        actor=person,
        at=at or submission.submitted_at + timedelta(days=1),
    )


def certified(ship: Ship, person: User, drum: Drum | None = None, **more: Any) -> Certificate:
    """A test sent and approved, and the certificate issued on it."""
    submission = submitted(ship, drum, **more)
    approved(submission, person)
    return Certificate.objects.get(submission=submission)
