"""Every list with a strip shows how far the load can be trusted, and no whisker where a record does not say it."""

import re

import pytest
from django.test import Client
from django.urls import reverse

from fleet.accounts.models import User
from fleet.certificates.models import Certificate
from fleet.core.pictures.render_strip import COMPACT
from fleet.records.models import Submission
from tests.cast import Cast
from tests.certificates.records import certified, ship_of, submitted

pytestmark = pytest.mark.django_db
LISTS = ("today", "deck", "history", "certificates", "of the vessel")


def lists(certificate: Certificate, cast: Cast) -> dict[str, tuple[User, str]]:
    """Each list with somebody who reads it."""
    test = certificate.submission.test
    return {
        "today": (cast.superintendent, reverse("review:today")),
        "deck": (cast.officer, reverse("records:deck", args=[cast.vessel.pk])),
        "history": (cast.officer, reverse("records:history", args=[test.drum_id])),
        "certificates": (cast.superintendent, reverse("certificates:certificate_list")),
        "of the vessel": (cast.superintendent, reverse("certificates:vessel_certificates", args=[cast.vessel.pk])),
    }


def strips(client: Client, reader: User, url: str) -> list[str]:
    client.force_login(reader)
    answer = client.get(url)
    assert answer.status_code == 200
    return re.findall(r'<svg class="pic strip compact".*?</svg>', answer.content.decode(), re.DOTALL)


def shown(client: Client, cast: Cast, name: str) -> list[str]:
    ship = ship_of(cast.vessel)
    certificate = certified(ship, cast.superintendent)
    if name == "today":
        submitted(ship)
    Submission.objects.update(estimate_share=0.59, expanded_share=0.021, verdict="in_band")
    return strips(client, *lists(certificate, cast)[name])


@pytest.mark.parametrize("name", LISTS)
def test_the_whisker_is_drawn_from_the_columns(client: Client, cast: Cast, name: str) -> None:
    found = shown(client, cast, name)
    assert found
    left, right = COMPACT.x(0.59 - 0.021), COMPACT.x(0.59 + 0.021)
    for strip in found:
        assert f"M{left:.1f},".replace(".0,", ",") in strip
        assert "With its uncertainty, 95 %: 56.9 to 61.1 %." in strip
        assert f"H{right:.1f}".removesuffix(".0") in strip


@pytest.mark.parametrize("name", LISTS)
def test_a_record_that_does_not_say_it_has_no_whisker(client: Client, cast: Cast, name: str) -> None:
    ship = ship_of(cast.vessel)
    certificate = certified(ship, cast.superintendent)
    if name == "today":
        submitted(ship)
    Submission.objects.update(estimate_share=None, expanded_share=None, verdict="")
    found = strips(client, *lists(certificate, cast)[name])
    assert found
    assert not any("uncertainty" in strip for strip in found)


def test_the_history_says_the_best_estimate_under_what_was_read(client: Client, cast: Cast) -> None:
    ship = ship_of(cast.vessel)
    certificate = certified(ship, cast.superintendent)
    Submission.objects.update(estimate_share=0.59, expanded_share=0.0213)
    reader, url = lists(certificate, cast)["history"]
    client.force_login(reader)
    assert "best estimate 59.0 ± 2.1" in client.get(url).content.decode()
