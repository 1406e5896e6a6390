"""Nineteen more of everything a page can list, as plain rows: what is counted is how often the database is asked."""

import uuid
from datetime import date, timedelta
from typing import Any

from django.db import models

from fleet.accounts.models import Role
from fleet.core.audit import audit_write
from fleet.drift.models import HistoryPoint
from fleet.drums.models import Drum
from fleet.records.models import Confirmation, Decision, DrumTest, Finding, Photo, Reading
from tests.access.world import SENT, Ship, World
from tests.factories import (
    BrakeEventFactory,
    DrumFactory,
    DrumParticularsFactory,
    FootingFactory,
    GaugeCalibrationFactory,
    KitFactory,
    MembershipFactory,
    PolicyFactory,
    RetestOrderFactory,
    RoundFactory,
    UserFactory,
    VesselAccessFactory,
    VesselFactory,
    WinchFactory,
)

MORE = 19


def copy_of(row: Any, **changes: Any) -> Any:
    """A second row like this one, under another key."""
    row = type(row)._default_manager.get(pk=row.pk)  # as it stands now
    values = {field.attname: getattr(row, field.attname) for field in row._meta.concrete_fields}
    return type(row)._default_manager.create(**{**values, "id": uuid.uuid4(), **changes})


def grow(world: World) -> None:
    ours, cast = world.ours, world.cast
    for number in range(1, MORE + 1):
        _vessel_with_a_late_drum(world, number)
        _person(world)
        PolicyFactory(company=cast.company, vessel=cast.vessel, valid_from=date(2021, 1, number))
        PolicyFactory(company=cast.company, valid_from=date(2021, 1, number))
        RoundFactory(vessel=cast.vessel, kit=ours.kit, closed_on=date(2024, 1, 1), started_on=date(2023, 12, number))
        _instruments(ours, number)
        _of_one_drum(ours, number)
        _records(ours, number)
        _of_one_record(ours, number)
        look(world)


def look(world: World) -> None:
    """One more entry of the audit trail by the person of the ship."""
    ours = world.ours
    company_id = ours.vessel.company_id
    audit_write(actor=ours.person, action="looked", subject=ours.drum, company_id=company_id, vessel_id=ours.vessel.pk)


def _vessel_with_a_late_drum(world: World, number: int) -> None:
    """Seen by the company's shore people, and by our officer and auditor too."""
    vessel = VesselFactory(company=world.cast.company, name=f"MV Nearside {number}")
    drum = DrumParticularsFactory(drum__winch__vessel=vessel).drum
    RetestOrderFactory(drum=drum)
    for role in (Role.OFFICER, Role.AUDITOR):
        VesselAccessFactory(membership=world.cast.people[role].memberships.get(), vessel=vessel)
    VesselAccessFactory(membership=world.ours.membership, vessel=vessel)


def _person(world: World) -> None:
    membership = MembershipFactory(user=UserFactory(), company=world.cast.company, role=Role.MASTER)
    VesselAccessFactory(membership=membership, vessel=world.cast.vessel)


def _instruments(ours: Ship, number: int) -> None:
    KitFactory(vessel=ours.vessel)
    FootingFactory(vessel=ours.vessel)
    day = date(2024, 1, 1) + timedelta(days=number)
    GaugeCalibrationFactory(gauge=ours.gauge, calibrated_on=day)


def _of_one_drum(ours: Ship, number: int) -> None:
    WinchFactory(vessel=ours.vessel)
    DrumParticularsFactory(drum=ours.drum, valid_from=date(2019, 1, number))
    BrakeEventFactory(drum=ours.drum)
    RetestOrderFactory(drum=ours.drum)


def _records(ours: Ship, number: int) -> None:
    """A drum more in each state, each with its record, and one more old test of the drum that has a history."""
    for state in ("draft", "ready", *SENT):
        if state != "superseded":
            drum = DrumFactory(winch=ours.winch, name=f"Drum {state} {number}", order=number)
            DrumParticularsFactory(drum=drum)
            _test_like(ours, state, drum, number)
    _test_like(ours, "superseded", ours.drum_approved, number)


def _test_like(ours: Ship, state: str, drum: Drum, number: int) -> None:
    model: DrumTest = ours.things[f"test_{state}"]
    test = copy_of(model, drum_id=drum.pk)
    _copies(Reading, test, model)
    _copies(Confirmation, test, model)
    submission = ours.things.get(f"submission_{state}")
    if submission is None:
        return
    sent = copy_of(submission, test_id=test.pk)
    for finding in Finding.objects.filter(submission=submission):
        copy_of(finding, submission_id=sent.pk)
    for decision in Decision.objects.filter(submission=submission):
        copy_of(decision, submission_id=sent.pk)
    for point in HistoryPoint.objects.filter(submission=submission):
        copy_of(point, id=None, test_id=test.pk, submission_id=sent.pk, drum_id=drum.pk)
    certificate = getattr(submission, "certificate", None)
    if certificate:
        part = f"{state[0]}{number}".upper()
        copy_of(certificate, submission_id=sent.pk, number=f"{certificate.number}-{part}", code=f"CODE-{part}")


def _copies(model: type[models.Model], test: DrumTest, like: DrumTest) -> None:
    for row in model._default_manager.filter(test=like):
        copy_of(row, test_id=test.pk)


def _of_one_record(ours: Ship, number: int) -> None:
    """Readings, photos and findings more in those tests whose pages list them."""
    copy_of(ours.reading, order=100 + number)
    for test in (ours.test_draft, ours.test_submitted, ours.test_approved):
        Photo.objects.create(
            test=test, kind="mark", file=ours.photo.file.name, sha256=ours.photo.sha256, author=ours.person
        )
    copy_of(ours.finding, order=100 + number, code=f"finding_{number}")
