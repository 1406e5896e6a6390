"""A superintendent's own flags: raised with a word, standing in Today, cleared with a word."""

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from fleet.core.models import AuditEntry
from fleet.review.flags import drum_flag_clear, drum_flag_raise
from fleet.review.models import DrumFlag
from tests.cast import Cast
from tests.certificates.records import drum_on
from tests.review.test_today import queue, words

pytestmark = pytest.mark.django_db


def test_a_flag_stands_in_today_until_it_is_cleared(client: Client, cast: Cast) -> None:
    drum = drum_on(cast.vessel)
    client.force_login(cast.superintendent)
    sent = client.post(reverse("review:flag_new", args=[drum.pk]), {"word": "Mark looks low in the photo."})
    assert sent.status_code == 302
    shown = words(client.get(reverse("review:today"), {"reason": "flag"}))
    assert "Mark looks low in the photo." in shown
    assert f"Flagged by {cast.superintendent.name}" in shown
    flag = DrumFlag.objects.get()
    cleared = client.post(reverse("review:flag_clear", args=[flag.pk]), {"word": "Seen aboard, all well."})
    assert cleared.status_code == 302
    assert "Mark looks low" not in words(client.get(reverse("review:today")))
    flag.refresh_from_db()
    assert (flag.cleared_by, flag.cleared_word) == (cast.superintendent, "Seen aboard, all well.")
    actions = AuditEntry.objects.filter(subject_id=flag.pk).values_list("action", "reason")
    assert list(actions) == [
        ("drum flagged", "Mark looks low in the photo."),
        ("flag cleared", "Seen aboard, all well."),
    ]


def test_without_a_word_nothing_is_raised_or_cleared(cast: Cast) -> None:
    drum = drum_on(cast.vessel)
    with pytest.raises(ValidationError, match="what to watch"):
        drum_flag_raise(drum=drum, word="  ", actor=cast.superintendent)
    flag = drum_flag_raise(drum=drum, word="watch", actor=cast.superintendent)
    with pytest.raises(ValidationError, match="why it is cleared"):
        drum_flag_clear(flag=flag, word=" ", actor=cast.superintendent)
    assert DrumFlag.objects.standing().get() == flag


def test_a_second_press_raises_once_and_clears_once(cast: Cast) -> None:
    drum = drum_on(cast.vessel)
    first = drum_flag_raise(drum=drum, word="watch", actor=cast.superintendent)
    assert drum_flag_raise(drum=drum, word="watch ", actor=cast.superintendent) == first
    drum_flag_clear(flag=first, word="done", actor=cast.superintendent)
    with pytest.raises(ValidationError, match="already been cleared"):
        drum_flag_clear(flag=first, word="done again", actor=cast.superintendent)
    assert [item.reason for item in queue(cast).items if item.reason == "flag"] == []
