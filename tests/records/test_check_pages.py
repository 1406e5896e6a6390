"""Check and release: what is missing, who stands for the figures, and sending them once."""

import re
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from fleet.records.assess import assess
from fleet.records.drafts import draft_save, drum_test_start
from fleet.records.merging import SentDraft
from fleet.records.models import Confirmation, ConfirmationKind, DrumTest, State, Submission
from fleet.records.submissions import instruments_confirm, master_release
from tests.cast import Cast
from tests.factories import DrumParticularsFactory, PolicyFactory
from tests.records.scenario import AT, GOOD_READINGS, confirm_and_submit, filled_test, round_for, submitted

NAMED = {"name": "Ines Halloran", "rank": "chief engineer"}


def sign_in(client: Client, user: Any) -> Client:
    client.force_login(user)
    return client


def page_of(client: Client, test: DrumTest) -> str:
    return client.get(reverse("records:check", args=[test.pk])).content.decode()


def seen(test: DrumTest) -> str:
    return assess(DrumTest.objects.whole().get(pk=test.pk)).content_sha256


def act(client: Client, test: DrumTest, what: str, **changes: str) -> Any:
    sent = {**NAMED, "seen": seen(test), "revision": str(test.draft_revision), "base": "{}", **changes}
    return client.post(reverse(f"records:{what}", args=[test.pk]), sent)


# --- who may ------------------------------------------------------------------------------------------------------

RIGHTS = {
    "officer": {"submit"},
    "engineer": {"confirm_instruments"},
    "master": {"release", "submit"},
    "superintendent": {"reopen"},
    "manager": set(),
    "auditor": set(),
    "administrator": set(),
}


@pytest.mark.parametrize("role", sorted(RIGHTS))
def test_each_act_is_for_its_role_alone(client: Client, cast: Cast, role: str) -> None:
    test = filled_test(cast)
    sign_in(client, cast.people[role])
    for name in ("confirm_instruments", "release", "submit", "reopen"):
        forbidden = act(client, test, name).status_code == 403
        assert forbidden == (name not in RIGHTS[role]), name
    reads = client.get(reverse("records:check", args=[test.pk])).status_code
    assert reads == (403 if role == "auditor" else 200)
    answer = client.get(reverse("records:round_submit", args=[test.round_id]))
    assert (answer.status_code == 200) == (role in {"officer", "master"})


def test_outsiders_find_nothing(client: Client, cast: Cast) -> None:
    test = filled_test(cast)
    for user in (cast.sister_officer, cast.foreign["master"], cast.foreign["superintendent"], cast.nobody):
        sign_in(client, user)
        for name in ("check", "confirm_instruments", "release", "submit", "reopen", "record"):
            assert client.get(reverse(f"records:{name}", args=[test.pk])).status_code == 404, name
            if name not in {"check", "record"}:
                assert act(client, test, name).status_code == 404
        assert client.post(reverse("records:round_submit", args=[test.round_id]), NAMED).status_code == 404
    assert not Confirmation.objects.exists()


BUTTONS = {"confirm_instruments": "Gauge and jack are fit: confirm", "release": "Release these figures"}


@pytest.mark.parametrize(
    ("role", "shown"),
    [("officer", set()), ("engineer", {"confirm_instruments"}), ("master", {"release"}), ("superintendent", set())],
)
def test_buttons_are_shown_to_those_who_may(client: Client, cast: Cast, role: str, shown: set[str]) -> None:
    test = filled_test(cast)
    html = page_of(sign_in(client, cast.people[role]), test)
    assert {name for name, words in BUTTONS.items() if words in html} == shown
    assert "Submit the test to shore" not in html


# --- what the page shows ------------------------------------------------------------------------------------------


def test_the_result_is_shown_in_figures_and_on_the_strip(client: Client, cast: Cast) -> None:
    test = filled_test(cast)
    html = page_of(sign_in(client, cast.officer), test)
    results = assess(test).results
    assert results
    assert f"<dd>{results.as_found_shown}</dd>" in html
    assert results.as_left_shown in html
    assert f"<dd>{results.spread_shown}</dd>" in html
    assert "49 mm" in html
    assert 'class="pic strip' in html


def test_what_is_missing_leads_to_its_field(client: Client, cast: Cast) -> None:
    test = filled_test(cast, draft={"outcome": "", "lining_2": "", "lining_3": "18,2,3"}, readings=GOOD_READINGS[:3])
    html = page_of(sign_in(client, cast.officer), test)
    entry = reverse("records:test", args=[test.pk])
    assert f'<a href="{entry}#id_outcome_0">Choose the outcome.</a>' in html
    assert f'<a href="{entry}#id_lining_2">' in html
    assert f'<a href="{entry}#id_lining_3">' in html
    assert "Submit the test to shore" not in html


def test_too_few_verification_slips_lead_to_the_readings(client: Client, cast: Cast) -> None:
    test = filled_test(cast, readings=GOOD_READINGS[:3])
    html = page_of(sign_in(client, cast.officer), test)
    assert f'href="{reverse("records:test", args=[test.pk])}#readings"' in html
    assert "asks for 2 verification slips; there are 1" in html


def test_without_figures_the_page_says_which_and_where(client: Client, cast: Cast) -> None:
    drum = DrumParticularsFactory(drum__winch__vessel=cast.vessel, figures={}).drum
    test = drum_test_start(drum=drum, round=round_for(cast), actor=cast.officer)
    html = page_of(sign_in(client, cast.officer), test)
    assert "The drum diameter is missing" in html
    assert reverse("records:prepare", args=[drum.pk]) in html


def findings_in(test: DrumTest) -> list[str]:
    return [finding.code for finding in assess(DrumTest.objects.whole().get(pk=test.pk)).findings]


def doubtful_test(cast: Cast) -> DrumTest:
    """A record that something stands out in: the drum was wet."""
    test = filled_test(cast, draft={"brake_state": "wet"})
    assert findings_in(test)
    return test


def test_a_reply_to_a_finding_is_saved_into_the_draft(client: Client, cast: Cast) -> None:
    test = doubtful_test(cast)
    code = findings_in(test)[0]
    sign_in(client, cast.officer)
    html = page_of(client, test)
    assert f'id="finding-{code}"' in html
    base = re.search(r'id="base" value="([^"]*)"', html)
    assert base
    sent = {
        f"reply_{code}": "It rained at noon; repeated dry.",
        "base": base[1].replace("&quot;", '"'),
        "revision": str(test.draft_revision),
        "page": "check",
    }
    answer = client.post(reverse("records:test_save", args=[test.pk]), sent)
    assert answer["Location"].startswith(reverse("records:check", args=[test.pk]))
    test.refresh_from_db()
    assert test.draft[f"reply_{code}"] == "It rained at noon; repeated dry."
    assert "It rained at noon" in page_of(sign_in(client, cast.superintendent), test)


# --- standing for it ----------------------------------------------------------------------------------------------


def test_name_and_rank_come_from_the_person_and_are_what_was_declared(client: Client, cast: Cast) -> None:
    test = filled_test(cast)
    sign_in(client, cast.engineer)
    html = page_of(client, test)
    assert f'value="{cast.engineer.name}"' in html
    assert f'value="{cast.engineer.rank}"' in html
    assert act(client, test, "confirm_instruments").status_code == 302
    row = Confirmation.objects.get()
    assert (row.kind, row.name, row.rank, row.person) == (
        ConfirmationKind.INSTRUMENTS,
        NAMED["name"],
        NAMED["rank"],
        cast.engineer,
    )
    assert f"Given by {row.rank} {row.name}" in page_of(client, test)
    act(client, test, "confirm_instruments")
    assert Confirmation.objects.count() == 1


def test_a_missing_name_is_asked_for_beside_the_field(client: Client, cast: Cast) -> None:
    test = filled_test(cast)
    sign_in(client, cast.engineer)
    html = act(client, test, "confirm_instruments", name="", rank="third engineer").content.decode()
    assert 'id="id_name_error"' in html
    assert 'value="third engineer"' in html
    assert not Confirmation.objects.exists()


def test_nobody_stands_for_figures_that_were_not_on_the_page(client: Client, cast: Cast) -> None:
    test = filled_test(cast)
    old = seen(test)
    draft_save(test=test, values={"final_mark": "48"}, revision=test.draft_revision, actor=cast.officer)
    sign_in(client, cast.engineer)
    answer = act(client, test, "confirm_instruments", seen=old)
    assert answer.status_code == 409
    assert "after you opened the page" in answer.content.decode()
    assert not Confirmation.objects.exists()


def test_a_word_given_for_other_figures_has_lapsed_and_says_so(client: Client, cast: Cast) -> None:
    test = filled_test(cast)
    sign_in(client, cast.engineer)
    act(client, test, "confirm_instruments")
    test = DrumTest.objects.get(pk=test.pk)
    draft_save(test=test, values={"final_mark": "48"}, revision=test.draft_revision, actor=cast.officer)
    html = page_of(client, test)
    assert "for other figures" in html
    assert "must be given again" in html
    assert BUTTONS["confirm_instruments"] in html


def test_an_incomplete_record_is_not_confirmed(client: Client, cast: Cast) -> None:
    test = filled_test(cast, draft={"outcome": ""})
    sign_in(client, cast.engineer)
    answer = act(client, test, "confirm_instruments")
    assert "Choose the outcome." in answer.content.decode()
    assert not Confirmation.objects.exists()


# --- sending ------------------------------------------------------------------------------------------------------


def test_three_people_bring_the_test_ashore(client: Client, cast: Cast) -> None:
    test = filled_test(cast)
    act(sign_in(client, cast.engineer), test, "confirm_instruments")
    act(sign_in(client, cast.master), test, "release")
    sign_in(client, cast.officer)
    assert "Submit the test to shore" in page_of(client, test)
    assert act(client, test, "submit", name="Ada Voss", rank="chief officer").status_code == 302
    submission = Submission.objects.get()
    html = page_of(client, test)
    assert "accepted aboard, shore review pending" in html
    assert submission.sha256[:12] in html
    assert "chief officer Ada Voss" in html
    assert "Version 1 arrived" in html


def test_twice_submitted_is_once_recorded(client: Client, cast: Cast) -> None:
    PolicyFactory(company=cast.company, engineer_confirms=False, master_releases=False)
    test = filled_test(cast)
    sign_in(client, cast.officer)
    sent = seen(test)
    assert act(client, test, "submit", seen=sent).status_code == 302
    assert act(client, test, "submit", seen=sent).status_code == 302
    assert Submission.objects.count() == 1


def test_without_their_word_it_is_not_sent(client: Client, cast: Cast) -> None:
    test = filled_test(cast)
    sign_in(client, cast.officer)
    answer = act(client, test, "submit")
    assert answer.status_code == 409
    assert "The master has not released these figures." in answer.content.decode()
    assert not Submission.objects.exists()


def test_a_reply_typed_beside_the_button_is_saved_and_asks_for_their_word_again(client: Client, cast: Cast) -> None:
    test = doubtful_test(cast)
    code = findings_in(test)[0]
    act(sign_in(client, cast.engineer), test, "confirm_instruments")
    act(sign_in(client, cast.master), test, "release")
    sign_in(client, cast.officer)
    sent = {f"reply_{code}": "dry again", "base": f'{{"reply_{code}": ""}}'}
    assert SentDraft.read(sent).changed == {f"reply_{code}": "dry again"}
    answer = act(client, test, "submit", **sent)
    assert answer.status_code == 409
    test.refresh_from_db()
    assert test.draft[f"reply_{code}"] == "dry again"
    assert not Submission.objects.exists()


# --- the round ----------------------------------------------------------------------------------------------------


def ready_round(cast: Cast, number: int) -> list[DrumTest]:
    round_ = round_for(cast)
    made = []
    for place in range(number):
        mark = str(49 + place)
        readings = tuple((phase, mark, gauge, slip, again) for phase, _mark, gauge, slip, again in GOOD_READINGS)
        made.append(filled_test(cast, round=round_, draft={"final_mark": mark, "old_mark": mark}, readings=readings))
    return made


def test_the_round_sends_what_is_ready_and_names_what_is_not(client: Client, cast: Cast) -> None:
    PolicyFactory(company=cast.company, engineer_confirms=False, master_releases=False)
    first, second = ready_round(cast, 2)
    open_one = filled_test(cast, round=first.round, draft={"outcome": ""})
    sign_in(client, cast.officer)
    url = reverse("records:round_submit", args=[first.round_id])
    html = client.get(url).content.decode()
    assert "2 tests are ready to be sent together." in html
    assert str(open_one.drum) in html
    assert f'href="{reverse("records:test", args=[open_one.pk])}#id_outcome_0"' in html
    sent = {**NAMED, "test": [str(first.pk), str(second.pk)]}
    for test in (first, second):
        sent[f"seen_{test.pk}"] = seen(test)
    assert client.post(url, sent).status_code == 302
    assert set(Submission.objects.values_list("test", flat=True)) == {first.pk, second.pk}
    client.post(url, sent)
    assert Submission.objects.count() == 2
    open_one.refresh_from_db()
    assert open_one.state == State.DRAFT


def test_a_round_is_sent_only_as_it_was_seen(client: Client, cast: Cast) -> None:
    PolicyFactory(company=cast.company, engineer_confirms=False, master_releases=False)
    first, second = ready_round(cast, 2)
    sign_in(client, cast.officer)
    sent: dict[str, Any] = {**NAMED, "test": [str(first.pk), str(second.pk)]}
    for test in (first, second):
        sent[f"seen_{test.pk}"] = seen(test)
    draft_save(test=second, values={"remarks": "new"}, revision=second.draft_revision, actor=cast.master)
    html = client.post(reverse("records:round_submit", args=[first.round_id]), sent).content.decode()
    assert "after you opened the page" in html
    assert not Submission.objects.exists()


def test_a_round_is_sent_whole_or_not_at_all_when_a_release_lapsed_meanwhile(client: Client, cast: Cast) -> None:
    first, second = ready_round(cast, 2)
    for test in (first, second):
        instruments_confirm(test=test, name="Ines Halloran", rank="chief engineer", actor=cast.engineer)
        master_release(test=test, name="Tomas Brandt", rank="master", actor=cast.master)
    sign_in(client, cast.officer)
    sent: dict[str, Any] = {**NAMED, "test": [str(first.pk), str(second.pk)]}
    for test in (first, second):
        sent[f"seen_{test.pk}"] = seen(test)
    draft_save(test=second, values={"remarks": "new"}, revision=second.draft_revision, actor=cast.master)
    html = client.post(reverse("records:round_submit", args=[first.round_id]), sent).content.decode()
    assert "after you opened the page" in html
    assert not Submission.objects.exists()


def test_a_round_sent_twice_is_told_twice_that_it_arrived(client: Client, cast: Cast) -> None:
    PolicyFactory(company=cast.company, engineer_confirms=False, master_releases=False)
    tests = ready_round(cast, 2)
    sign_in(client, cast.officer)
    sent: dict[str, Any] = {**NAMED, "test": [str(test.pk) for test in tests]}
    url = reverse("records:round_submit", args=[tests[0].round_id])
    for _press in range(2):
        assert "2 tests have arrived ashore." in client.post(url, sent, follow=True).content.decode()
    assert "No test was chosen" in client.post(url, NAMED).content.decode()
    assert Submission.objects.count() == 2


def test_the_round_asks_for_a_name(client: Client, cast: Cast) -> None:
    PolicyFactory(company=cast.company, engineer_confirms=False, master_releases=False)
    (test,) = ready_round(cast, 1)
    sign_in(client, cast.officer)
    url = reverse("records:round_submit", args=[test.round_id])
    html = client.post(url, {"name": "", "rank": "mate", "test": [str(test.pk)]}).content.decode()
    assert 'id="id_name_error"' in html
    assert 'value="mate"' in html
    assert not Submission.objects.exists()


# --- cost ---------------------------------------------------------------------------------------------------------


def test_the_round_asks_as_often_for_eight_tests_as_for_one(
    client: Client, cast: Cast, django_assert_max_num_queries: Any
) -> None:
    (test,) = ready_round(cast, 1)
    sign_in(client, cast.officer)
    url = reverse("records:round_submit", args=[test.round_id])
    client.get(url)
    with django_assert_max_num_queries(60) as few:
        client.get(url)
    for _count in range(7):
        filled_test(cast, round=test.round)
    with django_assert_max_num_queries(len(few.captured_queries)):
        client.get(url)


def test_the_page_asks_as_often_late_in_a_history_as_early(
    client: Client, cast: Cast, django_assert_max_num_queries: Any
) -> None:
    test = filled_test(cast)
    sign_in(client, cast.officer)
    url = reverse("records:check", args=[test.pk])
    page_of(client, test)
    with django_assert_max_num_queries(60) as few:
        client.get(url)
    for _count in range(3):
        submitted(cast, round=test.round)
    with django_assert_max_num_queries(len(few.captured_queries)):
        client.get(url)


def test_a_sent_test_is_shown_as_it_was_sent(client: Client, cast: Cast) -> None:
    submission = confirm_and_submit(cast, filled_test(cast), at=AT)
    html = page_of(sign_in(client, cast.manager), submission.test)
    assert "20 Nov 2026 12:00 UTC" in html
    assert submission.sha256[:12] in html


def test_a_draft_begun_by_mistake_is_set_aside_from_its_own_page(cast: Cast, client: Client) -> None:
    test = filled_test(cast)
    client.force_login(cast.officer)
    address = reverse("records:set_aside", args=[test.pk])
    assert address in client.get(reverse("records:check", args=[test.pk])).content.decode()
    refused = client.post(address, {"reason": ""})
    assert refused.status_code == 200
    sent = client.post(address, {"reason": "begun on the wrong drum"}, follow=True)
    assert "set aside" in sent.content.decode()
    test.refresh_from_db()
    assert test.state == State.WITHDRAWN
