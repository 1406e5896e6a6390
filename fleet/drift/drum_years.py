"""One drum over the years, for its page: what is the matter, the rows behind it, and what is to be expected next."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
from django.utils.formats import date_format
from django.utils.functional import cached_property
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from fleet.calculation import units
from fleet.calculation.drift_results import DOCKING, DUE, LINE_BROKEN, NO_LIMIT, WITHHELD
from fleet.calculation.drift_sentences import borrowing, why_withheld
from fleet.calculation.sentences import probability_shown
from fleet.drift.analysis import CompanyDrift, company_drift
from fleet.drift.drum_flags import FlagSaid, flags_of, in_words
from fleet.drift.histories import day_of, decimal_year
from fleet.drift.models import HistoryPoint
from fleet.drums.models import SETTING_UNITS, BrakeEvent, Drum, EventKind
from fleet.records.models import Phase, Photo, PhotoKind

ZOOMS = (3, 5, 10)
FAR_YEARS = 40


@dataclass(frozen=True)
class YearRow:
    """One test of the drum, every figure ready for people and empty where not known; ``row`` leads to the analysis."""

    point: HistoryPoint
    row: int | None
    setting: str
    as_left: str
    as_found: str
    as_found_kind: str
    lining: str
    for_target: str = ""
    expected: str = ""
    change: str = ""
    as_found_expected: str = ""
    flags: tuple[FlagSaid, ...] = ()
    starts_anew: bool = False

    @property
    def said(self) -> str:
        """The marker's figures in one line, for the picture."""
        parts = [date_format(self.point.tested_on, "j M Y"), self.for_target]
        if self.expected:
            parts.append(_("expected {interval}").format(interval=self.expected))
        return ": ".join([parts[0], ", ".join(part for part in parts[1:] if part)])

    @property
    def found_said(self) -> str:
        kinds = {Phase.AS_FOUND_UNTOUCHED: _("untouched"), Phase.AS_FOUND_REAPPLIED: _("re-applied")}
        kind = kinds.get(Phase(self.point.as_found_phase), "") if self.point.as_found_phase else ""
        found = _("{day}: {share} %, {kind}").format(
            day=date_format(self.point.tested_on, "j M Y"), share=self.as_found, kind=kind
        )
        if not self.as_found_expected:
            return found
        return _("{found}; expected {interval}").format(found=found, interval=self.as_found_expected)


@dataclass(frozen=True)
class Coming:
    """What is expected at a coming date, or why nothing is said."""

    name: str
    day: date | None
    given: bool
    mark: str
    as_found: str
    chances: tuple[tuple[str, str], ...]


class DrumYears:
    """Worked out once per request: seven queries, however many tests the drum has."""

    def __init__(self, drum: Drum, *, on: date, years: int | None = None) -> None:
        self.drum, self.on, self.years = drum, on, years
        self.points = list(
            HistoryPoint.objects.filter(drum=drum).select_related("submission").defer("submission__content")
        )
        self.events = list(
            BrakeEvent.objects.filter(drum=drum).exclude(kind=EventKind.MOORINGS).order_by("happened_on", "created_at")
        )
        self.found: CompanyDrift = company_drift(drum.vessel.company, on=on)
        self.place = self.found.drums[drum.pk]

    @cached_property
    def unit(self) -> str:
        """The unit in which the ship wrote the setting last."""
        used = [point.setting_unit for point in self.points if point.test_id in self.found.tests and point.setting_unit]
        return used[-1] if used else SETTING_UNITS[self.drum.setting_kind][0]

    @cached_property
    def last_row(self) -> int | None:
        last = int(self.found.drift.drums.last_test[self.place])
        return last if last >= 0 else None

    @cached_property
    def flags(self) -> list[FlagSaid]:
        """Of all its tests, oldest first."""
        rows = [int(row) for row in self.found.tests_of(self.drum.pk)]
        return flags_of(self.found, rows, unit=self.unit)

    @property
    def flags_newest_first(self) -> list[FlagSaid]:
        """Of one test still what explains the others first."""
        return sorted(self.flags, key=lambda flag: -flag.row)

    @property
    def flags_now(self) -> list[FlagSaid]:
        return [flag for flag in self.flags if flag.row == self.last_row]

    @cached_property
    def rows(self) -> list[YearRow]:
        """Its tests within the years asked for, oldest first."""
        return [self._row(point) for point in self.points if self.since is None or point.tested_on >= self.since]

    @cached_property
    def since(self) -> date | None:
        """The first day shown; None for all years."""
        return date(self.on.year - self.years, 1, 1) if self.years else None

    @property
    def events_shown(self) -> list[BrakeEvent]:
        first = self.rows[0].point.tested_on if self.rows else self.on
        start = self.since or date(first.year, 1, 1)
        return [event for event in self.events if event.happened_on >= start]

    def length(self, value_si: float) -> str:
        return units.display(float(value_si), self.unit)

    def _interval(self, low: float, high: float) -> str:
        ends = sorted((float(low), float(high)))
        return _("{low} to {high}").format(low=units.digits(ends[0], self.unit), high=self.length(ends[1]))

    def _row(self, point: HistoryPoint) -> YearRow:
        row, written = self.found.tests.get(point.test_id), point.submission
        share = units.digits(point.as_found_share, "percent") if point.as_found_share is not None else ""
        setting = f"{written.setting_text} {units.label(written.setting_unit)}".strip() if written.setting_text else ""
        return YearRow(
            point=point,
            row=row,
            setting=setting,
            as_found=_("more than {share}").format(share=share) if point.as_found_held else share,
            as_found_kind=str(Phase(point.as_found_phase).label) if point.as_found_phase else "",
            as_left=units.digits(point.as_left_share, "percent") if point.as_left_share is not None else "",
            lining=units.digits(point.lining_m, "mm") if point.lining_m is not None else "",
            **({} if row is None else self._followed(row)),
        )

    def _followed(self, row: int) -> dict[str, Any]:
        """What the analysis says of one test, in words."""
        tests = self.found.drift.tests
        mark, found, change = tests.mark, tests.as_found, float(tests.change_si[row])
        return {
            "for_target": self.length(float(tests.mark_corrected_si[row])),
            "expected": self._interval(mark.low[row], mark.high[row]) if np.isfinite(mark.low[row]) else "",
            "change": _signed(units.digits(change, self.unit)) if np.isfinite(change) else "",
            "as_found_expected": _shares(found.low[row], found.high[row]) if np.isfinite(found.low[row]) else "",
            "flags": tuple(flag for flag in self.flags if flag.row == row),
            "starts_anew": bool(tests.first_of_segment[row]),
        }

    @cached_property
    def tests_in_segment(self) -> int:
        if self.last_row is None:
            return 0
        segment = self.found.drift.tests.segment
        return int(np.sum(segment == segment[self.last_row]))

    @property
    def lead(self) -> tuple[str, str, bool]:
        """What is the matter in bold, what follows from it, and whether it is a warning."""
        if self.last_row is None:
            return _("Nothing can be followed yet."), _("No approved test says setting and load as left."), False
        if self.flags_now:
            first = self.flags_now[0]
            return first.what, f"{first.likeliest} {first.check}", True
        return self._quiet_lead

    @property
    def _quiet_lead(self) -> tuple[str, str, bool]:
        drums = self.found.drift.drums
        day = date_format(day_of(float(self.found.drift.histories.year[self.last_row or 0])), "j F Y")
        if drums.retest_early[self.place]:
            said = _("The lining is new and has not been tested since it bedded in.")
            return (
                said,
                _("It loses more in its first year than later: test it early, well before a year is over."),
                True,
            )
        if self.tests_in_segment == 1:
            what = _("One test since the mark began anew, {day}.").format(day=day)
            return what, f"{_('What is expected next rests on comparable drums.')} {self.next_words}", False
        return _("This brake goes as it was expected to."), self.next_words, False

    @property
    def next_words(self) -> str:
        """What the next test is expected to find, in one sentence."""
        coming = self.coming[0]
        if coming.day is None or not coming.given:
            return coming.mark
        return _("The next test, by {day}, is expected to leave it at {mark} for exactly the target.").format(
            day=date_format(coming.day, "j F Y"), mark=coming.mark
        )

    @cached_property
    def coming(self) -> tuple[Coming, Coming]:
        """At the next due date and at the next dry-docking."""
        return self._coming(DUE, _("next test due")), self._coming(DOCKING, _("next dry-docking"))

    def _coming(self, horizon: int, name: str) -> Coming:
        ahead, at = self.found.drift.forecast, (self.place, horizon)
        day = day_of(ahead.year[at]) if np.isfinite(ahead.year[at]) else None
        given = np.isfinite(ahead.mark_si[at])
        why = _why(int(ahead.as_found_withheld[at]))
        mark = self._interval(ahead.mark_low_si[at], ahead.mark_high_si[at]) if given else why
        chances = (
            (_("the mark reaches its limit"), _chance(ahead.mark_limit[at], int(ahead.mark_withheld[at]))),
            (
                _("the lining reaches its least thickness"),
                _chance(ahead.lining_minimum[at], int(ahead.lining_withheld[at])),
            ),
            (
                _("the brake is found outside the band"),
                _chance(ahead.as_found_out[at], int(ahead.as_found_withheld[at])),
            ),
        )
        return Coming(
            name=name,
            day=day,
            given=bool(given),
            mark=mark,
            as_found=_shares(ahead.as_found_low_share[at], ahead.as_found_high_share[at]) if given else why,
            # Why all is withheld is said once.
            chances=tuple((what, said) for what, said in chances if said != mark),
        )

    @property
    def facts(self) -> list[tuple[str, str]]:
        """Wear, scatter, when the limit is reached, how much is borrowed: label and words."""
        if self.last_row is None:
            return []
        drums, at = self.found.drift.drums, self.place
        wear, scatter = drums.wear_si_per_year[at], drums.scatter_si[at]
        facts = [
            (_("movement for exactly the target"), _("{wear} a year").format(wear=_signed(self.length(wear)))),
            (_("scatter of one test about its line"), self.length(scatter)),
            (_("limit of the setting"), self.limit_words),
        ]
        if np.isfinite(drums.lining_m_per_year[at]):
            lost = units.display(float(drums.lining_m_per_year[at]), "mm")
            facts.append((_("lining lost"), _("{lost} a year").format(lost=lost)))
        return [*facts, (_("how much is borrowed"), self.borrowed_words)]

    @property
    def limit_words(self) -> str:
        """The limit and when it would be reached, or why that is not said."""
        drums, limit = self.found.drift.drums, self.found.drift.histories.mark_limit_si[self.place]
        if not np.isfinite(limit):
            return _why(WITHHELD.index(NO_LIMIT))
        if drums.line_broken[self.place]:
            return _why(WITHHELD.index(LINE_BROKEN))
        middle, early = drums.limit_year[self.place], drums.limit_year_early[self.place]
        if not np.isfinite(middle) or middle > self.on.year + FAR_YEARS:
            return _("{limit}: not within {years} years").format(limit=self.length(limit), years=FAR_YEARS)
        return _("{limit}: about {year}, hardly before {early} (19 in 20)").format(
            limit=self.length(limit), year=int(middle), early=int(early)
        )

    @property
    def borrowed_words(self) -> str:
        """How much of what is said of this drum comes from others."""
        said = borrowing(self.found.drift, self.place)
        return in_words(said) if said else ""

    @property
    def zooms(self) -> list[tuple[str, int | None, bool]]:
        """Words, number of years and whether chosen."""
        named = [(ngettext("last {n} year", "last {n} years", n).format(n=n), n, n == self.years) for n in ZOOMS]
        return [(_("all years"), None, self.years is None), *named]

    @cached_property
    def photos(self) -> list[tuple[YearRow, Photo]]:
        """The mark as it was sent, one photo per test, oldest first."""
        sent = {row.point.test_id: row for row in self.rows}
        newest: dict[Any, Photo] = {}
        for photo in Photo.objects.filter(test__in=sent, kind=PhotoKind.MARK).order_by("created_at"):
            submitted = sent[photo.test_id].point.submission.submitted_at
            if photo.created_at <= submitted and (photo.removed_at is None or photo.removed_at > submitted):
                newest[photo.test_id] = photo
        return [(row, newest[key]) for key, row in sent.items() if key in newest]

    @cached_property
    def entries(self) -> list[YearRow | BrakeEvent]:
        """Tests and events in one list, newest first."""
        both: Sequence[YearRow | BrakeEvent] = [*self.events_shown, *self.rows]
        return sorted(both, key=_day, reverse=True)

    @property
    def first_year(self) -> float:
        first = self.rows[0].point.tested_on if self.rows else self.on
        start = self.since or date(first.year, 1, 1)
        return decimal_year(start)


def _day(entry: YearRow | BrakeEvent) -> date:
    return entry.point.tested_on if isinstance(entry, YearRow) else entry.happened_on


def _signed(text: str) -> str:
    """A plus sign where a figure grows, the true minus where it falls."""
    return text.replace("-", "−", 1) if text.startswith("-") else f"+{text}"


def _shares(low: float, high: float) -> str:
    return _("{low} to {high}").format(
        low=units.digits(max(float(low), 0.0), "percent"), high=units.display(float(high), "percent")
    )


def _why(withheld: int) -> str:
    said = why_withheld(withheld)
    return in_words(said) if said else ""


def _chance(probability: float, withheld: int) -> str:
    return probability_shown(float(probability)) if np.isfinite(probability) else _why(withheld)
