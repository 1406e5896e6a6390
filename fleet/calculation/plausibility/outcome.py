"""Rules on the outcome: what was claimed against what the slips show."""

from __future__ import annotations

from fleet.calculation.plausibility.case import AS_FOUND, Case
from fleet.calculation.plausibility.finding import Seen, gettext_noop, rule
from fleet.calculation.units import display

DESIGN_HOLDING = 0.80
"""Design brake holding load, share of SDMBL on the first layer: ISO 3730, MEG 7.5.6, IACS Rec. 10."""


def _in_band(case: Case) -> bool | None:
    share, low, high = case.as_left_share, case.test.band_low, case.test.band_high
    if share is None or low is None or high is None:
        return None
    return low - 1e-9 <= share <= high + 1e-9


@rule(
    "in_band_not_borne_out",
    level="stop",
    field="outcome",
    general=True,
    title=gettext_noop("Said to be in band, but is not"),
    template=gettext_noop(
        "The outcome says set in band, but the verification slips give {share}, outside the operator's band of {low} "
        "to {high}. Adjust and verify again, or choose the outcome that fits."
    ),
)
def in_band_not_borne_out(case: Case) -> Seen | None:
    if case.test.outcome != "set_in_band" or _in_band(case) is not False:
        return None
    return Seen(
        {
            "share": display(case.as_left_share or 0.0, "percent"),
            "low": display(case.test.band_low or 0.0, "percent"),
            "high": display(case.test.band_high or 0.0, "percent"),
        },
        tuple(row for row, _ in case.rows("verification", slipped=True)),
    )


@rule(
    "verification_slip_outside_band",
    level="note",
    field="reading",
    title=gettext_noop("One verification slip lies outside the band"),
    template=gettext_noop(
        "The verification slips lie in the operator's band on average, but one gives {share}, outside {low} to {high}. "
        "Release fully, re-apply to the mark and slip it once more."
    ),
)
def verification_slip_outside_band(case: Case) -> Seen | None:
    low, high, mean_pa, mean_share = case.test.band_low, case.test.band_high, case.verification_pa, case.as_left_share
    if not _in_band(case) or not mean_pa or mean_share is None or low is None or high is None:
        return None
    shares = [
        (row, mean_share * (reading.reading_pa or 0.0) / mean_pa)
        for row, reading in case.rows("verification", slipped=True)
    ]
    outside = [(row, share) for row, share in shares if not low - 1e-9 <= share <= high + 1e-9]
    if not outside:
        return None
    figures = {
        "share": display(outside[0][1], "percent"),
        "low": display(low, "percent"),
        "high": display(high, "percent"),
    }
    return Seen(figures, tuple(row for row, _ in outside))


@rule(
    "set_without_slip",
    level="stop",
    field="outcome",
    title=gettext_noop("Set in band without a verification slip"),
    template=gettext_noop(
        "The outcome says set in band, but no verification slip was recorded. A brake that only held has not shown "
        "that it renders before the line parts. Slip it at the new mark, or choose the outcome that fits."
    ),
)
def set_without_slip(case: Case) -> Seen | None:
    if case.test.outcome != "set_in_band" or case.test.as_left_share is not None or not case.test.readings:
        return None
    return None if case.pressures("verification", slipped=True) else Seen()


@rule(
    "in_band_but_not_so_reported",
    level="ask",
    field="outcome",
    title=gettext_noop("In band, but reported as not set"),
    template=gettext_noop(
        "The outcome says that the brake could not be set, yet the verification slips give {share}, inside the "
        "operator's band. Check the outcome, or say what else was wrong."
    ),
)
def in_band_but_not_so_reported(case: Case) -> Seen | None:
    if case.test.outcome != "could_not_be_set" or not _in_band(case):
        return None
    return Seen({"share": display(case.as_left_share or 0.0, "percent")})


@rule(
    "left_at_design_holding",
    level="stop",
    field="outcome",
    title=gettext_noop("Brake left at 80 % or more"),
    template=gettext_noop(
        "The brake was left rendering at {share} of the base load. 80 % is what the brake is designed to hold when "
        "new: beyond that line, winch and deck are no longer protected. Slacken it and test again; until then the drum "
        "is not to be reported as set."
    ),
)
def left_at_design_holding(case: Case) -> Seen | None:
    share = case.as_left_share
    if share is None or share < DESIGN_HOLDING - 1e-9 or case.test.outcome not in (None, "set_in_band"):
        return None
    return Seen({"share": display(share, "percent")}, tuple(row for row, _ in case.rows("verification", slipped=True)))


@rule(
    "found_at_design_holding",
    level="ask",
    field="reading",
    title=gettext_noop("Brake found at 80 % or more"),
    template=gettext_noop(
        "The brake was found holding {share} of the base load or more. It would not have rendered before the line came "
        "into danger. Say since when it may have been so, and what was changed."
    ),
)
def found_at_design_holding(case: Case) -> Seen | None:
    shares = [(row, case.share_at(reading.reading_pa or 0.0)) for row, reading in case.rows(*AS_FOUND)]
    over = [(row, share) for row, share in shares if share is not None and share >= DESIGN_HOLDING]
    if not over:
        return None
    return Seen({"share": display(max(share for _, share in over), "percent")}, tuple(row for row, _ in over))
