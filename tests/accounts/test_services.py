"""Companies, people and roles: what the services write, refuse and enter in the audit."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.core.exceptions import ValidationError

from fleet.accounts import services
from fleet.accounts.models import Company, Membership, Role, User
from fleet.accounts.services import company_add, membership_end, membership_give, person_add
from fleet.core.models import AuditEntry
from tests.cast import Cast
from tests.factories import CompanyFactory, MembershipFactory, UserFactory

AT = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
DAY = AT.date()

pytestmark = pytest.mark.django_db


def last_entry() -> AuditEntry:
    entry = AuditEntry.objects.last()
    assert entry is not None
    return entry


def refused(error: pytest.ExceptionInfo[ValidationError]) -> dict[str, list[str]]:
    return error.value.message_dict


def test_a_company_is_added_with_its_mark_and_an_entry() -> None:
    company = company_add(actor=None, name=" Kestrel ", short_code="ks", is_demo=True, at=AT)
    assert (company.name, company.short_code, company.is_demo) == ("Kestrel", "KS", True)
    entry = last_entry()
    assert (entry.action, entry.company_id, entry.at, entry.actor_name) == (
        "company added",
        company.pk,
        AT,
        "the system",
    )


def test_a_second_company_of_the_same_name_or_code_is_refused() -> None:
    company_add(actor=None, name="Kestrel", short_code="KS")
    with pytest.raises(ValidationError) as error:
        company_add(actor=None, name="kestrel", short_code="ks")
    assert refused(error) == {
        "name": [services.COMPANY_NAME_TAKEN],
        "short_code": [services.SHORT_CODE_TAKEN],
    }
    assert Company.objects.count() == 1


def test_a_person_without_a_password_cannot_sign_in_and_is_in_the_audit(cast: Cast) -> None:
    person = person_add(
        actor=cast.administrator, company=cast.company, email="Ada@Ship.example", name="Ada Voss", rank="chief officer"
    )
    assert person.email == "ada@ship.example"
    assert not person.has_usable_password()
    entry = last_entry()
    assert (entry.action, entry.actor_id, entry.company_id) == ("person added", cast.administrator.pk, cast.company.pk)
    assert entry.after == {"name": "Ada Voss", "rank": "chief officer", "email": "ada@ship.example"}


def test_a_person_with_a_password_can_sign_in(cast: Cast) -> None:
    person = person_add(actor=None, company=cast.company, email="a@b.example", name="A", password="long-password-7")
    assert person.check_password("long-password-7")


def test_an_email_address_belongs_to_one_person_whatever_its_case(cast: Cast) -> None:
    UserFactory(email="ada@ship.example")
    with pytest.raises(ValidationError) as error:
        person_add(actor=None, company=cast.company, email="ADA@ship.example", name="Another Ada")
    assert refused(error) == {"email": [services.EMAIL_TAKEN]}
    assert User.objects.filter(email__iexact="ada@ship.example").count() == 1


def test_a_role_is_given_until_a_day(cast: Cast) -> None:
    membership = membership_give(
        actor=cast.administrator, user=cast.nobody, company=cast.company, role="officer", until=date(2027, 3, 1), at=AT
    )
    assert (membership.role, membership.until) == ("officer", date(2027, 3, 1))
    entry = last_entry()
    assert (entry.action, entry.before) == ("role given", None)
    assert entry.after == {"person": cast.nobody.name, "role": "officer", "until": "2027-03-01"}


def test_an_auditor_without_a_last_day_is_refused_in_words(cast: Cast) -> None:
    with pytest.raises(ValidationError) as error:
        membership_give(actor=None, user=cast.nobody, company=cast.company, role="auditor", at=AT)
    assert refused(error) == {"until": [services.AUDITOR_NEEDS_AN_END]}


def test_a_role_cannot_end_before_it_is_given(cast: Cast) -> None:
    with pytest.raises(ValidationError) as error:
        membership_give(
            actor=None, user=cast.nobody, company=cast.company, role="officer", until=date(2026, 11, 24), at=AT
        )
    assert refused(error) == {"until": [services.UNTIL_IS_PAST]}


def test_an_unknown_role_is_refused(cast: Cast) -> None:
    with pytest.raises(ValidationError) as error:
        membership_give(actor=None, user=cast.nobody, company=cast.company, role="captain", at=AT)
    assert "role" in refused(error)


def test_a_role_held_already_is_not_given_twice_but_can_be_lengthened(cast: Cast) -> None:
    first = MembershipFactory(user=cast.nobody, company=cast.company, role="master", until=date(2026, 12, 1))
    with pytest.raises(ValidationError) as error:
        membership_give(
            actor=None, user=cast.nobody, company=cast.company, role="master", until=date(2026, 11, 30), at=AT
        )
    assert refused(error) == {"role": [services.ROLE_ALREADY_HELD]}
    longer = membership_give(actor=None, user=cast.nobody, company=cast.company, role="master", at=AT)
    assert (longer.pk, longer.until) == (first.pk, None)
    before = last_entry().before
    assert before is not None
    assert before["until"] == "2026-12-01"


def test_an_ended_role_is_taken_up_again_in_the_same_row(cast: Cast) -> None:
    ended = MembershipFactory(user=cast.nobody, company=cast.company, role="master", until=date(2026, 1, 1))
    again = membership_give(actor=None, user=cast.nobody, company=cast.company, role="master", at=AT)
    assert again.pk == ended.pk
    assert Membership.objects.current(cast.nobody, DAY).get() == again


def test_yesterday_ends_a_role_at_once_and_deletes_nothing(cast: Cast) -> None:
    membership = cast.officer.memberships.get()
    yesterday = date.today() - timedelta(days=1)
    membership_end(actor=cast.administrator, membership=membership, until=yesterday, reason="left the ship")
    membership.refresh_from_db()
    assert membership.until == yesterday
    assert not Membership.objects.current(cast.officer).exists()
    entry = last_entry()
    assert (entry.action, entry.reason) == ("role ended", "left the ship")


@pytest.mark.parametrize(
    ("held_until", "until", "words"),
    [
        (None, date(2026, 11, 23), services.END_TOO_EARLY),
        (date(2026, 11, 20), date(2026, 11, 24), services.ROLE_HAS_ENDED),
        (date(2026, 12, 1), date(2026, 12, 1), services.END_NOT_SOONER),
        (date(2026, 12, 1), date(2027, 1, 1), services.END_NOT_SOONER),
    ],
)
def test_an_end_that_would_rewrite_or_lengthen_is_refused(
    cast: Cast, held_until: date | None, until: date, words: str
) -> None:
    membership = MembershipFactory(user=cast.nobody, company=cast.company, role="officer", until=held_until)
    with pytest.raises(ValidationError) as error:
        membership_end(actor=None, membership=membership, until=until, at=AT)
    assert refused(error) == {"until": [words]}
    membership.refresh_from_db()
    assert membership.until == held_until


class TestLastAdministrator:
    """A company always keeps an administrator without an end."""

    def end(self, membership: Membership) -> Membership:
        return membership_end(actor=None, membership=membership, until=DAY, at=AT)

    def test_the_only_one_cannot_be_ended(self, cast: Cast) -> None:
        with pytest.raises(ValidationError) as error:
            self.end(cast.administrator.memberships.get())
        assert refused(error) == {"until": [services.LAST_ADMINISTRATOR]}
        assert cast.administrator.memberships.get().until is None

    def test_one_of_two_can(self, cast: Cast) -> None:
        MembershipFactory(company=cast.company, role=Role.ADMINISTRATOR)
        assert self.end(cast.administrator.memberships.get()).until == DAY

    @pytest.mark.parametrize("other", ["ends later", "may not sign in", "of another company"])
    def test_another_who_does_not_stay_does_not_count(self, cast: Cast, other: str) -> None:
        MembershipFactory(
            company=CompanyFactory() if other == "of another company" else cast.company,
            role=Role.ADMINISTRATOR,
            until=date(2030, 1, 1) if other == "ends later" else None,
            user__is_active=other != "may not sign in",
        )
        with pytest.raises(ValidationError) as error:
            self.end(cast.administrator.memberships.get())
        assert refused(error) == {"until": [services.LAST_ADMINISTRATOR]}

    def test_their_other_roles_can_end(self, cast: Cast) -> None:
        other = MembershipFactory(user=cast.administrator, company=cast.company, role=Role.MANAGER)
        assert self.end(other).until == DAY
