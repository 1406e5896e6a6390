"""The fleet in figures: what counts as in date, in band and proven, what comes due, and the file of it."""

import csv
import io
from datetime import date, timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleet.drift.models import HistoryPoint
from fleet.review.fleet_watch import HEADER, fleet_figures
from fleet.vessels.models import Vessel
from tests.cast import Cast
from tests.certificates.records import Ship, certified, drum_on, failed
from tests.review.test_today import words

pytestmark = pytest.mark.django_db
FLEET = reverse("review:fleet")


def figures(cast: Cast, on: date | None = None):  # type: ignore[no-untyped-def]
    return fleet_figures(Vessel.objects.filter(company=cast.company), on=on or timezone.localdate())


def shares(cast: Cast, on: date | None = None) -> dict[str, int]:
    return {str(name): count for name, count, _share, _meant in figures(cast, on).shares}


def test_what_is_in_date_in_band_and_proven_is_counted_apart(cast: Cast, ship: Ship) -> None:
    day = timezone.localdate() - timedelta(days=10)
    good = certified(ship, cast.superintendent, tested_on=day).submission
    failed(ship, tested_on=day)
    drum_on(cast.vessel)
    type(good).objects.filter(pk=good.pk).update(estimate_share=0.60, expanded_share=0.02)
    assert shares(cast) == {"in date": 1, "in band": 1, "proven": 1}
    # A coarse gauge: in band as read, and no more than that.
    type(good).objects.filter(pk=good.pk).update(expanded_share=0.06)
    assert shares(cast)["proven"] == 0
    later = day + timedelta(days=500)
    assert shares(cast, later) == {"in date": 0, "in band": 1, "proven": 0}


def test_tests_are_counted_by_the_month_they_come_due(cast: Cast, ship: Ship) -> None:
    certified(ship, cast.superintendent, tested_on=date(2026, 11, 20))
    drum_on(cast.vessel)
    months = {month.label: month.count for month in figures(cast, date(2026, 11, 30)).months}
    assert months["November 2027"] == 1
    assert months["late or never tested"] == 1
    assert sum(months.values()) == 2


def worn(cast: Cast, ship: Ship, *, millimetres_a_year: float) -> None:
    """Eight drums whose linings were measured for five years and are lost at this rate."""
    certificate = certified(ship, cast.superintendent, tested_on=date(2026, 11, 20))
    point = HistoryPoint.objects.get(test=certificate.submission.test)
    for years in range(1, 5):
        earlier = certified(ship, cast.superintendent, point.drum, tested_on=date(2026 - years, 11, 20))
        HistoryPoint.objects.filter(test=earlier.submission.test).update(
            lining_m=(point.lining_m or 0) + years * millimetres_a_year / 1000,
        )


def test_linings_are_asked_for_before_a_docking_only_where_a_date_is_known(cast: Cast, ship: Ship) -> None:
    worn(cast, ship, millimetres_a_year=0.8)
    on = date(2026, 11, 30)
    (without,) = [needs for needs in figures(cast, on).dockings if needs.vessel == cast.vessel]
    assert (without.day, without.expected, without.unknown) == (None, 0, 1)
    Vessel.objects.filter(pk=cast.vessel.pk).update(next_dry_docking=date(2034, 5, 1))
    (late,) = [needs for needs in figures(cast, on).dockings if needs.vessel == cast.vessel]
    Vessel.objects.filter(pk=cast.vessel.pk).update(next_dry_docking=date(2027, 1, 15))
    (soon,) = [needs for needs in figures(cast, on).dockings if needs.vessel == cast.vessel]
    assert late.expected > soon.expected


def test_the_page_says_the_shares_first_and_the_file_has_every_drum(client: Client, cast: Cast, ship: Ship) -> None:
    certified(ship, cast.superintendent)
    drum_on(cast.vessel, drum__name="=1+1 drum")
    client.force_login(cast.people["manager"])
    shown = words(client.get(FLEET))
    assert "2 drums." in shown
    assert "Linings needed before dry-docking" in shown
    answer = client.get(reverse("review:fleet_csv"))
    assert answer["Content-Disposition"].startswith('attachment; filename="fleet-')
    rows = list(csv.reader(io.StringIO(answer.content.decode("utf-8-sig"))))
    assert rows[0] == list(HEADER)
    assert len(rows) == 3
    assert any(row[1] == "'=1+1 drum" for row in rows[1:])


def test_an_empty_fleet_is_told_what_to_do(client: Client, cast: Cast) -> None:
    client.force_login(cast.superintendent)
    assert "No drum is registered in your fleet yet" in words(client.get(FLEET))


@pytest.mark.parametrize(("role", "status"), [("manager", 200), ("officer", 403), ("auditor", 403), ("master", 403)])
def test_the_fleet_is_for_those_who_watch_it(client: Client, cast: Cast, role: str, status: int) -> None:
    client.force_login(cast.people[role])
    assert client.get(FLEET).status_code == status
