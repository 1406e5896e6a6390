"""`audit_verify` on what the product itself wrote, and after somebody had their hands in the tables."""

import json
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from fleet.certificates.audit_proof import read_proof
from fleet.certificates.models import Certificate
from fleet.core.audit_guard import lift_guard, raise_guard
from fleet.core.models import AuditEntry, AuditHead
from tests.cast import Cast
from tests.certificates.records import Ship, certified

pytestmark = pytest.mark.django_db


@pytest.fixture
def certificate(cast: Cast, ship: Ship) -> Certificate:
    return certified(ship, cast.superintendent)


def verify(*arguments: str) -> str:
    out = StringIO()
    call_command("audit_verify", *arguments, stdout=out)
    return out.getvalue()


def broken() -> str:
    out = StringIO()
    with pytest.raises(CommandError, match="broken"):
        call_command("audit_verify", stdout=out)
    return out.getvalue()


def behind_its_back(text: str, *values: object) -> None:
    lift_guard(connection)
    with connection.cursor() as cursor:
        cursor.execute(text, values)
    raise_guard(connection)


def test_what_the_product_wrote_is_unbroken_and_agrees_with_its_certificates(
    cast: Cast, certificate: Certificate
) -> None:
    said = verify("--company", cast.company.name)
    assert f"{cast.company.name}: unbroken" in said
    assert "1 certificates agree" in said
    assert AuditHead.objects.get(pk=cast.company.pk).size == AuditEntry.objects.filter(chain=cast.company.pk).count()


def test_the_certificate_carries_the_entry_of_its_issue_and_a_proof_that_holds(certificate: Certificate) -> None:
    read = read_proof(bytes(certificate.audit_proof))
    assert read.holds
    assert read.snapshot_sha256 == certificate.snapshot_sha256
    entry = AuditEntry.objects.get(action="certificate issued", subject_id=certificate.pk)
    assert read.size == entry.sequence
    assert json.loads(bytes(certificate.audit_proof))["entry"] == bytes(entry.canonical).decode()


@pytest.mark.parametrize("part", ["root", "path", "entry"])
def test_a_proof_with_another_part_does_not_hold(certificate: Certificate, part: str) -> None:
    proof = json.loads(bytes(certificate.audit_proof))
    if part == "entry":
        proof["entry"] = proof["entry"].replace(certificate.number, "another")
    elif part == "path":
        proof["path"] = ["00" * 32, *proof["path"][1:]]
    else:
        proof["root"] = "00" * 32
    assert not read_proof(json.dumps(proof).encode()).holds


@pytest.mark.parametrize("data", [b"", b"{}", b"[]", b'{"schema": "audit-proof/1", "size": "x"}'])
def test_what_is_no_proof_is_refused(data: bytes) -> None:
    with pytest.raises(ValueError, match=r".*"):
        read_proof(data)


@pytest.mark.parametrize(
    "text",
    [
        "UPDATE core_auditentry SET actor_name = 'somebody' WHERE action = 'certificate issued'",
        "DELETE FROM core_auditentry WHERE action = 'certificate issued'",
        "DELETE FROM core_auditentry WHERE id = (SELECT max(id) FROM core_auditentry)",
        "UPDATE core_auditentry SET sequence = sequence + 1000",
    ],
    ids=["edited", "removed", "tail removed", "moved"],
)
def test_a_changed_table_is_found_and_named(certificate: Certificate, text: str) -> None:
    verify()
    behind_its_back(text)
    assert "BROKEN" in broken()


def test_a_certificate_whose_content_was_exchanged_contradicts_its_entry(certificate: Certificate) -> None:
    Certificate.objects.update(snapshot_sha256="0" * 64)
    assert f"the entry of the issue of {certificate.number} speaks of another content" in broken()


def test_a_company_that_does_not_exist_is_said_so() -> None:
    with pytest.raises(CommandError, match="no company named"):
        verify("--company", "Nowhere")
