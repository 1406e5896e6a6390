"""Rules on how far the result can be trusted: the gauge's certificate, and the load with its uncertainty."""

from __future__ import annotations

from fleet.calculation.plausibility.case import Case
from fleet.calculation.plausibility.finding import Seen, gettext_noop, rule


@rule(
    "gauge_not_covered",
    level="ask",
    field="gauge",
    title=gettext_noop("Reading outside the gauge's calibration certificate"),
    template=gettext_noop(
        "The gauge's calibration certificate covers readings of {low} to {high}, and {reading} lies outside: it stands "
        "uncorrected, with the largest error of the class. Say whether the gauge will be calibrated over the part that "
        "the test uses."
    ),
)
def gauge_not_covered(case: Case) -> Seen | None:
    gauge = case.test.gauge
    if gauge is None or gauge.certificate_from_pa is None or gauge.certificate_to_pa is None:
        return None
    low, high = gauge.certificate_from_pa * (1 - 1e-9), gauge.certificate_to_pa * (1 + 1e-9)
    slips = [(row, reading.reading_pa or 0.0) for row, reading in case.rows("verification", slipped=True)]
    outside = [(row, pressure) for row, pressure in slips if not low <= pressure <= high]
    target = case.test.target_pressure_pa
    if not outside and (target is None or low <= target <= high):
        return None
    figures = {
        "low": case.shown_pa(gauge.certificate_from_pa),
        "high": case.shown_pa(gauge.certificate_to_pa),
        "reading": case.shown_pa(outside[0][1] if outside else target or 0.0),
    }
    return Seen(figures, tuple(row for row, _ in outside))
