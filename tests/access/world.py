"""One fleet with every kind of thing in every state, built once: what the whole matrix of addresses is asked about."""

import io
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from fleet.accounts.models import SHORE_ROLES, Membership, Role, User
from fleet.certificates.models import Certificate
from fleet.certificates.services import certificate_pdf_make
from fleet.core.pdf import PdfUnavailable
from fleet.drums.models import Drum, RetestOrder
from fleet.gauges.models import GaugeCalibration, Jack, Kit
from fleet.records.drafts import photo_add
from fleet.records.models import DrumTest, Finding, Photo, Reading, Round, Submission
from fleet.records.submissions import instruments_confirm, master_release
from fleet.review.models import DrumFlag
from fleet.review.services import drum_test_withdraw, submission_approve, submission_return
from fleet.vessels.models import Policy, Vessel, VesselAccess
from tests.cast import Cast, make_cast, person_with_role
from tests.factories import (
    BrakeEventFactory,
    DrumFactory,
    DrumFlagFactory,
    DrumParticularsFactory,
    FootingFactory,
    GaugeCalibrationFactory,
    GaugeFactory,
    JackFactory,
    KitFactory,
    LeverFactory,
    MembershipFactory,
    PolicyFactory,
    RetestOrderFactory,
    RoundFactory,
    UserFactory,
    VesselAccessFactory,
    WinchFactory,
)
from tests.records.scenario import confirm_and_submit, filled_test

# In every name of a thing, so that a page that shows somebody else's is caught by one word.
OURS, SISTERS, THEIRS = "Nearside", "Midway", "Farside"
HOUSE, OTHER_HOUSE = "Homeport", "Awayport"
# The states of a record once it was sent, as the fleet has one in each.
SENT = ("submitted", "returned", "superseded", "approved", "failed", "withdrawn")
YESTERDAY = date.today() - timedelta(days=1)
FAILED = (("adjusting", "40", "120", True, True),)
FAILED_DRAFT = {
    "outcome": "could_not_be_set",
    "defect_reference": "DR-26-031",
    "who_was_told": "technical superintendent, by mail",
}
PDF = b"%PDF-1.7\n1 0 obj\n<<>>\nendobj\ntrailer\n<<>>\n%%EOF\n"


def picture() -> SimpleUploadedFile:
    out = io.BytesIO()
    Image.new("RGB", (60, 40), "#336699").save(out, format="PNG")
    return SimpleUploadedFile("picture.png", out.getvalue(), content_type="image/png")


def document(name: str = "report.pdf") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, PDF, content_type="application/pdf")


@dataclass
class Ship:
    """Everything that belongs to one vessel, by what it is called in the table of addresses."""

    word: str
    vessel: Vessel
    things: dict[str, Any] = field(default_factory=dict)

    def __getattr__(self, name: str) -> Any:
        try:
            return self.__dict__["things"][name]
        except KeyError:
            raise AttributeError(name) from None

    @property
    def keys(self) -> set[str]:
        """The ids of all of it, as they would stand in a page."""
        return {str(thing.pk) for thing in (self.vessel, *self.things.values())}


@dataclass
class World:
    cast: Cast
    ours: Ship
    sisters: Ship
    theirs: Ship
    # People whose last day was yesterday, and one who may not sign in any more.
    ended: dict[str, User] = field(default_factory=dict)
    inactive: User | None = None


def build() -> World:
    cast = _named_cast()
    world = World(
        cast=cast,
        ours=furnish(cast, OURS),
        sisters=furnish(_cast_of(cast, cast.sister, _sister_people(cast)), SISTERS),
        theirs=furnish(_cast_of(cast, cast.foreign_vessel, cast.foreign), THEIRS),
    )
    world.ended = {
        "officer whose role ended": _ended_role(cast, Role.OFFICER),
        "auditor whose role ended": _ended_role(cast, Role.AUDITOR),
        "superintendent whose role ended": _ended_role(cast, Role.SUPERINTENDENT),
        "administrator whose role ended": _ended_role(cast, Role.ADMINISTRATOR),
        "officer whose access ended": _ended_access(cast, Role.OFFICER),
        "auditor whose access ended": _ended_access(cast, Role.AUDITOR),
    }
    world.inactive = person_with_role(cast.company, Role.SUPERINTENDENT, cast.vessel)
    return world


def furnish(cast: Cast, word: str) -> Ship:
    """Give the cast's vessel one of everything, with `word` in its name."""
    ship = Ship(word, cast.vessel)
    things = ship.things
    kit = _instruments(ship, cast)
    _registers(ship, cast)
    _people(ship, cast)
    # A round long closed for what is history, an open one for what is in hand.
    earlier = RoundFactory(vessel=cast.vessel, kit=kit, opened_by=cast.officer, started_on=date(2025, 11, 20))
    report = {"report": document(), "report_name": "report.pdf", "report_sha256": "0" * 64}
    now = RoundFactory(
        vessel=cast.vessel,
        kit=kit,
        opened_by=cast.officer,
        place=f"{word} roads",
        done_by="yard",
        done_by_name=f"{word} yard",
        **report,
    )
    things |= {"earlier_round": earlier, "round": now}
    _records(ship, cast, now, earlier)
    earlier.closed_on = date(2025, 12, 1)
    earlier.save()
    return ship


def _instruments(ship: Ship, cast: Cast) -> Kit:
    vessel, word, things = cast.vessel, ship.word, ship.things
    gauge = GaugeFactory(vessel=vessel, name=f"{word} gauge", serial_number=f"{word}-G")
    calibration: GaugeCalibration = GaugeCalibrationFactory(
        gauge=gauge, certificate_number=f"{word}-C", document=document(), author=cast.engineer
    )
    jack: Jack = JackFactory(vessel=vessel, name=f"{word} jack", serial_number=f"{word}-J")
    lever = LeverFactory(vessel=vessel, name=f"{word} lever")
    footing = FootingFactory(vessel=vessel, name=f"{word} footing")
    kit: Kit = KitFactory(
        vessel=vessel,
        name=f"{word} kit",
        gauge=gauge,
        lever=lever,
        footing=footing,
        jacks=[jack],
        calibrated=False,
    )
    things |= {"gauge": gauge, "calibration": calibration, "jack": jack, "lever": lever, "footing": footing, "kit": kit}
    # In no kit, so that each can be taken out of use.
    for what, make in (
        ("gauge", GaugeFactory),
        ("jack", JackFactory),
        ("lever", LeverFactory),
        ("footing", FootingFactory),
    ):
        things[f"spare_{what}"] = make(vessel=vessel, name=f"{word} spare {what}")
    return kit


def _registers(ship: Ship, cast: Cast) -> None:
    word, things = ship.word, ship.things
    winch = WinchFactory(vessel=cast.vessel, name=f"{word} winch")
    drum: Drum = drum_on(ship, winch, cast, "register", mark_picture=picture_file())
    event = BrakeEventFactory(drum=drum, author=cast.engineer, happened_on=date(2026, 3, 1))
    order: RetestOrder = RetestOrderFactory(drum=drum, ordered_by=cast.superintendent, reason=f"{word} order")
    flag: DrumFlag = DrumFlagFactory(drum=drum, raised_by=cast.superintendent, word=f"{word} flag")
    policy: Policy = PolicyFactory(
        company=cast.company, vessel=cast.vessel, reason=f"{word} policy", author=cast.superintendent
    )
    things |= {"winch": winch, "drum": drum, "event": event, "order": order, "flag": flag}
    things["policy"] = policy


def picture_file() -> SimpleUploadedFile:
    """A picture as the services store it: re-encoded."""
    out = io.BytesIO()
    Image.new("RGB", (60, 40), "#336699").save(out, format="JPEG")
    return SimpleUploadedFile("mark.jpg", out.getvalue(), content_type="image/jpeg")


def drum_on(ship: Ship, winch: Any, cast: Cast, name: str, **columns: Any) -> Drum:
    number = winch.drums.count() + 1
    drum: Drum = DrumFactory(winch=winch, name=f"{ship.word} {name}", number_on_winch=number, **columns)
    ship.things[f"{name.replace(' ', '_')}_particulars"] = DrumParticularsFactory(drum=drum, author=cast.officer)
    return drum


def _people(ship: Ship, cast: Cast) -> None:
    """A person of this vessel to be looked at, beside those who act."""
    person: User = UserFactory(name=f"{ship.word} person", email=f"{ship.word.lower()}@ship.example")
    membership: Membership = MembershipFactory(user=person, company=cast.company, role=Role.ENGINEER)
    access: VesselAccess = VesselAccessFactory(membership=membership, vessel=cast.vessel)
    ship.things |= {"person": person, "membership": membership, "access": access}


def _records(ship: Ship, cast: Cast, now: Round, earlier: Round) -> None:
    """One test in each state; `test_<state>` and `submission_<state>`."""
    winch, things = ship.things["winch"], ship.things

    def test(name: str, round: Round = now, drum: Drum | None = None, **fields: Any) -> DrumTest:
        drum = drum or drum_on(ship, winch, cast, f"drum {name}")
        things[f"drum_{name}"] = drum
        row = filled_test(cast, round=round, drum=drum, **fields)
        things[f"test_{name}"] = row
        return row

    def sent(name: str, **fields: Any) -> Submission:
        row = things[f"submission_{name}"] = confirm_and_submit(cast, test(name, **fields))
        return row

    def approved(name: str, **fields: Any) -> Submission:
        submission = sent(name, **fields)
        submission_approve(
            submission=submission,
            finding_answers=answers_to(submission),
            actor=cast.superintendent,
            paper_at_once=False,
        )
        return submission

    draft = test("draft")
    photo: Photo = photo_add(test=draft, kind="mark", caption=f"{ship.word} mark", upload=picture(), actor=cast.officer)
    reading: Reading = draft.readings.all()[0]
    ready = test("ready")
    instruments_confirm(test=ready, name="Ines Halloran", rank="chief engineer", actor=cast.engineer)
    master_release(test=ready, name="Tomas Brandt", rank="master", actor=cast.master)
    things |= {"photo": photo, "reading": reading}
    asked = sent("submitted")
    things["finding"] = Finding.objects.create(
        submission=asked, order=50, code="marks_equal", level="ask", template=f"{ship.word} finding"
    )
    submission_return(submission=sent("returned"), sentence=f"{ship.word} sentence", actor=cast.superintendent)
    old = approved("superseded", round=earlier, draft={"tested_on": "2025-11-20"})
    approved("approved", drum=things["drum_superseded"])
    approved("failed", readings=FAILED, draft=FAILED_DRAFT)
    taken_back = approved("withdrawn")
    drum_test_withdraw(test=taken_back.test, reason=f"{ship.word} reason", actor=cast.superintendent)
    certificate = Certificate.objects.get(submission=things["submission_approved"])
    if ship.word == OURS:
        with suppress(PdfUnavailable):  # then the pages say so, and who may ask is the same
            certificate_pdf_make(certificate)
    things["certificate"] = certificate
    things["old_certificate"] = Certificate.objects.get(submission=old)
    things["withdrawn_certificate"] = Certificate.objects.get(submission=taken_back)


def answers_to(submission: Submission) -> dict[str, str]:
    return {row.code: "Photo seen; it is right." for row in submission.findings.all() if row.level != "note"}


def _named_cast() -> Cast:
    cast = make_cast()
    for company, word in ((cast.company, HOUSE), (cast.foreign_company, OTHER_HOUSE)):
        company.name, company.short_code = f"{word} Lines", word[:4].upper()
        company.save()
    for vessel, word in ((cast.vessel, OURS), (cast.sister, SISTERS), (cast.foreign_vessel, THEIRS)):
        vessel.name = f"MV {word}"
        vessel.save()
    for people, word in ((cast.people, OURS), (cast.foreign, THEIRS)):
        for role, person in people.items():
            house = HOUSE if word == OURS else OTHER_HOUSE
            person.name = f"{house if role in SHORE_ROLES else word} {role}"
            person.save()
    return cast


def _sister_people(cast: Cast) -> dict[str, User]:
    """The sister's own ship's people; ashore it is the same superintendent."""
    assert cast.sister_officer is not None
    people = {role: person_with_role(cast.company, role, cast.sister) for role in (Role.ENGINEER, Role.MASTER)}
    return {**cast.people, **people, Role.OFFICER: cast.sister_officer}


def _cast_of(cast: Cast, vessel: Vessel, people: dict[str, User]) -> Cast:
    """The same play with another vessel in the first part."""
    return Cast(
        company=vessel.company,
        vessel=vessel,
        sister=cast.sister,
        foreign_company=cast.company,
        foreign_vessel=cast.vessel,
        people=people,
    )


def _ended_role(cast: Cast, role: str) -> User:
    return _former(person_with_role(cast.company, role, cast.vessel, until=YESTERDAY))


def _ended_access(cast: Cast, role: str) -> User:
    person = person_with_role(cast.company, role, cast.vessel)
    VesselAccess.objects.filter(membership__user=person).update(until=YESTERDAY)
    return _former(person)


def _former(person: User) -> User:
    person.name = "Former colleague"
    person.save()
    return person
