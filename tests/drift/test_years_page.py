"""The page of one drum over the years: what is the matter first, then picture and table with the same figures."""

import re
from datetime import date
from html import unescape

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from fleet.accounts.models import Role, User
from fleet.drift.drum_years import DrumYears
from fleet.drums.models import Drum, EventKind
from tests.cast import Cast
from tests.drift.history import approved_in, years_of
from tests.factories import BrakeEventFactory, DrumParticularsFactory

pytestmark = pytest.mark.django_db
TODAY = date(2026, 1, 15)


@pytest.fixture(autouse=True)
def _today(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(timezone, "localdate", lambda *_arguments: TODAY)


def html(client: Client, drum: Drum, user: User, query: str = "") -> str:
    client.force_login(user)
    answer = client.get(f"/drums/{drum.pk}/years/{query}")
    assert answer.status_code == 200
    return unescape(answer.content.decode())


def words(page: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page))


def lead(page: str) -> str:
    return words(page.split('<div class="lead')[1].split("</div>")[0])


def test_a_brake_on_its_line_is_said_to_be_and_what_comes_next(client: Client, cast: Cast) -> None:
    drum = years_of(cast.vessel)[0]
    page = html(client, drum, cast.superintendent)
    assert "goes as it was expected to" in lead(page)
    low, high = re.search(r"leave it at ([\d.]+) to ([\d.]+) mm", lead(page)).groups()  # type: ignore[union-attr]
    # 58 mm in 2019 and 0.9 mm less each year: 51.7 mm in November 2026.
    assert float(low) < 51.7 < float(high)
    assert float(high) - float(low) < 4
    assert "comparable drums" in words(page)


def test_a_test_off_the_line_says_causes_and_check_and_withholds_the_forecast(client: Client, cast: Cast) -> None:
    drum = years_of(cast.vessel)[0]
    approved_in(drum, 2025, 45.0, day=date(2025, 12, 20))
    page = html(client, drum, cast.superintendent)
    said = lead(page)
    assert "tighter than its earlier tests allow" in said
    assert "45.0 mm, expected" in said
    assert "Likeliest:" in said
    assert "the lining is breaking up" in said
    assert "lining at three places" in said
    assert "Withheld: the newest test breaks the line" in words(page)
    assert "off the line" in words(page.split("years-table")[-1])


def test_the_picture_and_the_table_carry_the_same_figures(client: Client, cast: Cast) -> None:
    drum = years_of(cast.vessel, drums=3)[0]
    page = html(client, drum, cast.superintendent)
    picture, table = page.split('<svg class="pic years"')[1].split("</svg>")[0], page.split('id="years-table"')[1]
    said = re.findall(r'<a class="year-mark" href="#(test-[\w-]+)" aria-label="([^"]+)"', picture)
    assert len(said) == 14  # seven tests, each above and below
    for target, label in said:
        row = words(table.split(f'id="{target}"')[1].split("</tr>")[0])
        for figure in re.findall(r"\d+\.\d(?: mm)?", label):
            assert figure.removesuffix(" mm") in row, (label, row)
    # Every mark says its figures on hover (title) and has them to be shown on focus.
    assert picture.count('<g class="figures" visibility="hidden">') == picture.count("<title>")


def test_events_stand_between_and_new_lining_begins_anew(client: Client, cast: Cast) -> None:
    drum = years_of(cast.vessel)[0]
    BrakeEventFactory(drum=drum, happened_on=date(2024, 5, 1), kind=EventKind.LINING_RENEWED, note="in dock")
    page = html(client, drum, cast.superintendent)
    assert "new lining, May 2024" in words(page)
    assert "begins anew" in words(page.split('id="years-table"')[1].split("new lining: in dock")[0])


def test_zoom_by_years_keeps_to_them_and_ignores_nonsense(client: Client, cast: Cast) -> None:
    drum = years_of(cast.vessel)[0]
    page = html(client, drum, cast.superintendent, "?years=3")
    table = page.split('id="years-table"')[1]
    assert "2 Nov 2023" in words(table)
    assert "2 Nov 2022" not in words(table)
    assert "2 Nov 2019" in words(html(client, drum, cast.superintendent, "?years=99999"))


def test_a_drum_without_history_says_so(client: Client, cast: Cast) -> None:
    drum = DrumParticularsFactory(drum__winch__vessel=cast.vessel).drum
    assert "Nothing can be followed yet." in lead(html(client, drum, cast.superintendent))


@pytest.mark.parametrize("role", Role.values)
def test_whoever_sees_the_vessel_sees_its_years_and_nobody_else(client: Client, cast: Cast, role: str) -> None:
    drum = DrumParticularsFactory(drum__winch__vessel=cast.vessel).drum
    html(client, drum, cast.people[role])
    client.force_login(cast.foreign[role])
    assert client.get(f"/drums/{drum.pk}/years/").status_code == 404


def test_other_companies_drums_change_nothing(cast: Cast) -> None:
    drum = years_of(cast.vessel, drums=2)[0]
    before = DrumYears(drum, on=TODAY)
    said = before.lead, before.facts, before.coming
    years_of(cast.foreign_vessel, drums=3)
    after = DrumYears(drum, on=TODAY)
    assert (after.lead, after.facts, after.coming) == said


def test_the_number_of_queries_does_not_grow_with_the_years(client: Client, cast: Cast) -> None:
    drum = years_of(cast.vessel, drums=1, years=range(2025, 2026))[0]
    html(client, drum, cast.superintendent)
    with CaptureQueriesContext(connection) as few:
        html(client, drum, cast.superintendent)
    for year in range(2019, 2025):
        approved_in(drum, year, 58 - 0.9 * (year - 2019))
        BrakeEventFactory(drum=drum, happened_on=date(year, 3, 1))
    with CaptureQueriesContext(connection) as many:
        html(client, drum, cast.superintendent)
    assert len(many) <= len(few)
