"""A submission held against its prediction on the review page, before anybody approves it."""

from datetime import date

import pytest
from django.test import Client

from fleet.drift.models import HistoryPoint
from fleet.records.models import Submission
from fleet.review.prediction import prediction_of
from tests.cast import Cast
from tests.drift.history import years_of
from tests.records.scenario import submitted
from tests.records.sent import send

pytestmark = pytest.mark.django_db
TODAY = date(2026, 11, 25)


def waiting(cast: Cast, mark_mm: float, as_found_share: float = 0.585) -> Submission:
    """The eighth year of a drum that began at 58 mm and wears by 0.9 mm a year."""
    drum = years_of(cast.vessel)[0]
    return send(
        drum,
        date(2026, 11, 2),
        state="submitted",
        setting_text=f"{mark_mm}",
        setting_unit="mm",
        setting_si=mark_mm / 1000,
        as_found_share=as_found_share,
        as_found_phase="as_found_untouched",
    )


def test_a_test_on_its_line_is_as_was_to_be_expected(cast: Cast) -> None:
    held = prediction_of(waiting(cast, 51.7), on=TODAY)
    assert held.sentence.startswith(
        "As was to be expected: for exactly the target the marker distance comes to 51.7 mm"
    )
    assert "As found 58.5 %, expected" in held.sentence
    assert held.picture is not None
    assert held.picture.inside
    assert (held.flags, held.warn) == ((), False)


def test_a_test_off_its_line_names_causes_and_check_and_changes_no_history(cast: Cast) -> None:
    kept = HistoryPoint.objects.count()
    submission = waiting(cast, 46.0)
    held = prediction_of(submission, on=TODAY)
    assert held.sentence.startswith("Not as expected")
    assert held.picture is not None
    assert not held.picture.inside
    assert any(flag.code == "outside_prediction" and "Likeliest" in flag.sentence for flag in held.flags)
    assert HistoryPoint.objects.count() == kept + 42
    assert not HistoryPoint.objects.filter(test=submission.test_id).exists()


def test_a_brake_found_far_stronger_than_it_was_left_is_not_as_expected_though_its_mark_is(cast: Cast) -> None:
    held = prediction_of(waiting(cast, 51.7, as_found_share=0.72), on=TODAY)
    assert held.sentence.startswith("Not as expected")
    assert held.picture is not None
    assert held.picture.inside


def test_a_first_test_and_one_without_its_load_say_why_there_is_nothing(cast: Cast) -> None:
    first = submitted(cast)
    assert "first test that can be followed" in prediction_of(first, on=TODAY).sentence
    stopped = send(first.test.drum, date(2026, 11, 24), state="submitted", outcome="stopped")
    assert "not both on record" in prediction_of(stopped, on=TODAY).sentence


def test_the_review_page_says_it_and_leads_to_the_years(client: Client, cast: Cast) -> None:
    submission = submitted(cast)
    client.force_login(cast.superintendent)
    page = client.get(f"/review/{submission.pk}/").content.decode()
    assert "Against what its years led to expect" in page
    assert f"/drums/{submission.test.drum_id}/years/" in page
