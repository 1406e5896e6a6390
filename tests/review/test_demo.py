import socket
from datetime import UTC, datetime
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from fleet.accounts.models import Company, User
from fleet.certificates.models import Certificate
from fleet.core.audit_guard import raise_guard
from fleet.core.models import AuditEntry
from fleet.records.canonical import read_content
from fleet.records.models import Finding, State, Submission
from fleet.review.demo import load_demo
from fleet.review.demo.fleet_file import load_file
from fleet.review.management.commands import demo
from fleet.vessels.imo import validate_imo_number
from tests.factories import CompanyFactory

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)


def part(*vessels: str, drums: int = 12) -> dict[str, Any]:
    """The demo file with these vessels only, each with so many drums."""
    data = load_file()
    data["vessels"] = [row for row in data["vessels"] if row["name"] in vessels]
    for row in data["vessels"]:
        row["drums"] = row["drums"][:drums]
    for person in data["people"]:
        person.pop("vessels", None)
    return data


@pytest.fixture
def small_demo(monkeypatch: pytest.MonkeyPatch) -> None:
    """The command loads one vessel with five drums, to be quick."""
    small = part("Arden Fell", drums=5)
    monkeypatch.setattr(demo, "load_demo", lambda *, now: load_demo(now=now, data=small))


def test_every_imo_number_of_the_demo_is_valid_and_plainly_invented() -> None:
    for row in load_file()["vessels"]:
        validate_imo_number(row["imo_number"])
        assert row["imo_number"].startswith("000")


@pytest.mark.django_db
def test_the_demo_tells_every_state_the_shore_can_meet() -> None:
    company = load_demo(now=NOW, data=part("Kestrel Sound"))
    assert company.is_demo
    newest = {row.test.state for row in Submission.objects.select_related("test")}
    assert newest == {State.APPROVED, State.SUBMITTED, State.RETURNED, State.SUPERSEDED}
    assert Submission.objects.filter(outcome="out_of_use", test__state=State.APPROVED).count() == 1
    assert not Certificate.objects.filter(submission__outcome="out_of_use").exists()
    assert AuditEntry.objects.filter(action="submission approved").count() > 30


@pytest.mark.django_db
def test_copied_marks_are_found_in_the_demo() -> None:
    load_demo(now=NOW, data=part("Merrow Bay", drums=5))
    assert Finding.objects.filter(code="one_mark_for_all").exists()


@pytest.mark.django_db
def test_a_rerun_changes_nothing_that_a_person_changed(small_demo: None, capsys: pytest.CaptureFixture[str]) -> None:
    call_command("demo", "--no-serve")
    User.objects.filter(email="officer@arden.demo.example").update(name="Renamed Person")
    before = AuditEntry.objects.count()
    call_command("demo", "--no-serve")
    assert User.objects.get(email="officer@arden.demo.example").name == "Renamed Person"
    assert AuditEntry.objects.count() == before
    told = capsys.readouterr().out
    assert "http://localhost:8000" in told
    assert "superintendent@demo.example" in told


@pytest.mark.django_db
def test_it_is_refused_beside_a_company_that_is_not_demo_data(small_demo: None) -> None:
    CompanyFactory(name="A fleet in use")
    with pytest.raises(CommandError, match="A fleet in use"):
        call_command("demo", "--no-serve")
    with pytest.raises(CommandError, match="A fleet in use"):
        call_command("demo", "--no-serve", "--reset", "--yes")


@pytest.mark.django_db(transaction=True)
def test_reset_loads_it_anew_and_puts_the_audit_guard_back(small_demo: None) -> None:
    call_command("demo", "--no-serve")
    first = Company.objects.get().pk
    call_command("demo", "--no-serve", "--reset", "--yes")
    assert Company.objects.get().pk != first
    with pytest.raises(Exception, match="only grows"):
        AuditEntry.objects.all().delete()
    raise_guard(connection)


@pytest.mark.django_db
def test_reset_asks_first(small_demo: None, monkeypatch: pytest.MonkeyPatch) -> None:
    call_command("demo", "--no-serve")
    monkeypatch.setattr("builtins.input", lambda question: "no")
    with pytest.raises(CommandError, match="Nothing was changed"):
        call_command("demo", "--no-serve", "--reset")
    assert Company.objects.count() == 1


def test_a_port_in_use_is_said_with_another_to_try() -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(CommandError, match=f"--port {port + 1}"):
            call_command("demo", "--port", str(port))


@pytest.mark.django_db
def test_the_demo_tells_how_well_a_hand_finds_the_mark_again() -> None:
    load_demo(now=NOW, data=part("Arden Fell", drums=5))
    newest = Submission.objects.order_by("-tested_on", "-submitted_at")[0]
    told = read_content(newest)["setting_again"]
    assert told["tests"] >= 3
    assert 0.005 < told["half_width_share"] < 0.08
    assert Submission.objects.exclude(reapplied_share=None).count() > 3
