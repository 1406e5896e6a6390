"""Rules on the base load and the line: tonnes for kilonewtons, a ton that is none, a line that is the weak link."""

from __future__ import annotations

from collections.abc import Iterator

from fleet.calculation import lines
from fleet.calculation.plausibility.case import Case, near
from fleet.calculation.plausibility.finding import Seen, gettext_noop, rule
from fleet.calculation.plausibility.particulars import LONG_TON, SHORT_TON, TONNE_FORCE_IN_KN
from fleet.calculation.plausibility.ranges import SOFT_RANGES
from fleet.calculation.units import display

WORN = gettext_noop(
    "The worn line has about {residual} left, and the brake renders at {load}, {share} of that; {limit} at most is "
    "the operator's setting. Replace or end-for-end the line, or have the ship's people decide on a lower setting."
)
MAY_PART_FIRST = gettext_noop(
    "The worn line has about {residual} left, and the brake renders at {load}, {share} of that: the line may part "
    "before the brake slips. Take the line out of use and report it ashore."
)


def _expected_base_loads(case: Case) -> Iterator[float]:
    if case.last and case.last.base_load_n:
        yield case.last.base_load_n
    sisters = case.sister_median("base_load_n")
    if sisters:
        yield sisters


@rule(
    "tonnes_for_kilonewtons",
    level="ask",
    field="base_load",
    particulars=True,
    title=gettext_noop("Tonnes entered as kilonewtons, or the other way about"),
    template=gettext_noop(
        "A base load of {base_load} is about ten times off; {expected} was expected. Probably tonnes-force were "
        "entered as kilonewtons, or kilonewtons as tonnes-force. Read the figure and its unit in the document again."
    ),
)
def tonnes_for_kilonewtons(case: Case) -> Seen | None:
    base = case.drum.base_load_n
    if not base:
        return None
    usual = SOFT_RANGES["base_load"]
    expected = next(
        (
            load
            for load in _expected_base_loads(case)
            if near(base / load, TONNE_FORCE_IN_KN, 0.05) or near(base / load, 1 / TONNE_FORCE_IN_KN, 0.05)
        ),
        None,
    )
    if expected is None and base < usual.low_si and usual.holds(base * TONNE_FORCE_IN_KN):
        expected = base * TONNE_FORCE_IN_KN
    if expected is None and base > usual.high_si and usual.holds(base / TONNE_FORCE_IN_KN):
        expected = base / TONNE_FORCE_IN_KN
    if expected is None:
        return None
    return Seen({"base_load": display(base, "kN"), "expected": display(expected, "kN")})


@rule(
    "short_or_long_ton",
    level="ask",
    field="base_load",
    particulars=True,
    title=gettext_noop("Short or long tons taken for tonnes"),
    template=gettext_noop(
        "The base load {base_load} and the expected {expected} differ just as a short or long ton differs from a "
        "tonne. Find out which ton the document means and enter tonnes-force or kilonewtons."
    ),
)
def short_or_long_ton(case: Case) -> Seen | None:
    base = case.drum.base_load_n
    if not base:
        return None
    for expected in _expected_base_loads(case):
        if any(near(base / expected, factor, 0.003) for factor in (SHORT_TON, 1 / SHORT_TON, LONG_TON, 1 / LONG_TON)):
            return Seen({"base_load": display(base, "kN"), "expected": display(expected, "kN")})
    return None


@rule(
    "base_load_changed",
    level="ask",
    field="base_load",
    general=True,
    title=gettext_noop("Base load differs from the last test"),
    template=gettext_noop(
        "The base load is {base_load}; at the last test it was {expected}. It belongs to the ship's design and should "
        "not change. Check the document, and say what changed."
    ),
)
def base_load_changed(case: Case) -> Seen | None:
    base, before = case.drum.base_load_n, case.last.base_load_n if case.last else None
    if not base or not before or near(base / before, 1.0, 0.005):
        return None
    return Seen({"base_load": display(base, "kN"), "expected": display(before, "kN")})


@rule(
    "base_load_unlike_sisters",
    level="note",
    field="base_load",
    particulars=True,
    general=True,
    title=gettext_noop("Base load differs from the vessel's other drums"),
    template=gettext_noop(
        "The base load is {base_load}; the vessel's other drums have {expected}. All drums of a ship normally share "
        "one figure."
    ),
)
def base_load_unlike_sisters(case: Case) -> Seen | None:
    base, sisters = case.drum.base_load_n, case.sister_median("base_load_n")
    if not base or not sisters or near(base / sisters, 1.0, 0.005):
        return None
    return Seen({"base_load": display(base, "kN"), "expected": display(sisters, "kN")})


@rule(
    "base_load_not_sdmbl",
    level="note",
    field="base_load",
    particulars=True,
    title=gettext_noop("Base load is not the ship design minimum breaking load"),
    template=gettext_noop(
        "The base load of {base_load} is not the ship design MBL. Every share in this record is a share of that other "
        "figure, and the certificate will say so."
    ),
)
def base_load_not_sdmbl(case: Case) -> Seen | None:
    drum = case.drum
    if not drum.base_load_n or drum.base_kind is None or drum.base_kind == "sdmbl":
        return None
    return Seen({"base_load": display(drum.base_load_n, "kN")})


@rule(
    "line_weaker_than_base",
    level="ask",
    field="line_mbl",
    particulars=True,
    title=gettext_noop("Line weaker than the base load"),
    template=gettext_noop(
        "The line on this drum ({line_mbl} when new) is weaker than the base load ({base_load}), so the brake renders "
        "at a higher share of the line than of the base load. Check the line's certificate; if it is right, the line "
        "may part before the brake renders: report it ashore."
    ),
)
def line_weaker_than_base(case: Case) -> Seen | None:
    drum = case.drum
    if not drum.line_mbl_n or not drum.base_load_n or drum.line_mbl_n >= 0.99 * drum.base_load_n:
        return None
    return Seen({"line_mbl": display(drum.line_mbl_n, "kN"), "base_load": display(drum.base_load_n, "kN")})


@rule(
    "worn_line",
    level="ask",
    field="line_residual",
    particulars=True,
    title=gettext_noop("Worn line near the brake's rendering load"),
    template=WORN,
)
def worn_line(case: Case) -> Seen | None:
    drum = case.drum
    share = case.as_left_share or case.test.share_aimed
    if not drum.line_residual_share or not drum.base_load_n or not share:
        return None
    residual, load = drum.line_residual_share * (drum.line_mbl_n or drum.base_load_n), share * drum.base_load_n
    limit = case.test.worn_line_share or lines.MOST_OF_RESIDUAL
    found = lines.worn_line(load_n=load, sdmbl_n=drum.base_load_n, residual_n=residual, most_of_residual=limit)
    if not found.near:
        return None
    figures = {
        "residual": display(residual, "kN"),
        "load": display(load, "kN"),
        "share": display(found.share_of_residual, "percent"),
        "limit": display(limit, "percent"),
    }
    return Seen(figures, template=MAY_PART_FIRST if found.line_may_part_first else WORN)
