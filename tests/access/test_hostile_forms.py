"""Forms that nobody fills in so: no address breaks, no script gets into a page, and what was typed comes back.

A seeded sample of right forms with some of their values replaced; how many were tried is printed at the end.
`FLEET_HOSTILE` sets how many at each address and `FLEET_HOSTILE_SEED` where they begin, as the long run does.
"""

import os
import random
from collections.abc import Iterator
from html import escape
from typing import Any

import pytest
from django import forms

from fleet.core import pdf
from fleet.core.pdf import PdfUnavailable
from tests.access.addresses import addresses
from tests.access.asking import INSIDE, Asking, body, standing, where
from tests.access.people import OURS_ASKS
from tests.access.table import PAGE, TABLE

EACH = int(os.environ.get("FLEET_HOSTILE", "2"))
SEED = os.environ.get("FLEET_HOSTILE_SEED", "")
SCRIPT = "<script>alert(7)</script>"
HOSTILE = (
    SCRIPT,
    '"><img src=x onerror=alert(7)>',
    "{{ 7|add:7 }}{% load x %}",
    "'; DROP TABLE core_auditentry; --",
    '=HYPERLINK("http://x")',
    "\x00",
    "a\x00b",
    "\ud7ff\uffff\U0010ffff",
    "\u202eright to left",
    "x" * 5000,
    "9" * 400,
    "1e999",
    "-1e308",
    "nan",
    "Infinity",
    "١٢٣",
    "0x1f",
    "12,5,5",
    "2026-02-30",
    "0000-00-00",
    "99999-12-31",
    "25:61",
    "00000000-0000-0000-0000-000000000000",
    "../../etc/passwd",
    "",
    " ",
    "\r\n\r\n",
    "on",
    "null",
    "[]",
    "{}",
)
ADDRESSES = addresses()
SENT = sorted(label for label in set(ADDRESSES) & set(TABLE) if TABLE[label].how != PAGE)
tried = {"forms": 0, "answers shown again": 0}


@pytest.fixture(autouse=True)
def no_paper(monkeypatch: pytest.MonkeyPatch) -> None:
    def unavailable() -> None:
        raise PdfUnavailable("no paper is drawn in this test")

    monkeypatch.setattr(pdf, "_weasyprint", unavailable)


@pytest.fixture(scope="module", autouse=True)
def count_told() -> Iterator[None]:
    yield
    print(f"\nhostile forms: {tried}")


def spoilt(right: dict[str, Any], chance: random.Random) -> dict[str, Any]:
    """A right form with some values replaced, some left out, and one field that nobody asked for."""
    sent = dict(right)
    for name in chance.sample(sorted(sent), k=chance.randint(1, len(sent)) if sent else 0):
        if chance.random() < 0.1:
            del sent[name]
        elif isinstance(sent[name], str | int | float | list) or chance.random() < 0.5:
            sent[name] = chance.choice(HOSTILE)
    sent[chance.choice(("extra", "id", "company", "state", "role", "__proto__"))] = chance.choice(HOSTILE)
    return sent


def lost(answer: Any, sent: dict[str, Any], text: str) -> list[str]:
    """Fields of text whose words are not in the page that shows the form again."""
    context = getattr(answer, "context", None)
    found = []
    for name, value in sent.items():
        for form in _bound_forms(context):
            field = form.fields.get(name)
            # A reading's own key is made by the page, not typed.
            by_hand = not name.endswith("_id")
            plain = by_hand and type(field) is forms.CharField and not isinstance(field.widget, forms.PasswordInput)
            if plain and form.errors and value.strip() and "\x00" not in value and escape(value) not in text:
                found.append(f"{name}={value[:40]!r}")
    return found


def _bound_forms(context: Any) -> list[forms.BaseForm]:
    names = ("form", "role_form", "access_form")
    found = [context.get(name) for name in names] if context is not None else []
    return [form for form in found if isinstance(form, forms.BaseForm) and form.is_bound]


@pytest.mark.parametrize("label", SENT)
@pytest.mark.filterwarnings("ignore")
def test_a_hostile_form_breaks_nothing_and_loses_nothing(asking: Asking, label: str, caplog: Any) -> None:
    caplog.set_level("CRITICAL")
    entry, world = TABLE[label], asking.world
    chance = random.Random(label + SEED)
    inside = [row for row in asking.askers if standing(entry, row) == INSIDE and row.kind == OURS_ASKS]
    url = where(ADDRESSES[label], entry, world.ours)
    wrong = []
    for _ in range(EACH):
        asker = chance.choice(inside)
        sent = spoilt(entry.sends(world) if entry.sends else {}, chance)
        sent = {name: value for name, value in sent.items() if value is not None}
        answer, _found = asking.ask(asker, "post", url, sent)
        tried["forms"] += 1
        text = body(answer)
        told = f"{asker.label}: {answer.status_code} for { {name: str(value)[:40] for name, value in sent.items()} }"
        if answer.status_code >= 500:
            wrong.append(told)
        if SCRIPT in text or "<img src=x" in text:
            wrong.append(f"a script in the page: {told}")
        if answer.status_code == 200:
            tried["answers shown again"] += 1
            words = {name: value for name, value in sent.items() if isinstance(value, str)}
            wrong += [f"lost {name}: {told}" for name in lost(answer, words, text)]
    assert not wrong, "\n".join(wrong[:5])
