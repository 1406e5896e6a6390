"""How far the load of a test can be trusted: its budget, its whisker, and whether it lies in the band by the rule."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import radians

from django.utils.translation import gettext as _

from fleet.calculation import brake
from fleet.calculation.advice import Advice, advise
from fleet.calculation.assumptions import Assumptions, Tolerances
from fleet.calculation.budget import LoadBudget, load_budget
from fleet.calculation.conformity import Conformity, assess
from fleet.calculation.gauge_certificate import Correction
from fleet.calculation.measurement import GaugeInUse, Measurement, lever_weight_part
from fleet.calculation.slips import SlipSpread, earlier_spread, slip_spread
from fleet.records.draft import ParsedDraft
from fleet.records.figures import Figures
from fleet.records.results import Results

# An angle is read on deck to about a degree: common practice, no published source.
ANGLE_READ_TO_RAD = radians(1.0)


class TrustUnknown(ValueError):
    """Why nothing can be said of how far a load can be trusted; the message is for the person."""


@dataclass(frozen=True)
class LoadTrust:
    """A brake rendering load, its budget and its verdict; ``advice`` only where guarded acceptance cannot decide."""

    budget: LoadBudget
    conformity: Conformity
    advice: Advice | None
    base_load_n: float
    gauge_unit: str
    own_assumptions: frozenset[str] = frozenset()
    """Which of the assumed figures are the operator's own; the others are ours."""
    correction: Correction | None = None
    """What the gauge's certificate makes of this reading."""

    @property
    def load_n(self) -> float:
        """The best estimate: as read, less what the jack and the lever can only take away."""
        return float(self.budget.load_n)

    @property
    def share(self) -> float:
        return self.load_n / self.base_load_n

    @property
    def expanded_n(self) -> float:
        return float(self.budget.combined.expanded_uncertainty)

    @property
    def expanded_share(self) -> float:
        return self.expanded_n / self.base_load_n

    @property
    def whisker(self) -> tuple[float, float]:
        """From where to where the true share of the base load lies with the stated coverage."""
        return max(0.0, self.share - self.expanded_share), self.share + self.expanded_share


def load_trust(
    figures: Figures, parsed: ParsedDraft, results: Results, earlier: Sequence[Sequence[float]] = ()
) -> LoadTrust | None:
    """Of the load as left, from the verification slips; None without one.

    ``earlier``: the slips of earlier tests at one setting each, see ``slip_history``; only their ratios count.
    Raises TrustUnknown where a table does not cover the reading.
    """
    slips = results.verification_readings_si
    if not slips:
        return None
    mean_si = sum(slips) / len(slips)
    assumptions = assumptions_of(figures)
    before = earlier_spread(earlier, at_si=mean_si, assumptions=assumptions)
    return _trust_at(figures, mean_si, tolerances_of(figures, parsed), slip_spread(slips, earlier=before))


def expected_trust(figures: Figures) -> LoadTrust:
    """What a test at the target would come to with this kit, with as many slips as the policy asks for.

    Raises TrustUnknown as ``load_trust``.
    """
    reading_si = figures.aim.reading_si
    assumptions = assumptions_of(figures)
    spread = SlipSpread(
        standard_deviation_si=assumptions.slip_spread_relative * reading_si,
        degrees_of_freedom=assumptions.slip_spread_degrees,
        slips=figures.policy.verification_slips,
        assumed=True,
    )
    return _trust_at(figures, reading_si, tolerances_of(figures, None), spread)


def _trust_at(figures: Figures, reading_si: float, tolerances: Tolerances, spread: SlipSpread) -> LoadTrust:
    base_name = str(figures.vessel.get_base_load_kind_display())
    low, high = figures.band
    measured = Measurement(
        reading_si=reading_si,
        target=figures.true_target,
        gauge=gauge_in_use(figures, reading_si),
        tolerances=tolerances,
        assumptions=assumptions_of(figures),
        spread=spread,
    )
    base_n = figures.aim.sdmbl_n
    try:
        found = load_budget(measured)
        advice = advise(
            found, base_load_n=base_n, lower=low, upper=high, gauge_unit=figures.gauge_unit, base_name=base_name
        )
    except brake.OutsideTable as error:
        raise TrustUnknown(
            _("The table does not cover this reading, so nothing can be said of how far its load can be trusted.")
        ) from error
    conformity = assess(
        estimate=float(found.load_n) / base_n,
        standard_uncertainty=float(found.combined.standard_uncertainty) / base_n,
        expanded_uncertainty=float(found.combined.expanded_uncertainty) / base_n,
        lower=low,
        upper=high,
        rule=figures.policy.decision_rule,
        base_name=base_name,
    )
    return LoadTrust(
        budget=found,
        conformity=conformity,
        advice=advice,
        base_load_n=base_n,
        gauge_unit=figures.gauge_unit,
        own_assumptions=frozenset(figures.policy.assumed),
        correction=figures.correction_at(reading_si),
    )


def assumptions_of(figures: Figures) -> Assumptions:
    """What stands in for what nobody measured on this drum with this kit."""
    return figures.policy.assumptions


def gauge_in_use(figures: Figures, reading_si: float) -> GaugeInUse:
    """The kit's gauge as its dial describes it, with its certificate where that counts at this reading."""
    instrument = figures.kit.gauge
    return GaugeInUse(
        full_scale_si=instrument.full_scale.si,
        accuracy_class=float(instrument.accuracy_class),
        smallest_division_si=instrument.smallest_division.si,
        certificate=figures.certificate if figures.correction_at(reading_si) else None,
    )


def tolerances_of(figures: Figures, parsed: ParsedDraft | None) -> Tolerances:
    """What somebody measured: the lever's angle in this test, and the lever's weight."""
    known = Tolerances()
    angle = parsed.typed("lever_angle") if parsed else None
    if angle is not None:
        known = replace(known, lever_angle_rad=min(max(abs(angle.si), ANGLE_READ_TO_RAD), radians(45)))
    force_n, weight = figures.aim.deck_reaction_n, figures.kit.lever.weight
    if weight is not None and force_n and weight.si < force_n:
        part = lever_weight_part(weight_n=weight.si, jack_force_n=force_n)
        known = replace(known, lever_weight_relative=part)
    return known
