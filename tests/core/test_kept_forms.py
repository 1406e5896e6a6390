"""A form sent after the sign-in ran out comes back to the same person, filled in and unsent; to nobody else."""

from typing import Any

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from fleet.core.kept_forms import COOKIE, IN_SESSION, MOST_CHARACTERS
from fleet.records.models import DrumTest, Round
from fleet.vessels.models import Policy
from tests.cast import Cast
from tests.factories import DrumParticularsFactory
from tests.records.scenario import round_for, submitted

TYPED = {"valid_from": "2026-12-01", "reason": "Band narrowed after the audit", "share": "61"}


def expire(client: Client) -> None:
    """What a browser is left with when its session has run out."""
    del client.cookies[settings.SESSION_COOKIE_NAME]


def policy_page(cast: Cast) -> str:
    return f"{reverse('vessels:policy_new')}?company={cast.company.pk}"


def sent_too_late(client: Client, cast: Cast, **more: Any) -> Any:
    client.force_login(cast.superintendent)
    client.get(policy_page(cast))
    expire(client)
    referer = f"http://testserver{policy_page(cast)}"
    return client.post(policy_page(cast), {**TYPED, **more}, headers={"Referer": referer})


def test_the_same_person_finds_the_form_filled_and_unsent(client: Client, cast: Cast) -> None:
    before = Policy.objects.count()
    answer = sent_too_late(client, cast)
    assert answer.status_code == 302
    assert answer["Location"].startswith(reverse("account_login"))
    assert "policy" in answer["Location"]
    client.force_login(cast.superintendent)
    html = client.get(policy_page(cast)).content.decode()
    assert TYPED["reason"] in html
    assert 'value="61"' in html
    assert "nothing was sent yet" in html
    assert Policy.objects.count() == before
    # Once given back it is gone: a later visit starts from what stands.
    assert TYPED["reason"] not in client.get(policy_page(cast)).content.decode()


def test_another_person_signing_in_sees_nothing_of_it(client: Client, cast: Cast) -> None:
    sent_too_late(client, cast)
    client.force_login(cast.administrator)
    assert TYPED["reason"] not in client.get(policy_page(cast)).content.decode()
    assert IN_SESSION not in client.session
    client.force_login(cast.superintendent)
    assert TYPED["reason"] not in client.get(policy_page(cast)).content.decode()


def test_without_knowing_who_was_there_nothing_is_kept(client: Client, cast: Cast) -> None:
    answer = client.post(policy_page(cast), TYPED)
    assert answer.status_code == 302
    assert IN_SESSION not in client.session
    client.cookies[COOKIE] = "forged"
    client.post(policy_page(cast), TYPED)
    assert IN_SESSION not in client.session


def test_neither_passwords_nor_tokens_are_kept(client: Client, cast: Cast) -> None:
    sent_too_late(client, cast, password="a-secret-1", new_password2="a-secret-2", csrfmiddlewaretoken="t" * 64)
    kept = client.session[IN_SESSION]["data"]
    assert "secret" not in kept
    assert "csrf" not in kept


def test_a_form_too_large_is_not_kept(client: Client, cast: Cast) -> None:
    sent_too_late(client, cast, note="x" * (MOST_CHARACTERS + 1))
    assert IN_SESSION not in client.session


def test_files_cannot_be_kept_and_the_page_says_so(client: Client, cast: Cast) -> None:
    sent_too_late(client, cast, report=SimpleUploadedFile("report.pdf", b"%PDF-1.7 x"))
    assert "PDF" not in client.session[IN_SESSION]["data"]
    client.force_login(cast.superintendent)
    assert "Choose files again" in client.get(policy_page(cast)).content.decode()


def test_a_page_of_another_host_is_never_gone_to(client: Client, cast: Cast) -> None:
    client.force_login(cast.superintendent)
    client.get(policy_page(cast))
    expire(client)
    answer = client.post(policy_page(cast), TYPED, headers={"Referer": "http://elsewhere.example/trap"})
    assert "elsewhere" not in answer["Location"]
    answer = client.post(policy_page(cast), TYPED, headers={"Referer": "http://testserver//elsewhere.example/"})
    assert "elsewhere" not in answer["Location"]


def test_a_fragment_never_holds_the_sign_in_page(client: Client, cast: Cast) -> None:
    test = DrumTest.objects.create(
        round=round_for(cast),
        drum=DrumParticularsFactory(drum__winch__vessel=cast.vessel).drum,
        created_by=cast.officer,
    )
    client.force_login(cast.officer)
    page = reverse("records:test", args=[test.pk])
    client.get(page)
    expire(client)
    headers = {"HX-Request": "true", "HX-Current-URL": f"http://testserver{page}"}
    sent = {"base": '{"remarks": ""}', "revision": "0", "remarks": "wind rising"}
    answer = client.post(reverse("records:test_save", args=[test.pk]), sent, headers=headers)
    html = answer.content.decode()
    assert answer.status_code == 200
    assert answer["HX-Retarget"] == "#messages"
    assert "You are signed out" in html
    assert "<form" not in html
    assert f"next={page}" in html.replace("%2F", "/")
    client.force_login(cast.officer)
    html = client.get(page).content.decode()
    assert "wind rising" in html
    test.refresh_from_db()
    assert test.draft == {}


def test_a_valid_form_that_was_kept_is_not_carried_out_by_looking_at_it(client: Client, cast: Cast) -> None:
    """Beginning a test is one press: the form is valid as it stands."""
    round_ = round_for(cast)
    drum = DrumParticularsFactory(drum__winch__vessel=cast.vessel).drum
    client.force_login(cast.officer)
    page = reverse("records:test_start", args=[drum.pk])
    client.get(page)
    expire(client)
    client.post(page, {"test_id": "8c1d5f5e-6f0b-4f0a-9f57-1a2b3c4d5e6f", "round": str(round_.pk)})
    client.force_login(cast.officer)
    assert client.get(page).status_code == 200
    assert not DrumTest.objects.exists()
    assert Round.objects.count() == 1


@pytest.mark.parametrize(("origin", "status"), [("http://testserver", 302), ("http://elsewhere.example", 403)])
def test_a_stale_token_of_our_own_page_brings_the_form_back(cast: Cast, origin: str, status: int) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(cast.superintendent)
    client.get(policy_page(cast))
    headers = {"Origin": origin, "Referer": f"http://testserver{policy_page(cast)}"}
    answer = client.post(policy_page(cast), {**TYPED, "csrfmiddlewaretoken": "s" * 64}, headers=headers)
    assert answer.status_code == status
    html = client.get(policy_page(cast)).content.decode()
    assert (TYPED["reason"] in html) == (status == 302)


def test_of_a_page_with_several_forms_the_one_that_was_sent_comes_back(client: Client, cast: Cast) -> None:
    submission = submitted(cast)
    client.force_login(cast.superintendent)
    page = reverse("review:review", args=[submission.pk])
    client.get(page)
    expire(client)
    url = reverse("review:return", args=[submission.pk])
    client.post(url, {"sentence": "Show the mark"}, headers={"Referer": f"http://testserver{page}"})
    client.force_login(cast.superintendent)
    html = client.get(page).content.decode()
    assert html.count("Show the mark") == 1
    submission.test.refresh_from_db()
    assert submission.test.state == "submitted"
