"""The analysis over the years for one company: what is known of each drum, and where to find it."""

from dataclasses import dataclass
from datetime import date
from uuid import UUID

import numpy as np

from fleet.accounts.models import Company
from fleet.calculation.drift import analyse
from fleet.calculation.drift_histories import IntArray
from fleet.calculation.drift_results import FleetDrift
from fleet.drift.histories import company_histories
from fleet.drift.models import HistoryPoint


@dataclass(frozen=True)
class CompanyDrift:
    """The result of one call over all drums of a company; keys of drums and tests lead to its rows."""

    drift: FleetDrift
    drums: dict[UUID, int]
    tests: dict[UUID, int]

    def tests_of(self, drum_id: UUID) -> IntArray:
        """Rows of a drum's tests, oldest first."""
        first, last = np.searchsorted(self.drift.histories.drum, [self.drums[drum_id], self.drums[drum_id] + 1])
        return np.arange(first, last)


def company_drift(company: Company, *, on: date, with_point: HistoryPoint | None = None) -> CompanyDrift:
    """Five queries and one call, however many drums there are; see ``company_histories``."""
    found = company_histories(company, on=on, with_point=with_point)
    return CompanyDrift(analyse(found.histories), found.drums, found.tests)
