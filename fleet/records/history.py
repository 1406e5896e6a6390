"""Everything that happened to one drum's brake, newest first: tests with all their versions, work, orders."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import Any

from django.db.models import Prefetch
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from fleet.calculation import units
from fleet.drums.models import BrakeEvent, Drum, RetestOrder
from fleet.records.due import DrumState, drum_states, result_state_of
from fleet.records.models import DecisionKind, DrumTest, Phase, State, Submission
from fleet.records.round_page import SHAPES


@dataclass(frozen=True)
class Version:
    """One version as the ship sent it, and what shore said to it."""

    submission: Submission

    @property
    def decisions(self) -> list[Any]:
        return [row for row in self.submission.decisions.all() if row.kind != DecisionKind.APPROVED or row.sentence]

    @property
    def certificate(self) -> Any:
        """The certificate that was issued for this very version, None where there is none."""
        return getattr(self.submission, "certificate", None)


@dataclass(frozen=True)
class TestEntry:
    """One test with its newest version in front and the earlier ones behind it."""

    __test__ = False  # not a class of tests

    test: DrumTest
    versions: tuple[Version, ...]
    kind: str = "test"

    @property
    def newest(self) -> Submission | None:
        return self.versions[0].submission if self.versions else None

    @property
    def on(self) -> date:
        return self.newest.tested_on if self.newest else self.test.round.started_on

    @property
    def shape(self) -> str:
        return SHAPES[State(self.test.state)]

    @property
    def result_state(self) -> str:
        return result_state_of(self.newest) if self.newest else ""

    @property
    def says_outcome(self) -> bool:
        """True where the result's own word does not say the outcome already."""
        return self.result_state in {"", "too_tight", "too_loose"}

    @property
    def as_found(self) -> str:
        """What it slipped at; where it held at STOP, only that it was more."""
        row = self.newest
        if row is None or row.as_found_share is None:
            return ""
        share = units.digits(row.as_found_share, "percent")
        return _("more than {share}").format(share=share) if row.as_found_held else share

    @property
    def as_found_phase(self) -> str:
        row = self.newest
        return str(Phase(row.as_found_phase).label) if row and row.as_found_phase else ""

    @property
    def as_left(self) -> str:
        row = self.newest
        return units.digits(row.as_left_share, "percent") if row and row.as_left_share is not None else ""

    @property
    def best(self) -> str:
        """The best estimate with its uncertainty; empty in records from before it was worked out."""
        row = self.newest
        if row is None or row.estimate_share is None or row.expanded_share is None:
            return ""
        return _("best estimate {share} ± {points}").format(
            share=units.digits(row.estimate_share, "percent"), points=units.digits(row.expanded_share, "percent")
        )

    @property
    def load(self) -> str:
        row = self.newest
        return units.display(row.as_left_load_n, "kN") if row and row.as_left_load_n is not None else ""

    @property
    def setting(self) -> str:
        row = self.newest
        return f"{row.setting_text} {units.label(row.setting_unit)}".strip() if row and row.setting_text else ""


@dataclass(frozen=True)
class EventEntry:
    event: BrakeEvent
    kind: str = "event"

    @property
    def on(self) -> date:
        return self.event.happened_on


@dataclass(frozen=True)
class OrderEntry:
    order: RetestOrder
    kind: str = "order"

    @property
    def on(self) -> date:
        return self.order.ordered_at.date()


Entry = TestEntry | EventEntry | OrderEntry
# On one day: the test stands above the work that it followed.
ORDER_ON_ONE_DAY = {"order": 0, "event": 1, "test": 2}


@dataclass(frozen=True)
class History:
    drum: Drum
    state: DrumState
    entries: tuple[Entry, ...]

    @cached_property
    def tests(self) -> list[TestEntry]:
        return [row for row in self.entries if isinstance(row, TestEntry) and row.newest]

    @property
    def sentence(self) -> str:
        """How often this drum was tested and what came out last."""
        if not self.tests:
            return _("No test of this drum was ever sent.")
        newest, oldest = self.tests[0], self.tests[-1]
        row = newest.newest
        assert row is not None
        said = ngettext("{n} test since {year}.", "{n} tests since {year}.", len(self.tests)).format(
            n=len(self.tests), year=oldest.on.year
        )
        last = _("The last, {day}: {outcome}").format(
            day=date_format(newest.on, "j F Y"), outcome=row.get_outcome_display()
        )
        if newest.as_left and row.outcome == "set_in_band":
            return _("{said} {last}, rendered at {share} % when tested, on that day.").format(
                said=said, last=last, share=newest.as_left
            )
        return f"{said} {last}."


def history_of(*, drum: Drum, on: date, with_drafts: bool) -> History:
    """The drum's whole history in a fixed number of queries; drafts only for those who work with them."""
    entries: list[Entry] = [*_tests(drum, with_drafts), *_events(drum), *_orders(drum)]
    entries.sort(key=lambda entry: (entry.on, ORDER_ON_ONE_DAY[entry.kind]), reverse=True)
    return History(drum, drum_states([drum], on)[drum.pk], tuple(entries))


def _tests(drum: Drum, with_drafts: bool) -> Iterator[TestEntry]:
    versions = (
        Submission.objects.select_related("certificate")
        .defer("content", "certificate__snapshot")
        .prefetch_related("decisions")
        .order_by("-version")
    )
    rows = DrumTest.objects.filter(drum=drum).select_related("round").order_by("-created_at")
    for test in rows.prefetch_related(Prefetch("submissions", queryset=versions)):
        sent = tuple(Version(row) for row in test.submissions.all())
        if sent or with_drafts:
            yield TestEntry(test, sent)


def _events(drum: Drum) -> Iterator[EventEntry]:
    return (EventEntry(row) for row in drum.events.order_by("-happened_on", "-created_at"))


def _orders(drum: Drum) -> Iterator[OrderEntry]:
    return (OrderEntry(row) for row in drum.retest_orders.order_by("-ordered_at"))
