"""Rules on figures that were written, not read: targets entered as results, last year's copied, one mark for all.

Equal figures are judged by how finely they were read: on a coarse gauge equal readings are no wonder. The scatter of
honest readings assumed here is common practice, no published source.
"""

from __future__ import annotations

from math import floor, log10
from statistics import fmean

from fleet.calculation.plausibility.case import Case, near
from fleet.calculation.plausibility.facts import ReadingFacts
from fleet.calculation.plausibility.finding import Seen, gettext_noop, rule
from fleet.calculation.units import display, from_si, label

REPEAT_SCATTER = 0.03
"""Width, as a share of the reading, within which an honest repeat falls."""

YEARLY_SCATTER = 0.10
"""Width within which the first slip of the same phase falls from one year to the next."""

LINING_SCATTER_M = 0.0003
CERTAIN, UNLIKELY, DOUBTFUL = 2e-4, 1e-3, 0.02
"""Chances below which equal figures are taken for copied, for written, and for worth a note."""
DRUMS_ALIKE = 4
WEAR_MOVES_MARK_M = 0.006
"""Marks of sister drums whose earlier marks lay further apart than this did not come together by wear."""


def _step(values: list[float], division: float) -> float:
    """The coarsest step at which all these figures (in the gauge's unit) lie: how finely they were read."""
    for step in (10, 5, 2, 1, 0.5, 0.2, 0.1):
        size = step * division
        if all(abs(value / size - round(value / size)) < 1e-6 for value in values):
            return size
    return division / 100


def _decimals_as_typed(reading: ReadingFacts, value: float) -> int:
    text = reading.typed.strip().replace(",", ".")
    if text:
        return len(text.partition(".")[2])
    return next((places for places in range(6) if abs(round(value, places) - value) < 1e-9 * max(1.0, value)), 6)


@rule(
    "target_written_as_reached",
    level="ask",
    field="reading",
    title=gettext_noop("Target written down as the reading"),
    template=gettext_noop(
        "All {slips} verification slips read {reading}: the target to the last digit, finer than a division of "
        "{division} can show. Probably the target was written down instead of what the gauge showed. Enter what was "
        "read at first movement, or slip the brake again."
    ),
)
def target_written_as_reached(case: Case) -> Seen | None:
    gauge, target = case.test.gauge, case.target_pa
    slips = list(case.rows("verification"))
    if gauge is None or not gauge.division_pa or not target or len(slips) < 2:
        return None
    division = from_si(gauge.division_pa, gauge.unit)
    values = [from_si(reading.reading_pa or 0.0, gauge.unit) for _, reading in slips]
    places = 0
    for (_, reading), value in zip(slips, values, strict=True):
        places = _decimals_as_typed(reading, value)
        if abs(value - round(from_si(target, gauge.unit), places)) > 0.01 * 10.0**-places:
            return None
    step = _step(values, division)
    # A good eye reads a fifth of a division; anything finer was not read. On a fine gauge, chance decides.
    read_to = step if step > 0.49 * division else 10.0**-places
    chance = min(1.0, read_to / (REPEAT_SCATTER * fmean(values))) ** len(values)
    if step > 0.19 * division and chance > UNLIKELY:
        return None
    return Seen(
        {
            "slips": str(len(slips)),
            "reading": slips[0][1].typed or case.shown_pa(slips[0][1].reading_pa or 0.0),
            "division": case.shown_pa(gauge.division_pa),
        },
        tuple(row for row, _ in slips),
    )


def _chance_of_repeat(case: Case) -> float | None:
    """Chance that honest readings repeat the last test's to every digit; None where they do not repeat them."""
    gauge, last = case.test.gauge, case.last
    if gauge is None or not gauge.division_pa or last is None:
        return None
    now = [(reading.phase, reading.reading_pa or 0.0, reading.mark_si) for _, reading in case.rows()]
    then = [(reading.phase, reading.reading_pa, reading.mark_si) for reading in last.readings if reading.reading_pa]
    if len(now) < 2 or len(now) != len(then):
        return None
    for (phase, pressure, mark), (old_phase, old_pressure, old_mark) in zip(now, then, strict=True):
        if phase != old_phase or not old_pressure or not near(pressure, old_pressure, 1e-6):
            return None
        if mark is not None and old_mark is not None and abs(mark - old_mark) > 1e-6 * max(1.0, abs(mark)):
            return None
    unit = gauge.unit
    values = [from_si(pressure, unit) for _, pressure, _ in now]
    step = _step(values, from_si(gauge.division_pa, unit))
    chance, seen = 1.0, set()
    for (phase, _, mark), value in zip(now, values, strict=True):
        scatter = REPEAT_SCATTER if (phase, mark) in seen else YEARLY_SCATTER
        seen.add((phase, mark))
        chance *= min(1.0, step / (scatter * value)) if value > 0 else 1.0
    return chance * _chance_of_equal_lining(case)


def _chance_of_equal_lining(case: Case) -> float:
    now, then = case.test.lining_m, case.last.lining_m if case.last else ()
    if not now or len(now) != len(then) or any(abs(a - b) > 1e-7 for a, b in zip(now, then, strict=True)):
        return 1.0
    tenths = all(abs(a * 2e3 - round(a * 2e3)) < 1e-6 for a in now)
    return min(1.0, (0.0005 if tenths else 0.0001) / LINING_SCATTER_M) ** len(now)


@rule(
    "last_year_copied",
    level="ask",
    field="reading",
    title=gettext_noop("Last test's figures copied"),
    template=gettext_noop(
        "Readings and marks are those of the test on {last_on} to every digit. By chance that happens about once in "
        "{odds} tests on this gauge. Probably the last record was copied. Enter what was read this time, or test again."
    ),
)
def last_year_copied(case: Case) -> Seen | None:
    chance = _chance_of_repeat(case)
    if chance is None or chance > CERTAIN or case.last is None:
        return None
    return Seen(
        {"last_on": case.last.tested_on.isoformat(), "odds": _odds(chance)}, tuple(row for row, _ in case.rows())
    )


@rule(
    "readings_as_last_year",
    level="note",
    field="reading",
    title=gettext_noop("Readings equal those of the last test"),
    template=gettext_noop(
        "Readings and marks are the same as on {last_on}. On this gauge that may be chance (about once in {odds} "
        "tests)."
    ),
)
def readings_as_last_year(case: Case) -> Seen | None:
    chance = _chance_of_repeat(case)
    if chance is None or not CERTAIN < chance <= DOUBTFUL or case.last is None:
        return None
    return Seen({"last_on": case.last.tested_on.isoformat(), "odds": _odds(chance)})


def _odds(chance: float) -> str:
    """One in how many, to one significant digit, and no further than a million."""
    odds = min(1 / chance, 1e6)
    size = 10 ** floor(log10(odds))
    return f"{round(odds / size) * size:,.0f}".replace(",", " ")


@rule(
    "one_mark_for_all",
    level="ask",
    field="mark",
    title=gettext_noop("One marker distance for many drums"),
    template=gettext_noop(
        "{drums} drums were left at the same marker distance of {mark}, though their earlier marks lay between {low} "
        "and {high}. Every drum has its own. Probably one figure was written for all: measure each drum again."
    ),
)
def one_mark_for_all(case: Case) -> Seen | None:
    if case.drum.setting_kind not in ("marker_distance", "spring_length"):
        return None
    mine = next((reading.mark_si for _, reading in reversed(list(case.rows("verification")))), None)
    if mine is None:
        return None
    alike = [
        sister
        for sister in case.sisters
        if sister.setting_kind in (None, case.drum.setting_kind)
        and sister.mark_si is not None
        and abs(sister.mark_si - mine) < 1e-6
    ]
    earlier = [sister.previous_mark_si for sister in alike if sister.previous_mark_si is not None]
    if case.last and case.last.mark_si is not None:
        earlier.append(case.last.mark_si)
    if 1 + len(alike) < DRUMS_ALIKE or len(earlier) < 3 or not _lay_apart(earlier):
        return None
    return Seen(
        {
            "drums": str(1 + len(alike)),
            "mark": display(mine, "mm"),
            "low": display(min(earlier), "mm"),
            "high": display(max(earlier), "mm"),
        }
    )


def _lay_apart(marks: list[float]) -> bool:
    """Whether marks lay further apart than wear moves them, leaving out one drum that may have a new lining."""
    inner = sorted(marks)
    return min(inner[-1] - inner[1], inner[-2] - inner[0]) > WEAR_MOVES_MARK_M


@rule(
    "readings_in_tens",
    level="note",
    field="reading",
    title=gettext_noop("All readings in tens"),
    template=gettext_noop(
        "All {count} readings are whole steps of {step}, though the gauge has divisions of {division}. Read the gauge "
        "to its division: the coarser figure counts as a larger uncertainty."
    ),
)
def readings_in_tens(case: Case) -> Seen | None:
    gauge = case.test.gauge
    pressures = case.pressures()
    if gauge is None or not gauge.division_pa or len(pressures) < 3:
        return None
    # Tens of bar or of kgf/cm², and what looks as round on other dials.
    step = {"MPa": 1.0, "psi": 100.0, "kPa": 1000.0}.get(gauge.unit, 10.0)
    if from_si(gauge.division_pa, gauge.unit) > step / 2 * (1 + 1e-9):
        return None
    values = [from_si(pressure, gauge.unit) for pressure in pressures]
    if any(abs(value / step - round(value / step)) > 1e-6 for value in values):
        return None
    return Seen(
        {
            "count": str(len(values)),
            "step": f"{step:g} {label(gauge.unit)}",
            "division": case.shown_pa(gauge.division_pa),
        },
        tuple(row for row, _ in case.rows()),
    )
