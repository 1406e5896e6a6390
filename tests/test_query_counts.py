"""No page asks the database more often because there is more to show: asked with few and with many."""

from urllib.parse import urlencode

import pytest
from django.core.cache import cache
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.certificates.models import Certificate
from fleet.core import pdf
from fleet.core.pdf import PdfUnavailable
from tests.access.addresses import addresses
from tests.access.asking import INSIDE, Asking, body, standing, where
from tests.access.growth import grow, look
from tests.access.people import Asker
from tests.access.table import ACT, TABLE, WRITE
from tests.access.world import build

ADDRESSES = addresses()
# A file stands for itself; a paper or an archive is made from rows, and is counted like a page.
FOR_ITSELF = {"drums:mark_picture", "records:photo", "gauges:calibration_document", "records:round_report"}
PAGES = [label for label, entry in TABLE.items() if entry.how not in {ACT, WRITE} and label not in FOR_ITSELF]
# Shore and ship, each with its own header; a page closed to both is asked for by whoever is let in.
ASKED_AS = ("our superintendent", "our officer", "our administrator")


def counted(asking: Asking, asker: Asker, url: str) -> tuple[list[str], int]:
    """The statements of one look, and the page's length."""
    with CaptureQueriesContext(
        connection,
    ) as asked:
        answer, _found = asking.ask(asker, "get", url)
        length = len(body(answer))
    assert answer.status_code in {200, 302, 404, 503}, (asker.label, url, answer.status_code)
    return [query["sql"] for query in asked.captured_queries], length


def asked_by(asking: Asking, label: str) -> list[Asker]:
    let_in = {row.label: row for row in asking.askers if standing(TABLE[label], row) == INSIDE}
    return [let_in[name] for name in ASKED_AS if name in let_in][:2]


def test_no_page_asks_more_of_the_database_with_twenty_than_with_one(
    db: None, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def unavailable() -> None:
        raise PdfUnavailable("no paper is drawn in this test")

    monkeypatch.setattr(pdf, "_weasyprint", unavailable)
    caplog.set_level("CRITICAL", "django.request")
    world = build()
    # An issued certificate has its paper; only one without is made from its snapshot when it is asked for.
    Certificate.objects.update(pdf=default_storage.save("certificates/paper.pdf", ContentFile(b"%PDF-1.7 %%EOF")))
    look(world)
    asking = Asking(world)
    # The trail's first page is full before; what one person did grows from one line to twenty.
    narrowed = {"review:audit": f"?{urlencode({'person': world.ours.person.name})}"}
    walked = [
        (label, asker, where(ADDRESSES[label], TABLE[label], world.ours) + narrowed.get(label, ""))
        for label in PAGES
        for asker in asked_by(asking, label)
    ]
    assert {label for label, _asker, _url in walked} == set(PAGES)
    for _label, asker, url in walked:  # what is kept between requests is filled
        body(asking.ask(asker, "get", url)[0])
    before = {(label, asker.label): counted(asking, asker, url) for label, asker, url in walked}
    grow(world)
    wrong, longer = [], set()
    for label, asker, url in walked:
        few, length = before[label, asker.label]
        many, grown = counted(asking, asker, url)
        if grown > length:
            longer.add(label)
        if len(many) > len(few):
            wrong.append(f"{label} as {asker.label}: {len(few)} grew to {len(many)}: {most_repeated(many)}")
    cache.clear()
    assert not wrong, "\n" + "\n".join(wrong)
    assert longer >= LISTS, LISTS - longer


# Pages that must have grown, else nothing was counted.
LISTS = {
    "vessels:vessel_list",
    "vessels:vessel",
    "vessels:policy_list",
    "vessels:people_list",
    "vessels:person",
    "vessels:me",
    "drums:drum_list",
    "drums:drum",
    "gauges:instrument_list",
    "gauges:gauge",
    "gauges:kit_new",
    "records:deck",
    "records:round",
    "records:round_new",
    "records:round_submit",
    "records:history",
    "drift:years",
    "records:test",
    "records:check",
    "certificates:certificate_list",
    "certificates:vessel_certificates",
    "review:today",
    "review:fleet",
    "review:review",
    "review:audit",
}


def most_repeated(statements: list[str]) -> str:
    """The kind of statement that came most often, without its values."""
    kinds = [statement.split(" WHERE ")[0][-160:] for statement in statements]
    return max(set(kinds), key=kinds.count)
