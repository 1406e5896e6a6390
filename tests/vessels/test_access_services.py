"""Giving and ending access to vessels, and admitting a person in one act."""

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from django.core.exceptions import ValidationError

from fleet.accounts.models import Membership, User
from fleet.accounts.services import LAST_ADMINISTRATOR, membership_give
from fleet.core.models import AuditEntry
from fleet.vessels import services
from fleet.vessels.models import Vessel, VesselAccess
from fleet.vessels.services import access_end, access_give, person_admit, role_end
from tests.cast import Cast
from tests.factories import MembershipFactory, VesselAccessFactory

AT = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
TODAY = AT.date()
YESTERDAY = TODAY - timedelta(days=1)


def refused(act: Any, **arguments: Any) -> dict[str, list[str]]:
    with pytest.raises(ValidationError) as error:
        act(**arguments)
    return error.value.message_dict


def test_access_opens_the_vessel_and_is_in_the_audit(cast: Cast) -> None:
    membership = cast.officer.memberships.get()
    access_give(actor=cast.administrator, membership=membership, vessel=cast.sister)
    assert set(Vessel.objects.for_user(cast.officer)) == {cast.vessel, cast.sister}
    entry = AuditEntry.objects.last()
    assert entry is not None
    assert (entry.action, entry.vessel_id) == ("vessel access given", cast.sister.pk)
    assert entry.after == {"vessel": cast.sister.name, "until": None}


def test_a_vessel_of_another_company_is_refused(cast: Cast) -> None:
    membership = cast.officer.memberships.get()
    words = refused(access_give, actor=None, membership=membership, vessel=cast.foreign_vessel, at=AT)
    assert words == {"vessel": [services.OTHER_COMPANY]}


def test_a_shore_role_needs_no_vessel_named(cast: Cast) -> None:
    membership = cast.manager.memberships.get()
    words = refused(access_give, actor=None, membership=membership, vessel=cast.vessel, at=AT)
    assert words == {"vessel": [services.SHORE_SEES_ALL]}


def test_an_ended_role_is_opened_nothing(cast: Cast) -> None:
    membership = MembershipFactory(company=cast.company, until=YESTERDAY)
    words = refused(access_give, actor=None, membership=membership, vessel=cast.vessel, at=AT)
    assert words == {"membership": [services.ROLE_IS_OVER]}


def test_access_in_the_past_and_access_held_already_are_refused(cast: Cast) -> None:
    membership = cast.officer.memberships.get()
    give = {"actor": None, "membership": membership, "at": AT}
    assert refused(access_give, vessel=cast.sister, until=YESTERDAY, **give) == {"until": [services.UNTIL_IS_PAST]}
    assert refused(access_give, vessel=cast.vessel, **give) == {"vessel": [services.ACCESS_HELD]}


def test_ended_access_is_taken_up_again_in_the_same_row(cast: Cast) -> None:
    ended = VesselAccessFactory(membership=cast.officer.memberships.get(), vessel=cast.sister, until=YESTERDAY)
    again = access_give(actor=None, membership=ended.membership, vessel=cast.sister, at=AT)
    assert (again.pk, again.until) == (ended.pk, None)


def test_ending_access_closes_the_vessel_and_deletes_nothing(cast: Cast) -> None:
    access = cast.officer.memberships.get().vessel_accesses.get()
    yesterday = date.today() - timedelta(days=1)
    access_end(actor=cast.administrator, access=access, until=yesterday, reason="signed off")
    assert VesselAccess.objects.get(pk=access.pk).until == yesterday
    assert not Vessel.objects.for_user(cast.officer).exists()


@pytest.mark.parametrize(
    ("held_until", "until", "words"),
    [
        (None, date(2026, 11, 23), services.END_TOO_EARLY),
        (date(2026, 11, 20), YESTERDAY, services.ACCESS_HAS_ENDED),
        (date(2026, 12, 1), date(2026, 12, 2), services.END_NOT_SOONER),
    ],
)
def test_an_end_that_would_rewrite_or_lengthen_is_refused(
    cast: Cast, held_until: date | None, until: date, words: str
) -> None:
    access = VesselAccessFactory(
        membership=MembershipFactory(company=cast.company), vessel=cast.vessel, until=held_until
    )
    assert refused(access_end, actor=None, access=access, until=until, at=AT) == {"until": [words]}


class TestPersonAdmit:
    def admit(self, cast: Cast, **changes: Any) -> tuple[User, bool]:
        values: dict[str, Any] = {
            "actor": cast.administrator,
            "email": "new@ship.example",
            "name": "New Person",
            "rank": "second officer",
            "company": cast.company,
            "role": "officer",
            "vessels": [cast.vessel, cast.sister],
        }
        return person_admit(**{**values, **changes})

    def test_account_role_and_vessels_come_in_one_act(self, cast: Cast) -> None:
        person, made = self.admit(cast)
        assert made
        assert set(Vessel.objects.for_user(person)) == {cast.vessel, cast.sister}
        actions = list(AuditEntry.objects.values_list("action", flat=True))
        assert actions == ["person added", "role given", "vessel access given", "vessel access given"]

    def test_somebody_with_an_account_keeps_it_and_gets_the_role(self, cast: Cast) -> None:
        old = cast.foreign["officer"]
        password, name = old.password, old.name
        person, made = self.admit(cast, email=old.email.upper(), name="Typed otherwise")
        person.refresh_from_db()
        assert (person, made, person.password, person.name) == (old, False, password, name)
        assert set(Vessel.objects.for_user(person)) == {cast.vessel, cast.sister, cast.foreign_vessel}

    def test_when_one_part_is_refused_nothing_is_left_behind(self, cast: Cast) -> None:
        with pytest.raises(ValidationError):
            self.admit(cast, vessels=[cast.vessel, cast.foreign_vessel])
        assert not User.objects.filter(email="new@ship.example").exists()
        assert not AuditEntry.objects.exists()


def test_a_role_taken_up_again_opens_none_of_its_old_vessels(cast: Cast) -> None:
    membership = cast.officer.memberships.get()
    yesterday = date.today() - timedelta(days=1)
    role_end(actor=cast.administrator, membership=membership, until=yesterday)
    membership_give(actor=cast.administrator, user=cast.officer, company=cast.company, role="officer")
    assert Membership.objects.current(cast.officer).exists()
    assert not Vessel.objects.for_user(cast.officer).exists()


def test_a_role_that_cannot_end_keeps_its_vessels(cast: Cast) -> None:
    membership = cast.administrator.memberships.get()
    words = refused(role_end, actor=None, membership=membership, until=TODAY, at=AT)
    assert words == {"until": [LAST_ADMINISTRATOR]}
    assert cast.vessel in Vessel.objects.for_user(cast.administrator)
