"""Keeping one point of the history for each approved test, and the whole of them again from the submissions."""

from collections.abc import Iterator

from django.db.models import Exists, OuterRef

from fleet.core.audit import audited
from fleet.drift.models import HistoryPoint
from fleet.drift.taken_out import taken_out
from fleet.records.canonical import read_content
from fleet.records.models import Decision, DecisionKind, DrumTest, Outcome, State, Submission

COPIED = (
    "tested_on",
    "setting_unit",
    "setting_si",
    "as_left_share",
    "as_found_phase",
    "as_found_share",
    "as_found_held",
    "target_share",
    "band_low",
    "band_high",
)
AT_ONCE = 500


def point_of(submission: Submission) -> HistoryPoint:
    """The point that a submission makes, not saved: for one that still waits for its approval too."""
    values = taken_out(
        read_content(submission), base_load_n=submission.base_load_n, target_share=submission.target_share
    )
    return HistoryPoint(
        test=submission.test,
        submission=submission,
        drum_id=submission.test.drum_id,
        round_id=submission.test.round_id,
        gauge_id=submission.gauge_id,
        set_in_band=submission.outcome == Outcome.SET_IN_BAND,
        **{name: getattr(submission, name) for name in COPIED},
        **values,
    )


def history_point_keep(*, submission: Submission) -> None:
    """The approved version becomes the test's point; the approval's own audit entry speaks for both."""
    with audited():
        HistoryPoint.objects.filter(test=submission.test_id).delete()
        point_of(submission).save()


def history_point_forget(*, test: DrumTest) -> None:
    """A withdrawn test counts no more."""
    with audited():
        HistoryPoint.objects.filter(test=test).delete()


def history_points_renew() -> int:
    """Throw all points away and make them again from the approved submissions; gives their number."""
    with audited():
        HistoryPoint.objects.all().delete()
        made, waiting = 0, []
        for submission in _counting():
            waiting.append(point_of(submission))
            if len(waiting) == AT_ONCE:
                made += len(HistoryPoint.objects.bulk_create(waiting))
                waiting = []
        return made + len(HistoryPoint.objects.bulk_create(waiting))


def _counting() -> Iterator[Submission]:
    """Of every test that counts the newest approved version."""
    approved = Decision.objects.filter(submission=OuterRef("pk"), kind=DecisionKind.APPROVED)
    later = Submission.objects.filter(Exists(approved), test=OuterRef("test"), version__gt=OuterRef("version"))
    rows = Submission.objects.filter(Exists(approved)).exclude(Exists(later)).exclude(test__state=State.WITHDRAWN)
    return rows.select_related("test").order_by("pk").iterator(chunk_size=AT_ONCE)
