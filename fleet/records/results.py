"""What the readings of a test come to: loads, shares, as found, as left."""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean

from fleet.calculation import brake, units
from fleet.records.draft import ParsedDraft
from fleet.records.figures import Figures
from fleet.records.models import AS_FOUND, Phase, Reading


@dataclass(frozen=True)
class ReadingResult:
    """One reading with the line load and the share of the base load it stands for (None: outside the table)."""

    reading: Reading
    load_n: float | None
    share: float | None

    @property
    def verifies(self) -> bool:
        """A slip at the new mark, from which the load as left is taken."""
        return self.reading.phase == Phase.VERIFICATION and self.reading.slipped and self.share is not None

    @property
    def load_shown(self) -> str:
        return units.digits(self.load_n, "kN") if self.load_n is not None else "–"

    @property
    def share_shown(self) -> str:
        return units.digits(self.share, "percent") if self.share is not None else "–"


@dataclass(frozen=True)
class Results:
    """As found: the first as-found slip, else the highest as-found hold ("more than that"). As left: the mean of the
    verification slips."""

    rows: tuple[ReadingResult, ...]
    as_found_phase: str
    as_found_share: float | None
    as_found_held: bool
    as_left_share: float | None
    as_left_load_n: float | None
    spread_share: float | None
    verification_slips: int
    setting_shown: str
    in_band: bool | None

    @property
    def verification_readings_si(self) -> tuple[float, ...]:
        """What the gauge showed at each verification slip that has a load."""
        return tuple(row.reading.gauge_si for row in self.rows if row.verifies)

    @property
    def as_found_shown(self) -> str:
        if self.as_found_share is None:
            return ""
        shown = units.display(self.as_found_share, "percent")
        return f"more than {shown}" if self.as_found_held else shown

    @property
    def reapplied_share(self) -> float | None:
        """The first slip with the brake released and re-applied at the old mark, before anything was adjusted."""
        return next(
            (
                row.share
                for row in self.rows
                if row.reading.phase == Phase.AS_FOUND_REAPPLIED and row.reading.slipped and row.share is not None
            ),
            None,
        )

    @property
    def as_left_shown(self) -> str:
        return units.display(self.as_left_share, "percent") if self.as_left_share is not None else ""

    @property
    def as_left_load_shown(self) -> str:
        return units.display(self.as_left_load_n, "kN") if self.as_left_load_n is not None else ""

    @property
    def spread_shown(self) -> str:
        return units.display(self.spread_share, "percent") if self.spread_share is not None else ""


def results_of(figures: Figures, parsed: ParsedDraft, readings: Sequence[Reading]) -> Results:
    """Turn readings into loads and name what was found and what was left."""
    rows = tuple(_result(figures, reading) for reading in sorted(readings, key=lambda row: row.order))
    found = _as_found(rows)
    slips = [row for row in rows if row.verifies]
    shares = [row.share for row in slips if row.share is not None]
    loads = [row.load_n for row in slips if row.load_n is not None]
    as_left = fmean(shares) if shares else None
    low, high = figures.band
    setting = parsed.typed("final_mark")
    return Results(
        rows=rows,
        as_found_phase=found.reading.phase if found else "",
        as_found_share=found.share if found else None,
        as_found_held=bool(found and not found.reading.slipped),
        as_left_share=as_left,
        as_left_load_n=fmean(loads) if loads else None,
        spread_share=max(shares) - min(shares) if len(shares) > 1 else None,
        verification_slips=len(slips),
        setting_shown=str(setting) if setting else "",
        in_band=low <= as_left <= high if as_left is not None else None,
    )


def _as_found(rows: tuple[ReadingResult, ...]) -> ReadingResult | None:
    """The first slip; a brake that only held, up to STOP, was found to hold more than the highest of those readings."""
    found = [row for row in rows if row.reading.phase in AS_FOUND and row.share is not None]
    slip = next((row for row in found if row.reading.slipped), None)
    return slip or max(found, key=lambda row: row.share or 0.0, default=None)


def _result(figures: Figures, reading: Reading) -> ReadingResult:
    try:
        found = figures.at(reading.gauge_si)
    except brake.OutsideTable:
        return ReadingResult(reading, None, None)
    return ReadingResult(reading, found.load_n, found.share)
