"""The database turned into histories: one company's, in a fixed number of queries, with what the records say."""

from datetime import date

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.calculation.drift_histories import LINING_RENEWED, UNTOUCHED
from fleet.drift.analysis import company_drift
from fleet.drift.histories import company_histories, day_of, decimal_year
from fleet.drift.services import point_of
from fleet.drums.models import EventKind
from tests.cast import Cast
from tests.drift.history import approved_in, keep, years_of
from tests.factories import BrakeEventFactory, DrumParticularsFactory, PolicyFactory
from tests.records.sent import send

pytestmark = pytest.mark.django_db
TODAY = date(2026, 1, 15)


def test_a_decimal_year_and_its_day_belong_together() -> None:
    assert decimal_year(date(2024, 7, 2)) == 2024.5  # 2024 has 366 days, 183 of them before 2 July
    for day in (date(2023, 1, 1), date(2024, 2, 29), date(2025, 12, 31)):
        assert abs((day_of(decimal_year(day)) - day).days) <= 1


def test_rows_are_of_one_company_sorted_and_in_si(cast: Cast) -> None:
    drums = years_of(cast.vessel, drums=2, years=range(2023, 2026))
    years_of(cast.foreign_vessel, drums=1)
    found = company_histories(cast.company, on=TODAY)
    histories = found.histories
    assert set(found.drums) == {drum.pk for drum in drums}
    assert histories.tests == 6
    of_first = histories.drum == found.drums[drums[0].pk]
    assert [int(year) for year in histories.year[of_first]] == [2023, 2024, 2025]
    assert 0.05 < histories.mark_si[of_first][0] < 0.06
    assert set(histories.as_found_kind) == {UNTOUCHED}
    # The factory's particulars: least setting 10 mm, tighter is shorter, least lining 7 mm.
    assert histories.mark_limit_si[0] == pytest.approx(0.010)
    assert histories.tighter_sign[0] == -1
    assert histories.lining_minimum_m[0] == pytest.approx(0.007)
    assert len(set(histories.round_id)) == 3


def test_the_next_due_date_follows_the_policy_and_is_never_past(cast: Cast) -> None:
    drums = years_of(cast.vessel, drums=1, years=range(2024, 2026))
    PolicyFactory(company=cast.company, interval_months=18)
    due = company_histories(cast.company, on=TODAY).histories.next_due_year
    assert day_of(due[0]).year == 2027
    late = company_histories(cast.company, on=date(2030, 1, 1)).histories.next_due_year
    assert late[0] == 2030.0
    assert drums


def test_the_dry_docking_is_the_vessels_and_only_a_coming_one(cast: Cast) -> None:
    years_of(cast.vessel, drums=1, years=range(2024, 2026))
    assert np.isnan(company_histories(cast.company, on=TODAY).histories.next_docking_year[0])
    cast.vessel.next_dry_docking = date(2027, 7, 2)
    cast.vessel.save()
    docking = company_histories(cast.company, on=TODAY).histories.next_docking_year[0]
    assert docking == pytest.approx(2027.5, abs=0.01)
    assert np.isnan(company_histories(cast.company, on=date(2028, 1, 1)).histories.next_docking_year[0])


def test_work_starts_the_mark_anew_and_a_slip_does_not(cast: Cast) -> None:
    drum = years_of(cast.vessel, drums=1, years=range(2023, 2026))[0]
    BrakeEventFactory(drum=drum, happened_on=date(2024, 5, 1), kind=EventKind.LINING_RENEWED)
    BrakeEventFactory(drum=drum, happened_on=date(2024, 6, 1), kind=EventKind.UNINTENDED_SLIP)
    BrakeEventFactory(drum=drum, happened_on=date(2024, 6, 2), kind=EventKind.MOORINGS, moorings_made=31)
    BrakeEventFactory(drum=drum, happened_on=date(2024, 7, 2), kind=EventKind.MOORINGS, moorings_made=9)
    histories = company_histories(cast.company, on=TODAY).histories
    assert list(histories.event_kind) == [LINING_RENEWED]
    assert list(np.nan_to_num(histories.moorings_since, nan=-1)) == [-1, 40, -1]
    assert list(company_drift(cast.company, on=TODAY).drift.tests.first_of_segment) == [True, True, False]


def test_a_test_without_load_or_setting_and_one_of_another_kind_are_left_out(cast: Cast) -> None:
    drum = years_of(cast.vessel, drums=1, years=range(2024, 2026))[0]
    keep(send(drum, date(2025, 12, 1), outcome="stopped"))
    keep(approved_in(drum, 2023, 50.0), setting_kind="spindle_torque")
    assert company_histories(cast.company, on=TODAY).histories.tests == 2


def test_a_test_that_waits_for_review_can_stand_among_the_approved(cast: Cast) -> None:
    drum = years_of(cast.vessel, drums=3)[0]
    waits = send(drum, date(2026, 1, 10), state="submitted", setting_si=0.051, setting_unit="mm", as_found_share=0.58)
    found = company_drift(cast.company, on=TODAY, with_point=point_of(waits))
    row = found.tests[waits.test_id]
    assert row == found.tests_of(drum.pk)[-1]
    prediction = found.drift.tests.mark
    assert prediction.low[row] < 0.0517 < prediction.high[row]  # 58 mm in 2019, less 0.9 mm a year


def test_the_number_of_queries_does_not_grow(cast: Cast) -> None:
    years_of(cast.vessel, drums=1, years=range(2025, 2026))
    with CaptureQueriesContext(connection) as few:
        company_histories(cast.company, on=TODAY)
    years_of(cast.sister, drums=4, years=range(2023, 2026))
    DrumParticularsFactory(drum__winch__vessel=cast.sister)
    with CaptureQueriesContext(connection) as many:
        company_histories(cast.company, on=TODAY)
    assert len(many) == len(few) <= 5
