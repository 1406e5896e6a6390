"""The practice pages: who may see them, one whole test by plain forms, and nothing that breaks or writes."""

from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleet.practice.deck_checks import DECK_CHECKS
from fleet.practice.moves import read
from fleet.practice.run import play
from tests.cast import Cast
from tests.practice.forms import FORM
from tests.practice.player import player

pytestmark = pytest.mark.django_db
START, RUN, MOVE = "/practice/", "/practice/run/", "/practice/move/"


def go_on(client: Client, address: str, **form: str) -> Any:
    return client.post(MOVE, {"run": address, **form})


def address_after(answer: Any) -> str:
    assert answer.status_code == 302, answer.content.decode()[:3000]
    return str(answer["Location"].split("run=", 1)[1].split("#")[0])


def test_the_addresses_are_where_the_names_say() -> None:
    assert [reverse(f"practice:{name}") for name in ("start", "run", "move")] == [START, RUN, MOVE]


def test_the_start_offers_three_levels_and_says_that_nothing_is_a_record(client: Client, cast: Cast) -> None:
    client.force_login(cast.officer)
    text = client.get(START).content.decode()
    assert text.count('href="/practice/run/?run=') == 3
    assert "PRACTICE" in text
    assert "Nothing here is a record" in text


def test_a_whole_test_by_plain_forms_ends_with_the_truth(client: Client, cast: Cast) -> None:
    played = player(1, 0)
    played.by_the_book()
    client.force_login(cast.officer)
    address = "1-0-0"
    for form in played.sent:
        page = client.get(RUN, {"run": address})
        assert page.status_code == 200
        assert "PRACTICE" in page.content.decode()
        address = address_after(go_on(client, address, **form))
    assert address == played.address.text
    text = client.get(RUN, {"run": address}).content.decode()
    assert "This virtual brake truly renders at" in text
    assert "Nothing. The order of the test was kept" in text
    assert "certificate" not in text.split("no record, no certificate")[0].split("<main")[1]


def test_a_refused_move_keeps_what_was_typed_and_says_what_to_do(client: Client, cast: Cast) -> None:
    played = player(1, 0)
    played.up_to_the_pump()
    client.force_login(cast.officer)
    answer = go_on(client, played.address.text, act="mark", mark="52;5")
    text = answer.content.decode()
    assert answer.status_code == 200
    assert 'value="52;5"' in text
    assert "Type digits only" in text
    assert f'value="{played.address.text}"' in text


def test_a_fragment_comes_alone_and_names_its_page(client: Client, cast: Cast) -> None:
    client.force_login(cast.officer)
    answer = client.post(MOVE, {"run": "1-0-0", "act": "side", "side": "L"}, headers={"HX-Request": "true"})
    text = answer.content.decode()
    assert text.lstrip().startswith('<div id="practice"')
    assert answer["HX-Replace-Url"] == "/practice/run/?run=1-0-0.sL"


@pytest.mark.parametrize(
    "text",
    ["", "x", "4-1-0", "1-1-0.", "1-1-0.k5", "1-1-0.zz", "1-1234567-0", "1-١-0", "1-1-0.sL.sL.c511.", "1" * 5000],
)
def test_an_address_that_describes_no_test_leads_to_the_start(client: Client, cast: Cast, text: str) -> None:
    client.force_login(cast.officer)
    page = client.get(RUN, {"run": text})
    assert page.status_code == 200
    assert "does not describe a practice test" in page.content.decode()
    assert client.post(MOVE, {"run": text, "act": "side"})["Location"] == START
    assert client.post(MOVE, {"run": text}, headers={"HX-Request": "true"})["HX-Redirect"] == START


def test_a_run_may_be_as_long_as_an_address_and_no_longer(client: Client, cast: Cast) -> None:
    played = player(1, 0)
    played.up_to_the_pump()
    address = played.address.text
    while len(address) < 1490:
        address += ".o"
    client.force_login(cast.officer)
    text = go_on(client, address, act="release").content.decode()
    assert "This practice has become very long" in text


@given(level=st.integers(1, 3), seed=st.integers(0, 30), at_the_pump=st.booleans(), forms=st.lists(FORM, max_size=6))
@settings(max_examples=12, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_no_forms_in_any_order_break_it_or_write_a_row(
    client: Client, cast: Cast, level: int, seed: int, at_the_pump: bool, forms: list[dict[str, str]]
) -> None:
    client.force_login(cast.officer)
    client.get(START)  # the cookie that names the person on this browser is set once
    played = player(level, seed)
    if at_the_pump:
        played.up_to_the_pump()
    address = played.address.text
    with CaptureQueriesContext(connection) as asked:
        for form in forms:
            answer = go_on(client, address, **form, **{f"check_{check.name}": "on" for check in DECK_CHECKS})
            assert answer.status_code in {200, 302}
            if answer.status_code == 302 and "run=" in answer["Location"]:
                address = address_after(answer)
            assert client.get(RUN, {"run": address}).status_code == 200
    assert [row["sql"] for row in asked.captured_queries if not row["sql"].lstrip().upper().startswith("SELECT")] == []
    assert play(read(address)).stage
