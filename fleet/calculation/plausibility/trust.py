"""Rules on how far the result can be trusted: the gauge's certificate, and the load with its uncertainty."""

from __future__ import annotations

from fleet.calculation.plausibility.case import Case
from fleet.calculation.plausibility.facts import TrustFacts
from fleet.calculation.plausibility.finding import Seen, gettext_noop, rule
from fleet.calculation.sentences import points_shown, probability_shown
from fleet.calculation.units import display

NEARER_THE_MIDDLE = "Set it nearer the middle of the band and verify again."


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


def _claimed(case: Case) -> TrustFacts | None:
    """How far the load can be trusted, where the record claims that the brake was set in band."""
    trust = case.test.trust
    if trust is None or case.test.band_low is None or case.test.band_high is None:
        return None
    return trust if case.test.outcome in (None, "set_in_band") else None


def _figures(case: Case, trust: TrustFacts) -> dict[str, str]:
    return {
        "estimate": display(trust.estimate_share, "percent"),
        "uncertainty": points_shown(trust.expanded_share),
        "low": display(case.test.band_low or 0.0, "percent"),
        "high": display(case.test.band_high or 0.0, "percent"),
    }


@rule(
    "load_not_proven",
    level="ask",
    field="result",
    title=gettext_noop("Load not proven to be in the band"),
    template=gettext_noop(
        "The load as left is most likely {estimate} of the base load, give or take {uncertainty} points. By the "
        "operator's guarded rule that does not prove it to lie in the band of {low} to {high}: the probability is "
        "{probability}. {advice} If it is to stand as it is, say why."
    ),
)
def load_not_proven(case: Case) -> Seen | None:
    trust = _claimed(case)
    if trust is None or trust.rule != "guarded" or trust.verdict != "not_proven":
        return None
    figures = {"probability": probability_shown(trust.probability), "advice": trust.advice or NEARER_THE_MIDDLE}
    return Seen({**_figures(case, trust), **figures}, _slips(case))


@rule(
    "load_below_by_its_uncertainty",
    level="ask",
    field="result",
    title=gettext_noop("Load below the band by more than its uncertainty"),
    template=gettext_noop(
        "The load as left is most likely {estimate} of the base load, give or take {uncertainty} points: below the "
        "band of {low} to {high} by more than that. The brake slips too early. Tighten it and test again."
    ),
)
def load_below_by_its_uncertainty(case: Case) -> Seen | None:
    return _guarded_and(case, "low")


@rule(
    "load_above_by_its_uncertainty",
    level="ask",
    field="result",
    title=gettext_noop("Load above the band by more than its uncertainty"),
    template=gettext_noop(
        "The load as left is most likely {estimate} of the base load, give or take {uncertainty} points: above the "
        "band of {low} to {high} by more than that. The brake holds more than it should. Slacken it and test again."
    ),
)
def load_above_by_its_uncertainty(case: Case) -> Seen | None:
    return _guarded_and(case, "high")


def _guarded_and(case: Case, verdict: str) -> Seen | None:
    trust = _claimed(case)
    if trust is None or trust.rule != "guarded" or trust.verdict != verdict:
        return None
    return Seen(_figures(case, trust), _slips(case))


@rule(
    "likely_outside_band",
    level="ask",
    field="result",
    title=gettext_noop("In band as read, most likely outside it"),
    template=gettext_noop(
        "As read the brake rendered at {read} of the base load, in the band of {low} to {high}. But jack and lever can "
        "only take force away: with that counted it is most likely {estimate}, {side} the band. {act} a little and "
        "verify again, or say why it stands."
    ),
)
def likely_outside_band(case: Case) -> Seen | None:
    trust, read = _claimed(case), case.as_left_share
    low, high = case.test.band_low, case.test.band_high
    if trust is None or trust.rule != "simple" or read is None or low is None or high is None:
        return None
    if not low <= read <= high or trust.verdict not in ("low", "high"):
        return None
    is_low = trust.verdict == "low"
    figures = {
        "read": display(read, "percent"),
        "side": "below" if is_low else "above",
        "act": "Tighten it" if is_low else "Slacken it",
    }
    return Seen({**_figures(case, trust), **figures}, _slips(case))


def _slips(case: Case) -> tuple[int, ...]:
    return tuple(row for row, _ in case.rows("verification", slipped=True))
