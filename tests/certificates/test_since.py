"""What came after a certificate's test stands beside its state on every page and paper that shows the state."""

import csv
import io
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.certificates.models import Certificate
from fleet.certificates.services import certificate_withdraw
from fleet.drums.models import ASKS_RETEST, EventKind
from fleet.records.submissions import drum_test_reopen
from fleet.review.services import drum_test_withdraw
from tests.cast import Cast
from tests.certificates.records import SENT, Ship, approved, certified, drum_on, failed, send
from tests.certificates.test_views import archive_of, pdf_text, words
from tests.factories import BrakeEventFactory, RetestOrderFactory

pytestmark = pytest.mark.django_db
BEFORE = date(2025, 11, 20)
FAILED_WORDS = "a later test of this drum failed on 20 Nov 2026: could not be set"
SLIP_WORDS = "a retest has been asked for since: brake slipped unintended, 3 Nov 2026"


def sentences(certificate: Certificate) -> list[str]:
    """As a list knows them and as a single row asks for them: the same."""
    listed = Certificate.objects.whole().get(pk=certificate.pk)
    alone = Certificate.objects.get(pk=certificate.pk)
    assert listed.remarks == alone.remarks
    return [remark.sentence for remark in listed.remarks]


def old_certificate(cast: Cast, ship: Ship) -> Certificate:
    return certified(ship, cast.superintendent, drum_on(cast.vessel), tested_on=BEFORE)


def failed_after(cast: Cast, ship: Ship) -> Certificate:
    certificate = old_certificate(cast, ship)
    approved(failed(ship, certificate.submission.test.drum), cast.superintendent)
    return certificate


def slipped_after(cast: Cast, ship: Ship) -> Certificate:
    certificate = old_certificate(cast, ship)
    drum = certificate.submission.test.drum
    BrakeEventFactory(drum=drum, kind=EventKind.UNINTENDED_SLIP, happened_on=date(2026, 11, 3))
    return certificate


def test_a_certificate_with_nothing_after_it_has_no_remark(cast: Cast, ship: Ship) -> None:
    certificate = old_certificate(cast, ship)
    certified(ship, cast.superintendent)
    assert sentences(certificate) == []
    assert certificate.state_words == "issued"


@pytest.mark.parametrize(
    ("outcome", "code", "said"),
    [
        ("could_not_be_set", "could_not_be_set", FAILED_WORDS),
        ("out_of_use", "out_of_use", "failed on 20 Nov 2026: brake defective, drum out of use"),
        ("restricted", "restricted", "failed on 20 Nov 2026: restricted by the master until repaired"),
        ("stopped", "stopped", "a later test of this drum, on 20 Nov 2026, was stopped before the end"),
    ],
)
def test_each_way_a_later_test_ended_is_said_with_its_own_shape(
    cast: Cast, ship: Ship, outcome: str, code: str, said: str
) -> None:
    certificate = old_certificate(cast, ship)
    failure = failed(ship, certificate.submission.test.drum, outcome=outcome, remarks="rain")
    assert sentences(certificate) == [], "not before shore has approved the record"
    approved(failure, cast.superintendent)
    (remark,) = Certificate.objects.whole().get(pk=certificate.pk).remarks
    assert remark.code == code
    assert said in remark.sentence


def test_the_newest_of_two_failures_is_told(cast: Cast, ship: Ship) -> None:
    certificate = old_certificate(cast, ship)
    drum = certificate.submission.test.drum
    approved(failed(ship, drum, tested_on=date(2026, 3, 1), outcome="restricted"), cast.superintendent)
    approved(failed(ship, drum), cast.superintendent)
    assert sentences(certificate) == [FAILED_WORDS]


def test_a_failure_that_was_withdrawn_is_told_no_more(cast: Cast, ship: Ship) -> None:
    certificate = old_certificate(cast, ship)
    failure = failed(ship, certificate.submission.test.drum)
    approved(failure, cast.superintendent)
    drum_test_withdraw(test=failure.test, reason="wrong drum", actor=cast.superintendent)
    assert sentences(certificate) == []


def test_an_amendment_that_ended_in_failure_is_told_whatever_its_day(cast: Cast, ship: Ship) -> None:
    certificate = certified(ship, cast.superintendent)
    test = certificate.submission.test
    drum_test_reopen(test=test, reason="misread", actor=ship.officer)
    test.refresh_from_db()
    test.draft |= {"outcome": "restricted", "tested_on": "2026-11-19", "defect_reference": "D1", "who_was_told": "mate"}
    test.save()
    amended = send(test, ship, at=SENT.replace(day=22))
    approved(amended, cast.superintendent)
    assert sentences(certificate) == [
        "a later test of this drum failed on 19 Nov 2026: restricted by the master until repaired"
    ]


@pytest.mark.parametrize("kind", sorted(ASKS_RETEST))
def test_whatever_ends_what_the_test_showed_is_told(cast: Cast, ship: Ship, kind: str) -> None:
    certificate = old_certificate(cast, ship)
    BrakeEventFactory(drum=certificate.submission.test.drum, kind=kind, happened_on=date(2026, 11, 3))
    assert sentences(certificate) == [f"a retest has been asked for since: {EventKind(kind).label}, 3 Nov 2026"]


def test_what_asks_for_no_test_or_came_before_it_is_not_told(cast: Cast, ship: Ship) -> None:
    certificate = old_certificate(cast, ship)
    drum = certificate.submission.test.drum
    BrakeEventFactory(drum=drum, kind=EventKind.MOORINGS, happened_on=date(2026, 11, 3))
    BrakeEventFactory(drum=drum, kind=EventKind.UNINTENDED_SLIP, happened_on=BEFORE)
    BrakeEventFactory(kind=EventKind.UNINTENDED_SLIP, happened_on=date(2026, 11, 3))
    RetestOrderFactory(drum=drum, ordered_at=datetime(2025, 11, 1, tzinfo=UTC))
    RetestOrderFactory(
        drum=drum,
        ordered_at=datetime(2026, 11, 1, tzinfo=UTC),
        taken_back_at=datetime(2026, 11, 2, tzinfo=UTC),
        taken_back_reason="mistake",
    )
    assert sentences(certificate) == []


def test_an_order_from_shore_is_told_without_its_words(cast: Cast, ship: Ship) -> None:
    certificate = old_certificate(cast, ship)
    RetestOrderFactory(
        drum=certificate.submission.test.drum, ordered_at=datetime(2026, 11, 4, tzinfo=UTC), reason="Mate Rook said so"
    )
    assert sentences(certificate) == ["a retest has been asked for since: ordered 4 Nov 2026"]


def test_an_order_given_on_the_day_of_the_test_after_it_was_sent_is_told(cast: Cast, ship: Ship) -> None:
    certificate = old_certificate(cast, ship)
    sent_at = certificate.submission.submitted_at
    RetestOrderFactory(drum=certificate.submission.test.drum, ordered_at=sent_at + timedelta(minutes=90))
    assert len(sentences(certificate)) == 1


def test_a_good_test_after_the_slip_has_no_remark(cast: Cast, ship: Ship) -> None:
    old = slipped_after(cast, ship)
    assert sentences(old) == [SLIP_WORDS]
    new = certified(ship, cast.superintendent, old.submission.test.drum)
    assert sentences(new) == sentences(old) == []


def test_a_withdrawn_certificate_needs_no_word_on_a_retest(cast: Cast, ship: Ship) -> None:
    certificate = slipped_after(cast, ship)
    certificate_withdraw(certificate=certificate, reason="wrong gauge", actor=cast.superintendent)
    assert sentences(certificate) == []


@pytest.mark.parametrize(("after", "said"), [(failed_after, FAILED_WORDS), (slipped_after, SLIP_WORDS)])
def test_list_page_and_verification_say_it_beside_issued(
    client: Client, cast: Cast, ship: Ship, after: Any, said: str
) -> None:
    certificate = after(cast, ship)
    client.force_login(cast.auditor)
    pages = [
        reverse("certificates:certificate_list"),
        reverse("certificates:vessel_certificates", args=[cast.vessel.pk]),
        reverse("certificates:certificate", args=[certificate.pk]),
        reverse("certificates:verify", args=[certificate.code]),
    ]
    shown = [words(client.get(page)) for page in pages]
    for text in shown:
        assert "<span>issued</span>" in text
        assert f"<span>{said}</span>" in text
        assert "<span>in force</span>" not in text
        assert "Genuine, and in force" not in text
    for text in shown[2:]:
        assert "Do not rely on the setting until the brake is tested again." in text


def test_twenty_certificates_with_remarks_ask_no_more_than_one(
    client: Client, cast: Cast, ship: Ship, django_assert_num_queries: Any
) -> None:
    slipped_after(cast, ship)
    client.force_login(cast.auditor)
    pages = [
        reverse("certificates:certificate_list"),
        reverse("certificates:vessel_certificates", args=[cast.vessel.pk]),
    ]
    asked = []
    for page in pages:
        client.get(page)
        with CaptureQueriesContext(connection) as one:
            client.get(page)
        asked.append(len(one))
    for _ in range(10):
        failed_after(cast, ship)
        slipped_after(cast, ship)
    for page, number in zip(pages, asked, strict=True):
        with django_assert_num_queries(number):
            text = words(client.get(page))
        assert text.count(f"<span>{FAILED_WORDS}</span>") == 10


@pytest.mark.pdf
def test_the_pack_and_the_years_archive_say_it_too(client: Client, cast: Cast, ship: Ship) -> None:
    certificate = failed_after(cast, ship)
    client.force_login(cast.auditor)
    held = archive_of(client.get(reverse("certificates:inspection_pack", args=[cast.vessel.pk])))
    rows = list(csv.DictReader(io.StringIO(held["summary.csv"].decode("utf-8-sig"), newline="")))
    assert [row["state of the certificate"] for row in rows] == [f"issued; {FAILED_WORDS}"]
    assert FAILED_WORDS in pdf_text(held["summary.pdf"])
    held = archive_of(client.get(reverse("certificates:vessel_zip", args=[cast.vessel.pk, 2025])))
    rows = list(csv.DictReader(io.StringIO(held["index.csv"].decode("utf-8-sig"), newline="")))
    assert [(row["certificate"], row["state"], row["after its test"]) for row in rows] == [
        (certificate.number, "issued", FAILED_WORDS)
    ]


@pytest.mark.pdf
def test_no_tag_is_printed_for_a_brake_that_failed_or_slipped_since(client: Client, cast: Cast, ship: Ship) -> None:
    certificate = slipped_after(cast, ship)
    round_ = certificate.submission.test.round
    client.force_login(cast.officer)
    text = pdf_text(client.get(reverse("certificates:tags", args=[round_.pk])).content)
    assert "No tag for" in text
    assert f"certificate {certificate.number} issued; {SLIP_WORDS}" in text
    assert "59.7 %" not in text
    summary = pdf_text(client.get(reverse("certificates:round_summary", args=[round_.pk])).content)
    assert summary.count(SLIP_WORDS) == 2
