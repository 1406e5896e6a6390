"""The whole fleet in figures: in date, in band, proven; what comes due; which linings will not last; drums in order."""

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from uuid import UUID

import numpy as np
from django.db.models import QuerySet
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from fleet.accounts.models import Company
from fleet.calculation import units
from fleet.calculation.drift_results import DOCKING, DUE, WITHHELD
from fleet.drift.analysis import CompanyDrift, company_drift
from fleet.drums.models import Drum
from fleet.records.due import DrumState, drum_states
from fleet.records.models import Outcome, Submission
from fleet.review.queue import consequence_of
from fleet.vessels.models import Vessel, policies_for

MONTHS_AHEAD = 12
# A lining is named for a docking from this chance on, and counted as needed from the second.
WORTH_NAMING, LIKELY = 0.1, 0.5


@dataclass(frozen=True)
class Chance:
    """A forecast for one drum, or why there is none (a code of WITHHELD)."""

    probability: float | None
    withheld: str = ""

    @property
    def shown(self) -> str:
        return "" if self.probability is None else f"{units.shown(100 * self.probability, 0)} %"


@dataclass(frozen=True)
class FleetDrum:
    """One fitted drum as the fleet sees it today."""

    drum: Drum
    state: DrumState
    in_date: bool
    in_band: bool
    proven: bool
    consequence: float
    """Points expected outside the band at the last test, as the operator weighs them."""
    lining_at_docking: Chance
    out_of_band_by_next_test: Chance

    @property
    def last(self) -> Submission | None:
        return self.state.last


@dataclass(frozen=True)
class DockingNeeds:
    """The linings that will be needed before a vessel's next dry-docking."""

    vessel: Vessel
    day: date | None
    expected: float
    """How many linings are expected to reach their minimum: the sum of the chances."""
    named: list[FleetDrum]
    unknown: int

    @property
    def expected_shown(self) -> str:
        return units.shown(self.expected, 1)


@dataclass(frozen=True)
class DueMonth:
    label: str
    count: int
    vessels: str


@dataclass(frozen=True)
class FleetFigures:
    drums: list[FleetDrum]
    months: list[DueMonth]
    dockings: list[DockingNeeds]

    @property
    def shares(self) -> list[tuple[str, int, str, str]]:
        """(what, how many, share of all, how it is meant)."""
        rows = [
            (
                _("in date"),
                sum(row.in_date for row in self.drums),
                _("a good test not older than the policy's interval"),
            ),
            (_("in band"), sum(row.in_band for row in self.drums), _("last test set in the operator's band, as read")),
            (
                _("proven"),
                sum(row.proven for row in self.drums),
                _("and in the band with the whole of its uncertainty"),
            ),
        ]
        total = len(self.drums) or 1
        return [(name, count, f"{units.digits(count / total, 'percent')} %", meant) for name, count, meant in rows]


def fleet_figures(vessels: QuerySet[Vessel], *, on: date) -> FleetFigures:
    """Everything the page and its export show, in a number of queries that only grows with the companies."""
    fitted = Drum.objects.filter(winch__vessel__in=vessels).fitted().select_related("winch__vessel")
    drums = {drum.pk: drum for drum in fitted}
    states = drum_states(drums.values(), on)
    policies = policies_for(dict(vessels.values_list("pk", "company_id")), on)
    weights = {vessel: float(policy.tight_weight) for vessel, policy in policies.items()}
    companies = Company.objects.filter(pk__in=vessels.order_by().values("company"))
    analyses = {company.pk: company_drift(company, on=on) for company in companies}
    rows = [
        _fleet_drum(drum, states[key], weights[drum.winch.vessel_id], analyses[drum.winch.vessel.company_id])
        for key, drum in drums.items()
    ]
    rows.sort(key=_worst_first)
    return FleetFigures(rows, list(_months(rows, on)), list(_dockings(rows)))


def _worst_first(row: FleetDrum) -> tuple[object, ...]:
    failed = bool(row.last and row.last.outcome != Outcome.SET_IN_BAND)
    chance = row.out_of_band_by_next_test.probability or 0.0
    drum = row.drum
    return (not failed, -row.consequence, -chance, row.in_date, drum.winch.vessel.name, drum.area_order, drum.order)


def _fleet_drum(drum: Drum, state: DrumState, tight_weight: float, analysis: CompanyDrift) -> FleetDrum:
    last = state.last
    good = bool(last and last.outcome == Outcome.SET_IN_BAND)
    whisker = last.whisker if last else None
    return FleetDrum(
        drum=drum,
        state=state,
        in_date=state.due_state in {"in_date", "due"},
        in_band=good,
        proven=bool(good and last and whisker and last.band_low <= whisker[0] and whisker[1] <= last.band_high),
        consequence=100 * float(consequence_of(last, tight_weight).weighted) if last else 0.0,
        lining_at_docking=_chance(analysis, drum.pk, "lining_minimum", "lining_withheld", DOCKING),
        out_of_band_by_next_test=_chance(analysis, drum.pk, "as_found_out", "as_found_withheld", DUE),
    )


def _chance(analysis: CompanyDrift, drum: UUID, name: str, withheld: str, horizon: int) -> Chance:
    place, forecast = analysis.drums[drum], analysis.drift.forecast
    why = WITHHELD[int(getattr(forecast, withheld)[place, horizon])]
    value = float(getattr(forecast, name)[place, horizon])
    return Chance(None, why or "no_history") if why or np.isnan(value) else Chance(value)


def _months(rows: Iterable[FleetDrum], on: date) -> Iterator[DueMonth]:
    """What is late, then the coming months one by one."""
    by_month: dict[int, Counter[str]] = {}
    for row in rows:
        due = row.state.due_on
        months = -1 if due is None or due < on else (due.year - on.year) * 12 + due.month - on.month
        by_month.setdefault(months, Counter())[row.drum.winch.vessel.name] += 1
    for months in range(-1, MONTHS_AHEAD + 1):
        found = by_month.get(months, Counter())
        year, month = divmod(on.month - 1 + months, 12)
        label = _("late or never tested") if months < 0 else date_format(date(on.year + year, month + 1, 1), "F Y")
        named = ", ".join(f"{name} {count}" for name, count in sorted(found.items()))
        yield DueMonth(label, sum(found.values()), named)


def _dockings(rows: Iterable[FleetDrum]) -> Iterator[DockingNeeds]:
    by_vessel: dict[UUID, list[FleetDrum]] = {}
    for row in rows:
        by_vessel.setdefault(row.drum.winch.vessel_id, []).append(row)
    found = []
    for drums in by_vessel.values():
        vessel = drums[0].drum.winch.vessel
        chances = [row.lining_at_docking.probability for row in drums]
        known = [chance for chance in chances if chance is not None]
        named = [row for row in drums if (row.lining_at_docking.probability or 0.0) >= WORTH_NAMING]
        named.sort(key=lambda row: -(row.lining_at_docking.probability or 0.0))
        found.append(
            DockingNeeds(vessel, vessel.next_dry_docking, sum(known), named, sum(chance is None for chance in chances))
        )
    yield from sorted(found, key=lambda needs: (needs.day or date.max, needs.vessel.name))


HEADER = (
    "vessel", "drum", "place", "state", "due by", "last test", "outcome", "as found %", "as left %", "best estimate %",
    "uncertainty ± points", "in date", "in band", "proven", "expected outside the band, weighted points",
    "chance out of band by the next test", "next dry-docking", "chance that the lining reaches its minimum by then",
)  # fmt: skip


def export_rows(figures: FleetFigures) -> Iterator[tuple[str, ...]]:
    """What the page shows of each drum, as text."""
    for row in figures.drums:
        last, vessel = row.last, row.drum.winch.vessel
        shares = (last.as_found_share, last.as_left_share, last.estimate_share) if last else (None, None, None)
        yield (
            vessel.name,
            row.drum.name,
            str(row.drum.place),
            row.state.due_state.replace("_", " "),
            row.state.due_on.isoformat() if row.state.due_on else "",
            last.tested_on.isoformat() if last else "",
            str(last.get_outcome_display()) if last else "",
            *("" if share is None else units.digits(share, "percent") for share in shares),
            units.digits(last.expanded_share, "percent") if last and last.expanded_share is not None else "",
            *(_("yes") if held else _("no") for held in (row.in_date, row.in_band, row.proven)),
            units.shown(row.consequence, 1),
            row.out_of_band_by_next_test.shown,
            vessel.next_dry_docking.isoformat() if vessel.next_dry_docking else "",
            row.lining_at_docking.shown,
        )
