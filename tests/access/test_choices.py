"""No form offers somebody else's things, and none takes them when they are sent all the same."""

import pytest
from django.urls import reverse

from fleet.core.models import AuditEntry
from tests.access.addresses import addresses
from tests.access.asking import INSIDE, Asking, body, standing, where
from tests.access.choices import Choices
from tests.access.people import OURS_ASKS, Asker
from tests.access.sends import swapped
from tests.access.table import TABLE

ADDRESSES = addresses()
FORMS = [label for label, entry in TABLE.items() if entry.sends]


def insiders(asking: Asking, label: str) -> list[Asker]:
    """Our people whom the address lets in."""
    return [row for row in asking.askers if row.kind == OURS_ASKS and standing(TABLE[label], row) == INSIDE]


def one_ashore_one_aboard(found: list[Asker]) -> list[Asker]:
    return list({row.sees_the_sister: row for row in found}.values())


def test_the_walk_sees_the_choices_that_are_theirs(asking: Asking) -> None:
    """Else an empty set of choices would pass for a safe one."""
    world = asking.world
    expected = {
        "gauges:kit_new": [world.ours.gauge, world.ours.lever, world.ours.footing, world.ours.jack],
        "records:round_new": [world.ours.kit],
        "drums:drum_new": [world.ours.winch],
        "vessels:membership_give": [world.ours.vessel],
        "certificates:certificate_list": [world.ours.vessel],
        "review:audit": [world.ours.vessel],
    }
    for label, things in expected.items():
        asker = insiders(asking, label)[-1]
        text = body(asking.ask(asker, "get", where(ADDRESSES[label], TABLE[label], world.ours))[0])
        assert {str(thing.pk) for thing in things} <= Choices(text).values, label


@pytest.mark.parametrize("label", FORMS)
def test_somebody_elses_thing_in_a_field_is_refused(asking: Asking, label: str) -> None:
    world, entry = asking.world, TABLE[label]
    assert entry.sends
    url = where(ADDRESSES[label], entry, world.ours)
    wrong = []
    for other in (world.theirs, world.sisters):
        for asker in one_ashore_one_aboard(insiders(asking, label)):
            for field, sent in swapped(entry.sends(world), world.ours, other):
                if other is world.sisters and (field in entry.shared or field == "company"):
                    continue
                before = AuditEntry.objects.count()
                answer, after = asking.ask(asker, "post", url, sent, look=AuditEntry.objects.count)
                if answer.status_code not in {200, 400, 404, 409} or after != before:
                    wrong.append(f"{asker.label}: {field} of {other.word}: {answer.status_code}")
    assert not wrong, "\n" + "\n".join(wrong)


def test_the_fields_that_name_things_are_among_those_tried(asking: Asking) -> None:
    tried = {
        f"{label} {field}"
        for label in FORMS
        for field, _sent in swapped(TABLE[label].sends(asking.world), asking.world.ours, asking.world.theirs)  # type: ignore[misc]
    }
    assert tried >= {
        "vessels:vessel_new company",
        "vessels:person_new company",
        "vessels:person_new vessels",
        "vessels:membership_give company",
        "vessels:membership_give vessels",
        "vessels:access_give membership",
        "drums:drum_new winch",
        "drums:drum_edit winch",
        "gauges:kit_new gauge",
        "gauges:kit_new lever",
        "gauges:kit_new footing",
        "gauges:kit_new first_jack",
        "gauges:kit_edit gauge",
        "records:round_new kit",
        "records:round_edit kit",
        "records:round_submit test",
        "records:test_start round",
    }


def test_access_is_not_given_to_a_foreign_vessel_nor_through_a_foreign_role(asking: Asking) -> None:
    ours, sisters, theirs = asking.world.ours, asking.world.sisters, asking.world.theirs
    administrator = next(row for row in asking.askers if row.label == "our administrator")
    url = reverse("vessels:access_give", args=[ours.person.pk])
    before = AuditEntry.objects.count()
    for membership, vessel in (
        (ours.membership, theirs.vessel),
        (theirs.membership, ours.vessel),
        (sisters.membership, ours.vessel),  # of another person than the page's
    ):
        sent = {"membership": membership.pk, "vessel": vessel.pk}
        answer, after = asking.ask(administrator, "post", url, sent, look=AuditEntry.objects.count)
        assert (answer.status_code, after) == (200, before)


@pytest.mark.parametrize(
    ("label", "field", "thing", "refused"),
    [
        ("records:prepare", "kit", "kit", True),
        ("records:worksheet", "kit", "kit", True),
        ("vessels:policy_new", "vessel", "vessel", True),
        ("vessels:policy_new", "company", "company", True),
        ("drums:drum_new", "winch", "winch", False),
        ("certificates:certificate_list", "vessel", "vessel", False),
        ("review:today", "vessel", "vessel", False),
        ("review:audit", "vessel", "vessel", False),
        ("review:fleet", "vessel", "vessel", False),
        ("review:fleet_csv", "vessel", "vessel", False),
    ],
)
def test_somebody_elses_thing_in_the_query_string_shows_nothing_of_it(
    asking: Asking, label: str, field: str, thing: str, refused: bool
) -> None:
    world = asking.world
    theirs = {**world.theirs.things, "vessel": world.theirs.vessel, "company": world.cast.foreign_company}
    url = where(ADDRESSES[label], TABLE[label], world.ours)
    for asker in insiders(asking, label):
        answer, _found = asking.ask(asker, "get", f"{url}?{field}={theirs[thing].pk}")
        assert answer.status_code == (404 if refused else 200), asker.label
        text = body(answer)
        assert world.theirs.word not in text
        assert not world.theirs.keys - {str(theirs[thing].pk)} & Choices(text).values
        assert f'value="{theirs[thing].pk}" selected' not in text


def test_a_reading_or_a_test_of_another_ship_is_not_written_to_under_its_id(asking: Asking) -> None:
    """The ids are made by the client: one that is somebody else's must not lead there."""
    world = asking.world
    officer = next(row for row in asking.askers if row.label == "our officer")
    reading = {"phase": "adjusting", "mark_text": "50", "gauge_text": "170", "result": "slipped"}
    tries = [
        (
            reverse("records:reading_add", args=[world.ours.test_draft.pk]),
            {**reading, "reading_id": str(world.theirs.reading.pk)},
        ),
        (
            reverse("records:test_start", args=[world.ours.drum.pk]),
            {"test_id": str(world.theirs.test_draft.pk), "round": str(world.ours.round.pk)},
        ),
        (
            reverse("records:reading_remove", args=[world.theirs.reading.pk]),
            {"test_id": str(world.theirs.test_draft.pk)},
        ),
    ]
    for url, sent in tries:
        before = AuditEntry.objects.count()
        answer, after = asking.ask(officer, "post", url, sent, look=AuditEntry.objects.count)
        assert answer.status_code in {200, 404, 409}, url
        assert after == before, url
        assert world.theirs.word not in body(answer), url
