"""How well a hand finds the mark again: re-applied as found against as left the test before, on this drum or others."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from typing import Any
from uuid import UUID

from django.db.models import Exists, OuterRef
from django.utils.functional import cached_property
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from fleet.calculation.reproducibility import Reproducibility, reproducibility
from fleet.calculation.sentences import points_shown
from fleet.drums.models import BrakeEvent
from fleet.records.models import Decision, DecisionKind, Outcome, Phase, State, Submission
from fleet.records.newest import newest_versions
from fleet.vessels.models import Vessel

# One newton: a base load entered again in another unit is the same base load.
SAME_LOAD_N = 1.0
MOST_TESTS = 5_000
COLUMNS = (
    "version",
    "submitted_at",
    "test__drum_id",
    "tested_on",
    "as_found_phase",
    "as_found_share",
    "as_found_held",
    "reapplied_share",
    "as_left_share",
    "outcome",
    "base_load_n",
)


@dataclass(frozen=True)
class Setting:
    """One test as this looks at it: what the mark gave when re-applied, and at what it was left."""

    drum_id: UUID
    tested_on: date
    reapplied_share: float | None
    left_share: float | None
    base_load_n: float


@dataclass(frozen=True)
class FoundAgain:
    """What the tests of a drum, a vessel or a company say; ``found`` is None where even the company's are too few."""

    of: str
    tests: int
    found: Reproducibility | None

    @property
    def sentence(self) -> str:
        if self.found is None:
            return ngettext(
                "Too few to say: {n} test in the whole company found a brake re-applied at the mark it was left at, "
                "with nothing done to it in between.",
                "Too few to say: {n} tests in the whole company found a brake re-applied at the mark it was left at, "
                "with nothing done to it in between.",
                self.tests,
            ).format(n=self.tests)
        whose = {
            "drum": _("{n} tests of this drum"),
            "vessel": _("{n} tests of this vessel's drums"),
            "company": _("{n} tests of the company's drums"),
        }[self.of].format(n=self.tests)
        return _(
            "A hand found the mark again within ± {points} points of the base load (95 %, from {whose}, each after a "
            "time of service). The wear of that time and both measurements are in this figure; it is not in the "
            "whisker."
        ).format(points=points_shown(self.found.half_width), whose=whose)


def found_again_content(row: FoundAgain) -> dict[str, Any]:
    """What the record keeps of it, as plain data."""
    found = row.found
    return {
        "of": row.of,
        "tests": row.tests,
        "half_width_share": found.half_width if found else None,
        "half_width_points_shown": points_shown(found.half_width) if found else "",
        "standard_deviation_share": found.standard_deviation if found else None,
        "standard_deviation_interval": [found.spread_from, found.spread_to] if found else None,
        "mean_share": found.mean if found else None,
        "sentence": row.sentence,
    }


class SettingHistory:
    """The approved tests around a vessel's drums and what was done between them: four queries for any number."""

    def __init__(self, vessel: Vessel) -> None:
        self.vessel = vessel

    def found_again(self, own: Setting) -> FoundAgain:
        """By the drum's own tests, else by the vessel's drums', else by the company's: the first that are enough."""
        differences: list[float] = []
        for of in ("drum", "vessel", "company"):
            differences = list(self._differences(of, own))
            found = reproducibility(differences)
            if found is not None:
                return FoundAgain(of, len(differences), found)
        return FoundAgain("company", len(differences), None)

    def _differences(self, of: str, own: Setting) -> Iterator[float]:
        settings, events = self._company if of == "company" else self._vessel
        by_drum: dict[UUID, list[Setting]] = defaultdict(list)
        for row in settings:
            if row.tested_on < own.tested_on and (of != "drum" or row.drum_id == own.drum_id):
                by_drum[row.drum_id].append(row)
        by_drum[own.drum_id].append(own)
        for drum_id, rows in by_drum.items():
            yield from _found_again(rows, events.get(drum_id, ()))

    @cached_property
    def _vessel(self) -> tuple[list[Setting], dict[UUID, list[date]]]:
        return _settings(test__round__vessel=self.vessel), _events(drum__winch__vessel=self.vessel)

    @cached_property
    def _company(self) -> tuple[list[Setting], dict[UUID, list[date]]]:
        company = self.vessel.company_id
        return _settings(test__round__vessel__company=company), _events(drum__winch__vessel__company=company)


def _found_again(rows: Sequence[Setting], events: Iterable[date]) -> Iterator[float]:
    """Each test of one drum against the one before it, where nothing happened to the brake in between."""
    for before, now in pairwise(rows):
        if now.reapplied_share is None or before.left_share is None:
            continue
        if abs(now.base_load_n - before.base_load_n) > SAME_LOAD_N:
            continue
        # What happened on the day of a test counts as having happened before it.
        if not any(before.tested_on < event <= now.tested_on for event in events):
            yield now.reapplied_share - before.left_share


def _settings(**among: Any) -> list[Setting]:
    """Of each approved test its newest approved version, oldest test first."""
    approved = Decision.objects.filter(submission=OuterRef("pk"), kind=DecisionKind.APPROVED)
    rows = (
        Submission.objects.filter(Exists(approved), **among)
        .exclude(test__state=State.WITHDRAWN)
        .order_by("-tested_on", "-submitted_at", "-version")
        .select_related("test")
        .only(*COLUMNS)[:MOST_TESTS]
    )
    newest = sorted(newest_versions(rows), key=lambda row: (row.tested_on, row.submitted_at))
    return [_setting(row) for row in newest]


def _setting(row: Submission) -> Setting:
    return Setting(
        drum_id=row.test.drum_id,
        tested_on=row.tested_on,
        reapplied_share=_reapplied(row),
        left_share=row.as_left_share if row.outcome == Outcome.SET_IN_BAND else None,
        base_load_n=row.base_load_n,
    )


def _reapplied(row: Submission) -> float | None:
    """Records from before this had a column of its own have it only where it came first."""
    if row.reapplied_share is not None:
        return row.reapplied_share
    came_first = row.as_found_phase == Phase.AS_FOUND_REAPPLIED and not row.as_found_held
    return row.as_found_share if came_first else None


def _events(**among: Any) -> dict[UUID, list[date]]:
    """The days on which something happened that changes what a mark means."""
    days: dict[UUID, list[date]] = defaultdict(list)
    for drum_id, day in BrakeEvent.objects.asking_retest().filter(**among).values_list("drum_id", "happened_on"):
        days[drum_id].append(day)
    return days
