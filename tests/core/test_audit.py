import pytest
from django.db import DatabaseError, connection, transaction

from fleet.core.audit import audit_write
from fleet.core.models import AuditEntry
from tests.cast import Cast


def write_one(cast: Cast) -> None:
    audit_write(actor=cast.officer, action="vessel looked at", subject=cast.vessel, company_id=cast.company.pk)


def test_an_entry_names_who_did_what_to_what(cast: Cast) -> None:
    write_one(cast)
    entry = AuditEntry.objects.get()
    assert (entry.actor_name, entry.subject_name, entry.subject_id) == (
        cast.officer.name,
        cast.vessel.name,
        cast.vessel.pk,
    )


@pytest.mark.django_db(transaction=True)
def test_an_entry_can_be_neither_changed_nor_removed(cast: Cast) -> None:
    write_one(cast)
    for refused in (lambda: AuditEntry.objects.update(action="y"), AuditEntry.objects.all().delete):
        with pytest.raises(DatabaseError, match="only grows"), transaction.atomic():
            refused()
    assert AuditEntry.objects.get().action == "vessel looked at"


@pytest.mark.postgresql
def test_the_table_cannot_be_truncated(cast: Cast) -> None:
    write_one(cast)
    with pytest.raises(DatabaseError, match="only grows"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("TRUNCATE core_auditentry")
    assert AuditEntry.objects.count() == 1
