"""Every address, asked by everyone in every way: the answer follows from the table of acts and from nothing else."""

import logging
from collections.abc import Iterator
from dataclasses import replace

import pytest
from django.urls import reverse

from fleet.core import pdf
from fleet.core.models import AuditEntry
from fleet.core.pdf import PdfUnavailable
from tests.access.addresses import addresses
from tests.access.asking import HIDDEN, INSIDE, REFUSED, Asking, body, expected, shown_of_others, standing, ways, where
from tests.access.choices import offered_of_others
from tests.access.people import FEW, NOT_SIGNED_IN, OURS_ASKS
from tests.access.table import PUBLIC, TABLE

ADDRESSES = addresses()
WALKED = sorted(set(ADDRESSES) & set(TABLE))


def entries_written() -> int:
    return AuditEntry.objects.count()


@pytest.fixture(autouse=True)
def quiet() -> Iterator[None]:
    """Thousands of refusals are not worth a line each."""
    logging.disable(logging.ERROR)
    yield
    logging.disable(logging.NOTSET)


@pytest.fixture(autouse=True)
def no_paper(monkeypatch: pytest.MonkeyPatch) -> None:
    """Who may have a paper is decided before it is drawn, and drawing takes a second: here none is drawn."""

    def unavailable() -> None:
        raise PdfUnavailable("no paper is drawn in this test")

    monkeypatch.setattr(pdf, "_weasyprint", unavailable)


def test_every_address_has_its_line_in_the_table() -> None:
    assert set(ADDRESSES) - set(TABLE) == set(), "addresses that nobody has said who may use"
    assert set(TABLE) - set(ADDRESSES) == set(), "lines of the table for addresses that do not exist"


@pytest.mark.parametrize("label", WALKED)
def test_everyone_gets_what_the_table_of_acts_says(asking: Asking, label: str) -> None:
    address, entry, world = ADDRESSES[label], TABLE[label], asking.world
    url = where(address, entry, world.ours)
    wrong = []
    for asker in asking.askers:
        for method, headers in ways(entry, asker):
            right = expected(entry, asker, method)
            answer, _found = asking.ask(asker, method, url, headers=headers)
            text = body(answer)
            told = f"{asker.label}: {method}{' by htmx' if headers else ''} {url}"
            if asker.kind == NOT_SIGNED_IN and entry.act != PUBLIC:
                if not leads_to_sign_in(answer, text, bool(headers)):
                    wrong.append(f"{told}: {answer.status_code}, not to the sign-in")
            elif answer.status_code not in right:
                wrong.append(f"{told}: {answer.status_code} instead of {sorted(right)}")
            elif others := shown_of_others(text, entry, asker, world):
                wrong.append(f"{told}: shows {others[:5]}")
            elif asker.kind == OURS_ASKS and (offered := offered_of_others(text, entry, asker, world)):
                wrong.append(f"{told}: offers {sorted(offered)[:5]}")
    assert not wrong, "\n" + "\n".join(wrong)


@pytest.mark.parametrize("label", [label for label in WALKED if TABLE[label].sends])
def test_a_right_form_is_taken_from_those_who_may_and_writes_nothing_for_the_rest(asking: Asking, label: str) -> None:
    address, entry, world = ADDRESSES[label], TABLE[label], asking.world
    assert entry.sends
    url = where(address, entry, world.ours)
    wrong = []
    for asker in asking.askers:
        before, stands = entries_written(), standing(entry, asker)
        if stands == INSIDE and asker.kind != OURS_ASKS:
            continue  # a page of the person's own: their own form would be another one
        answer, after = asking.ask(asker, "post", url, entry.sends(world), look=entries_written)
        right = expected(entry, asker, "post", complete=True)
        told = f"{asker.label}: {answer.status_code}"
        if answer.status_code not in right:
            wrong.append(f"{told} instead of {sorted(right)} {errors_in(answer)}")
        if stands in {HIDDEN, REFUSED} and after != before:
            wrong.append(f"{told} and {after - before} entries written")
        if stands == INSIDE and entry.done == {302} and after == before:
            wrong.append(f"{told} and nothing written")
    assert not wrong, "\n" + "\n".join(wrong)


@pytest.mark.parametrize("label", [label for label in WALKED if TABLE[label].also])
def test_things_in_every_state_are_shown_to_the_same_people(asking: Asking, label: str) -> None:
    address, entry, world = ADDRESSES[label], TABLE[label], asking.world
    wrong = []
    for thing, shown in entry.also.items():
        line = replace(entry, thing=thing, shown=shown)
        url = where(address, line, world.ours)
        for asker in asking.askers:
            if asker.label in {*FEW, "our superintendent", "our engineer"}:
                answer, _found = asking.ask(asker, "get", url)
                right = expected(line, asker, "get")
                if answer.status_code not in right:
                    wrong.append(f"{asker.label}: {thing}: {answer.status_code} instead of {sorted(right)}")
                if others := shown_of_others(body(answer), line, asker, world):
                    wrong.append(f"{asker.label}: {thing}: shows {others[:5]}")
    assert not wrong, "\n" + "\n".join(wrong)


def leads_to_sign_in(answer: object, text: str, by_htmx: bool) -> bool:
    sign_in = reverse("account_login")
    status = getattr(answer, "status_code", 0)
    if by_htmx and status == 200:  # said in the page's line of messages, with the link
        return sign_in in text and answer["HX-Retarget"] == "#messages"  # type: ignore[index]
    return status == 302 and answer["Location"].startswith(sign_in)  # type: ignore[index]


def errors_in(answer: object) -> object:
    context = getattr(answer, "context", None)
    form = context.get("form") if context else None
    return dict(form.errors) if form is not None and getattr(form, "is_bound", False) else ""
