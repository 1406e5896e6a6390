"""Registering and changing a vessel."""

from datetime import UTC, date, datetime

import pytest
from django.core.exceptions import ValidationError

from fleet.core.models import AuditEntry
from fleet.core.typed import Typed
from fleet.vessels import services
from fleet.vessels.models import Vessel
from fleet.vessels.services import vessel_change, vessel_register
from tests.cast import Cast
from tests.factories import imo_number

AT = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)


def register(cast: Cast, **changes: object) -> Vessel:
    values = {
        "actor": cast.superintendent,
        "company": cast.company,
        "name": "Tern Passage",
        "imo_number": imo_number(777),
        "base_load": Typed.read("64,9", "tf"),
        "base_load_document": "mooring plan, sheet 2",
        "next_dry_docking": date(2027, 4, 1),
        "at": AT,
    }
    return vessel_register(**{**values, **changes})  # type: ignore[arg-type]


def last_entry() -> AuditEntry:
    entry = AuditEntry.objects.last()
    assert entry is not None
    return entry


def test_a_vessel_keeps_its_base_load_as_typed_beside_its_si_value(cast: Cast) -> None:
    vessel = Vessel.objects.get(pk=register(cast).pk)
    assert (vessel.base_load.text, vessel.base_load.unit) == ("64,9", "tf")
    # 64.9 × 9806.65 N, the standard weight of one tonne (NIST SP 811, Appendix B.8)
    assert vessel.base_load.si == pytest.approx(636_451.585, abs=1e-6)
    entry = last_entry()
    assert (entry.action, entry.company_id, entry.vessel_id, entry.at) == (
        "vessel registered",
        cast.company.pk,
        vessel.pk,
        AT,
    )


def test_a_wrong_check_digit_is_refused_by_the_service_too(cast: Cast) -> None:
    with pytest.raises(ValidationError) as error:
        register(cast, imo_number="9074728")
    assert list(error.value.message_dict) == ["imo_number"]


def test_a_company_has_one_vessel_per_imo_number_and_another_company_its_own(cast: Cast) -> None:
    with pytest.raises(ValidationError) as error:
        register(cast, imo_number=cast.vessel.imo_number)
    assert error.value.message_dict == {"imo_number": [services.IMO_NUMBER_TAKEN]}
    assert register(cast, imo_number=cast.foreign_vessel.imo_number).company == cast.company


def test_a_change_leaves_before_and_after_of_what_changed_and_the_reason(cast: Cast) -> None:
    load = Typed.read("650", "kN")
    vessel_change(
        actor=cast.superintendent,
        vessel=cast.vessel,
        changes={"base_load": load, "name": cast.vessel.name},
        reason="revision B of the plan",
    )
    cast.vessel.refresh_from_db()
    assert cast.vessel.base_load == load
    entry = last_entry()
    assert entry.reason == "revision B of the plan"
    assert entry.before == {"base_load": {"text": "637", "unit": "kN", "si": 637_000.0}}
    assert entry.after == {"base_load": {"text": "650", "unit": "kN", "si": 650_000.0}}


@pytest.mark.parametrize(
    ("changes", "reason", "where", "words"),
    [
        ({"name": "Other"}, "  ", "reason", services.NO_REASON),
        ({}, "a reason", "__all__", services.NOTHING_CHANGED),
    ],
)
def test_a_change_without_reason_or_without_change_is_refused(
    cast: Cast, changes: dict[str, str], reason: str, where: str, words: str
) -> None:
    before = AuditEntry.objects.count()
    with pytest.raises(ValidationError) as error:
        vessel_change(actor=cast.superintendent, vessel=cast.vessel, changes=changes, reason=reason)
    by_field = error.value.message_dict if hasattr(error.value, "error_dict") else {"__all__": error.value.messages}
    assert by_field == {where: [words]}
    assert AuditEntry.objects.count() == before


def test_the_company_of_a_vessel_is_not_among_what_can_be_changed(cast: Cast) -> None:
    with pytest.raises(TypeError):
        vessel_change(
            actor=None, vessel=cast.vessel, changes={"company": cast.foreign_company}, reason="sold to another owner"
        )
    cast.vessel.refresh_from_db()
    assert cast.vessel.company == cast.company
