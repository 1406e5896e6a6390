"""How far slips lay apart in earlier tests: of the drum, of the vessel's drums with this gauge, of the fleet."""

from collections.abc import Sequence
from datetime import date
from uuid import UUID

from fleet.records.canonical import read_content
from fleet.records.models import DrumTest, Phase, Submission
from fleet.records.newest import newest_versions
from fleet.records.vicinity import Vicinity


def earlier_slips(
    test: DrumTest, vicinity: Vicinity, *, gauge_id: UUID, before: date, enough: float
) -> list[tuple[float, ...]]:
    """The shares of each earlier test's verification slips, for ``slips.earlier_spread``.

    Of the drum's own tests the slips themselves. Of the sister drums' tests with the same gauge, as two slips that lie
    as far apart as the farthest did: for more slips than two that is a little on the wide side.
    Of them, those that had been sent when this test's round began: what is sent meanwhile must not change what was
    confirmed here. Where drum and vessel together say less than ``enough`` degrees of freedom, the company's other
    vessels are asked too, whatever their gauges: still better known than an assumption.
    """
    began = test.round.started_on
    known = newest_versions(row for row in vicinity.sent if row.submitted_at.date() < began)
    own = [slips_of(row) for row in vicinity.earlier(test) if row.tested_on <= before]
    sisters = [
        _two_slips(row.as_left_share, row.spread_share)
        for row in known
        if row.test.drum_id != test.drum_id
        and row.gauge_id == gauge_id
        and row.tested_on < before
        and row.as_left_share
        and row.spread_share is not None
        and row.spread_share < row.as_left_share
    ]
    found = [slips for slips in (*own, *sisters) if len(slips) > 1]
    if sum(len(slips) - 1 for slips in found) < enough:
        found += [_two_slips(*row) for row in vicinity.sent_elsewhere(began)]
    return found


def _two_slips(share: float, spread: float) -> tuple[float, float]:
    return share - spread / 2, share + spread / 2


def slips_of(submission: Submission) -> tuple[float, ...]:
    """The shares of the base load at the verification slips of a submission, out of its own bytes."""
    rows: Sequence[dict[str, object]] = read_content(submission)["readings"]
    return tuple(
        float(str(row["share"]))
        for row in rows
        if row["phase"] == Phase.VERIFICATION and row["slipped"] and row["share"]
    )
