"""Pages and papers of certificates: who gets which, and what each leaves in the audit trail."""

import io
import shutil
import subprocess
import zipfile
from datetime import date
from typing import Any

import pikepdf
import pytest
from django.test import Client
from django.urls import reverse

from fleet.certificates.models import Certificate
from fleet.core import pdf
from fleet.core.models import AuditEntry
from tests.cast import Cast, person_with_role
from tests.certificates.records import Ship, approved, certified, drum_on, failed, ship_of, submitted
from tests.factories import RetestOrderFactory

pytestmark = pytest.mark.django_db
ROLES = ["officer", "engineer", "master", "superintendent", "manager", "auditor", "administrator"]


def words(response: Any) -> str:
    return " ".join(response.content.decode().split())


def pdf_text(content: bytes) -> str:
    program = shutil.which("pdftotext")
    assert program
    done = subprocess.run([program, "-", "-"], input=content, capture_output=True, check=True)
    return " ".join(done.stdout.decode().split())


def body(response: Any) -> bytes:
    return bytes(response.getvalue())


def archive_of(response: Any) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(body(response))) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def addresses(certificate: Certificate) -> dict[str, str]:
    round_ = certificate.submission.test.round
    return {
        "certificate": reverse("certificates:certificate", args=[certificate.pk]),
        "certificate_pdf": reverse("certificates:certificate_pdf", args=[certificate.pk]),
        "vessel_certificates": reverse("certificates:vessel_certificates", args=[round_.vessel_id]),
        "vessel_zip": reverse("certificates:vessel_zip", args=[round_.vessel_id, 2026]),
        "inspection_pack": reverse("certificates:inspection_pack", args=[round_.vessel_id]),
        "tags": reverse("certificates:tags", args=[round_.pk]),
        "round_summary": reverse("certificates:round_summary", args=[round_.pk]),
    }


@pytest.fixture
def certificate(cast: Cast, ship: Ship) -> Certificate:
    return certified(ship, cast.superintendent)


@pytest.mark.pdf
@pytest.mark.parametrize("role", ROLES)
def test_every_role_of_the_vessel_gets_every_page_and_paper(
    client: Client, cast: Cast, certificate: Certificate, role: str
) -> None:
    client.force_login(cast.people[role])
    answers = {name: client.get(url) for name, url in addresses(certificate).items()}
    assert {name: answer.status_code for name, answer in answers.items()} == dict.fromkeys(answers, 200)
    assert all(body(answer) for answer in answers.values())


@pytest.mark.parametrize(
    "name",
    ["certificate", "certificate_pdf", "vessel_certificates", "vessel_zip", "inspection_pack", "tags", "round_summary"],
)
def test_outsiders_learn_not_even_that_it_exists(
    client: Client, cast: Cast, certificate: Certificate, name: str
) -> None:
    strangers = [*cast.foreign.values(), cast.sister_officer, cast.nobody]
    for person in strangers:
        assert person is not None
        client.force_login(person)
        assert client.get(addresses(certificate)[name]).status_code == 404, person
    client.logout()
    assert client.get(addresses(certificate)[name]).status_code == 302


def test_an_auditor_whose_time_is_over_gets_nothing(client: Client, cast: Cast, certificate: Certificate) -> None:
    past = person_with_role(cast.company, "auditor", cast.vessel, until=date(2020, 1, 1))
    client.force_login(past)
    assert client.get(addresses(certificate)["certificate"]).status_code == 404
    assert certificate.number not in words(client.get(reverse("certificates:certificate_list")))


def test_the_list_shows_only_ones_own_vessels(client: Client, cast: Cast, certificate: Certificate) -> None:
    foreign = certified(ship_of(cast.foreign_vessel), cast.foreign["superintendent"])
    client.force_login(cast.auditor)
    shown = words(client.get(reverse("certificates:certificate_list")))
    assert certificate.number in shown
    assert foreign.number not in shown


def test_the_list_is_filtered_by_vessel_year_and_state(client: Client, cast: Cast, ship: Ship) -> None:
    drum = drum_on(cast.vessel)
    old = certified(ship, cast.superintendent, drum, tested_on=date(2025, 11, 20))
    new = certified(ship, cast.superintendent, drum)
    sister = certified(ship_of(cast.sister), cast.superintendent)
    client.force_login(cast.superintendent)

    def numbers(**query: Any) -> set[str]:
        page = client.get(reverse("certificates:certificate_list"), query).context["page"]
        return {row.number for row in page}

    assert numbers() == {old.number, new.number, sister.number}
    assert numbers(vessel=cast.vessel.pk) == {old.number, new.number}
    assert numbers(year="2025") == {old.number}
    assert numbers(state="superseded") == {old.number}
    assert numbers(vessel=cast.vessel.pk, year="2026", state="issued") == {new.number}
    assert numbers(vessel=cast.foreign_vessel.pk, year="abc", state="x") == {old.number, new.number, sister.number}


def test_the_list_asks_no_more_questions_for_more_rows(
    client: Client, cast: Cast, ship: Ship, django_assert_num_queries: Any
) -> None:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    certified(ship, cast.superintendent)
    client.force_login(cast.auditor)
    url = reverse("certificates:certificate_list")
    client.get(url)
    with CaptureQueriesContext(connection) as one:
        client.get(url)
    for _ in range(19):
        certified(ship, cast.superintendent)
    with django_assert_num_queries(len(one)):
        client.get(url)


@pytest.mark.pdf
def test_the_pdf_is_the_stored_file_with_a_plain_name(client: Client, cast: Cast, certificate: Certificate) -> None:
    client.force_login(cast.auditor)
    response = client.get(addresses(certificate)["certificate_pdf"])
    assert response["Content-Type"] == "application/pdf"
    assert certificate.number in response["Content-Disposition"]
    content = body(response)
    certificate.refresh_from_db()
    with certificate.pdf.open("rb") as stored:
        assert stored.read() == content


def blank_pdf() -> bytes:
    out = io.BytesIO()
    with pikepdf.new() as document:
        document.add_blank_page()
        document.save(out)
    return out.getvalue()


def test_without_the_library_the_page_says_so_and_the_download_works_later(
    client: Client, cast: Cast, certificate: Certificate, monkeypatch: pytest.MonkeyPatch
) -> None:
    def unavailable(*args: Any, **kwargs: Any) -> bytes:
        raise pdf.PdfUnavailable("PDFs cannot be made on this machine: the Pango library is missing.")

    client.force_login(cast.officer)
    url = addresses(certificate)["certificate_pdf"]
    with monkeypatch.context() as patch:
        patch.setattr(pdf, "render_pdf", unavailable)
        for name in ("certificate_pdf", "tags", "round_summary"):
            response = client.get(addresses(certificate)[name])
            assert response.status_code == 503
            assert "the Pango library is missing" in words(response)
        assert "made when you download it" in words(client.get(addresses(certificate)["certificate"]))
        held = archive_of(client.get(addresses(certificate)["vessel_zip"]))
        assert held[f"{certificate.number}.json"] == bytes(certificate.snapshot)
        assert f"{certificate.number}-PDF-could-not-be-made.txt" in held
    assert not AuditEntry.objects.filter(action="certificate downloaded").exists()
    made_later = blank_pdf()
    monkeypatch.setattr(pdf, "render_pdf", lambda *args, **kwargs: made_later)
    assert body(client.get(url)).startswith(made_later)


@pytest.mark.pdf
def test_each_download_is_written_down(client: Client, cast: Cast, certificate: Certificate) -> None:
    client.force_login(cast.auditor)
    for name in ("certificate_pdf", "vessel_zip", "inspection_pack", "tags", "round_summary"):
        assert body(client.get(addresses(certificate)[name]))
    entries = AuditEntry.objects.filter(actor_id=cast.auditor.pk).values_list("action", "vessel_id")
    assert sorted(entries) == sorted(
        (f"{what} downloaded", cast.vessel.pk)
        for what in ("certificate", "certificates of 2026", "inspection pack", "winch tags", "round summary")
    )


@pytest.mark.pdf
def test_the_years_archive_holds_every_certificate_of_its_tests(client: Client, cast: Cast, ship: Ship) -> None:
    drum = drum_on(cast.vessel)
    old = certified(ship, cast.superintendent, drum, tested_on=date(2025, 11, 20))
    new = certified(ship, cast.superintendent, drum)
    certified(ship_of(cast.sister), cast.superintendent)
    client.force_login(cast.auditor)
    held = archive_of(client.get(reverse("certificates:vessel_zip", args=[cast.vessel.pk, 2025])))
    assert set(held) == {"index.csv", f"{old.number}.pdf"}
    assert held[f"{old.number}.pdf"].startswith(b"%PDF-")
    index = held["index.csv"].decode("utf-8-sig")
    assert "superseded" in index
    assert new.number in index


@pytest.mark.pdf
def test_the_inspection_pack_holds_summary_certificates_instruments_and_defects(
    client: Client, cast: Cast, ship: Ship
) -> None:
    certificate = certified(ship, cast.superintendent)
    broken = drum_on(cast.vessel, drum__name="=Head line 2")
    approved(failed(ship, broken, outcome="out_of_use"), cast.superintendent)
    ordered = drum_on(cast.vessel, drum__name="Breast 1")
    RetestOrderFactory(drum=ordered, reason="mark looks shifted")
    client.force_login(cast.auditor)
    held = archive_of(client.get(reverse("certificates:inspection_pack", args=[cast.vessel.pk])))
    assert set(held) == {
        "summary.pdf",
        "summary.csv",
        "instruments.pdf",
        "instruments.csv",
        "open-defects.pdf",
        "open-defects.csv",
        f"certificates/{certificate.number}.pdf",
    }
    defects = held["open-defects.csv"].decode("utf-8-sig")
    assert "DR-26-031" in defects
    assert "mark looks shifted" in defects
    assert '"\'=Head line 2"' in defects
    assert "CAL-" in held["instruments.csv"].decode("utf-8-sig")
    assert "2027-06-01" in held["instruments.csv"].decode("utf-8-sig")
    assert certificate.number in pdf_text(held["summary.pdf"])
    assert "DR-26-031" in pdf_text(held["open-defects.pdf"])


@pytest.mark.pdf
def test_a_tag_has_the_digits_of_its_certificate_and_all_an_inspector_looks_for(
    client: Client, cast: Cast, certificate: Certificate, ship: Ship
) -> None:
    round_ = certificate.submission.test.round
    waiting = submitted(ship, round=round_)
    client.force_login(cast.officer)
    text = pdf_text(body(client.get(reverse("certificates:tags", args=[round_.pk]))))
    for wanted in (
        cast.vessel.name,
        certificate.submission.test.drum.name,
        "20 November 2026",
        "49 mm",
        "380.6 kN",
        "38.81 t (tonne-force)",
        "59.7 %",
        "over the top of the drum",
        "layer 1 of the tension part",
        certificate.number,
    ):
        assert wanted in text
    assert f"{waiting.test.drum.name}: accepted aboard, shore review pending" in text


@pytest.mark.pdf
def test_the_summary_has_one_page_per_drum_the_failed_one_among_them(
    client: Client, cast: Cast, certificate: Certificate, ship: Ship
) -> None:
    import pikepdf

    round_ = certificate.submission.test.round
    approved(failed(ship, round=round_), cast.superintendent)
    client.force_login(cast.manager)
    content = body(client.get(reverse("certificates:round_summary", args=[round_.pk])))
    with pikepdf.open(io.BytesIO(content)) as document:
        assert len(document.pages) == 3
    text = pdf_text(content)
    assert "no certificate" in text
    assert "This is a record of failure" in text
    assert "DR-26-031" in text


@pytest.mark.pdf
def test_what_is_approved_of_a_failed_test_is_the_record_of_failure(client: Client, cast: Cast, ship: Ship) -> None:
    failure = failed(ship)
    client.force_login(cast.manager)
    summary = reverse("certificates:round_summary", args=[failure.test.round_id])
    tags = reverse("certificates:tags", args=[failure.test.round_id])
    assert "record of failure, accepted aboard, shore review pending" in pdf_text(body(client.get(summary)))
    approved(failure, cast.superintendent)
    text = pdf_text(body(client.get(summary)))
    # In the list of drums and at the head of the drum's own page, and nowhere a bare "approved".
    assert text.count("record of failure, approved") == 2
    assert text.replace("record of failure, approved", "").replace("approved ashore", "").count("approved") == 0
    assert f"{failure.test.drum.name}: record of failure, approved" in pdf_text(body(client.get(tags)))


def test_a_round_without_any_test_still_gives_its_papers(client: Client, cast: Cast, certificate: Certificate) -> None:
    from tests.factories import RoundFactory

    empty = RoundFactory(vessel=cast.vessel)
    client.force_login(cast.officer)
    for name in ("tags", "round_summary"):
        assert client.get(reverse(f"certificates:{name}", args=[empty.pk])).status_code == 200


@pytest.mark.pdf
def test_the_summary_names_the_drums_not_begun(client: Client, cast: Cast, certificate: Certificate) -> None:
    from tests.factories import DrumFactory, WinchFactory

    DrumFactory(winch=WinchFactory(vessel=cast.vessel), name="Poop spare")
    client.force_login(cast.manager)
    address = reverse("certificates:round_summary", args=[certificate.submission.test.round_id])
    said = pdf_text(body(client.get(address))).split("Not begun in this round:")[1]
    assert "Poop spare" in said


def test_the_page_of_a_vessel_shows_certificates_and_failures(client: Client, cast: Cast, ship: Ship) -> None:
    certificate = certified(ship, cast.superintendent)
    failure = failed(ship)
    approved(failure, cast.superintendent)
    client.force_login(cast.auditor)
    shown = words(client.get(reverse("certificates:vessel_certificates", args=[cast.vessel.pk])))
    assert certificate.number in shown
    assert failure.test.drum.name in shown
    assert "could not be set" in shown
