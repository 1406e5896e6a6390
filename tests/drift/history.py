"""Years of approved tests of a company's drums, as rows: marks that wear on a straight line with a little scatter."""

from datetime import date
from random import Random
from typing import Any

from fleet.drift.models import HistoryPoint
from fleet.drift.services import history_point_keep
from fleet.drums.models import Drum
from fleet.records.models import Round, Submission
from fleet.vessels.models import Vessel
from tests.factories import RoundFactory
from tests.records.sent import send
from tests.records.ship import make_ship

WEAR_MM = 0.9
FIRST_MM = 58.0


def keep(submission: Submission, **columns: Any) -> HistoryPoint:
    """The point of a submission, with what its empty bytes do not hold."""
    history_point_keep(submission=submission)
    HistoryPoint.objects.filter(test=submission.test_id).update(**columns)
    return HistoryPoint.objects.get(test=submission.test_id)


def approved_in(
    drum: Drum,
    year: int,
    mark_mm: float,
    *,
    round: Round | None = None,
    share: float = 0.6,
    day: date | None = None,
    **columns: Any,
) -> Submission:
    """One approved test of a year, in November, with its point."""
    submission = send(
        drum,
        day or date(year, 11, 2),
        round=round,
        as_left_share=share,
        setting_text=f"{mark_mm:g}",
        setting_unit="mm",
        setting_si=mark_mm / 1000,
        **{
            "as_found_share": share - 0.03,
            "as_found_phase": "as_found_untouched",
            **columns,
        },
    )
    keep(submission, slope_share_per_si=17.0, gauge_share=0.004, lining_m=(11.6 - 0.25 * (year - 2019)) / 1000)
    return submission


def years_of(vessel: Vessel, *, drums: int = 6, years: range = range(2019, 2026)) -> list[Drum]:
    """So many drums of one vessel with so many years each."""
    ship, chance = make_ship(vessel, drums), Random(7)
    for year in years:
        round_ = RoundFactory(vessel=vessel, kit=ship.kit, started_on=date(year, 11, 2), closed_on=date(year, 11, 3))
        for place, drum in enumerate(ship.drums):
            mark = FIRST_MM + 3 * place - WEAR_MM * (year - years[0]) + chance.gauss(0, 0.15)
            share = 0.6 + chance.gauss(0, 0.004)
            approved_in(
                drum,
                year,
                round(mark, 1),
                round=round_,
                share=share,
                as_found_share=share - 0.015 + chance.gauss(0, 0.01),
            )
    return ship.drums
