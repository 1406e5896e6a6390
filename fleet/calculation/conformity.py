"""Whether a brake rendering load lies in the band, given how far it can be trusted. Loads as shares of the base load.

The measurement alone speaks here: as tested, dry, on that day. How well a hand finds the mark again is another thing.
"""

from dataclasses import dataclass
from math import inf

from fleet.calculation import units
from fleet.calculation.checks import InputError, require_not_negative, require_positive
from fleet.calculation.sentences import Sentence, gettext_noop, points_shown, probability_shown
from fleet.calculation.uncertainty import probability_of_conformity

SIMPLE = "simple"
GUARDED = "guarded"
RULES = (SIMPLE, GUARDED)

IN_BAND = "in_band"
LOW = "low"
HIGH = "high"
NOT_PROVEN = "not_proven"
VERDICTS = {
    IN_BAND: gettext_noop("in band"),
    LOW: gettext_noop("low"),
    HIGH: gettext_noop("high"),
    NOT_PROVEN: gettext_noop("not proven"),
}

DEFAULT_BAND = (0.55, 0.65)

TEMPLATES = {
    (SIMPLE, IN_BAND): gettext_noop(
        "When tested, the brake rendered at {load} of {base}, give or take {uncertainty} points: in the band of "
        "{lower} to {upper}. The probability that the true load is in it too is {probability}. Stop adjusting."
    ),
    (SIMPLE, LOW): gettext_noop(
        "When tested, the brake rendered at {load} of {base}, give or take {uncertainty} points: below the band of "
        "{lower} to {upper}. It slips too early. Tighten it and test again."
    ),
    (SIMPLE, HIGH): gettext_noop(
        "When tested, the brake rendered at {load} of {base}, give or take {uncertainty} points: above the band of "
        "{lower} to {upper}. It holds more than it should. Slacken it and test again."
    ),
    (GUARDED, IN_BAND): gettext_noop(
        "When tested, the brake rendered at {load} of {base}, give or take {uncertainty} points: in the band of "
        "{lower} to {upper} by more than the uncertainty. The probability that the true load is in it is "
        "{probability}. Stop adjusting."
    ),
    (GUARDED, LOW): gettext_noop(
        "When tested, the brake rendered at {load} of {base}, give or take {uncertainty} points: below the band of "
        "{lower} to {upper} by more than the uncertainty. It slips too early. Tighten it and test again."
    ),
    (GUARDED, HIGH): gettext_noop(
        "When tested, the brake rendered at {load} of {base}, give or take {uncertainty} points: above the band of "
        "{lower} to {upper} by more than the uncertainty. It holds more than it should. Slacken it and test again."
    ),
    (GUARDED, NOT_PROVEN): gettext_noop(
        "When tested, the brake rendered at {load} of {base}, give or take {uncertainty} points. That is too uncertain "
        "to say whether it is in the band of {lower} to {upper}: the probability is {probability}."
    ),
}


@dataclass(frozen=True, kw_only=True)
class Conformity:
    """The verdict on one load, with all that it rests on; shares of the base load as fractions.

    ``accept_from`` to ``accept_to`` is where a load must lie for *in band*; it is empty when they have crossed.
    """

    verdict: str
    rule: str
    estimate: float
    standard_uncertainty: float
    expanded_uncertainty: float
    lower: float
    upper: float
    accept_from: float
    accept_to: float
    probability: float
    probability_low: float
    probability_high: float
    base_name: str

    @property
    def can_be_proven(self) -> bool:
        """Whether any load at all could be found in band with this uncertainty and rule."""
        return self.accept_from <= self.accept_to

    @property
    def sentence(self) -> Sentence:
        """What the officer in charge of the test needs to hear."""
        return Sentence(
            template=TEMPLATES[self.rule, self.verdict],
            figures={
                "load": units.display(self.estimate, "percent"),
                "base": self.base_name,
                "uncertainty": points_shown(self.expanded_uncertainty),
                "lower": units.display(self.lower, "percent"),
                "upper": units.display(self.upper, "percent"),
                "probability": probability_shown(self.probability),
            },
        )


def assess(
    *,
    estimate: float,
    standard_uncertainty: float,
    expanded_uncertainty: float,
    lower: float = DEFAULT_BAND[0],
    upper: float = DEFAULT_BAND[1],
    rule: str = SIMPLE,
    base_name: str = "ship design MBL",
) -> Conformity:
    """Verdict by the company's decision rule: simple acceptance, or guarded by w = U on both sides.

    Args: all as fractions of the base load; lower, upper: the operator's band (the default is an operator's setting,
    not from a standard), both limits in it; rule: ``simple`` or ``guarded``; base_name: what the base load is called.
    Simple acceptance always decides by the estimate alone; guarded acceptance may leave it *not proven*.
    Raises: InputError. Source: JCGM 106:2012, 8.2 (simple acceptance), 8.3 (guard bands; U for w).

    >>> at_60 = dict(estimate=0.60, standard_uncertainty=0.026, expanded_uncertainty=0.052)
    >>> assess(**at_60).verdict, assess(**at_60, rule="guarded").verdict
    ('in_band', 'not_proven')
    >>> round(assess(**at_60).probability, 3)
    0.946
    """
    require_not_negative(
        estimate=estimate, standard_uncertainty=standard_uncertainty, expanded_uncertainty=expanded_uncertainty
    )
    require_positive(lower=lower, upper=upper, width=upper - lower)
    if rule not in RULES:
        raise InputError("rule", f"must be one of {', '.join(RULES)}")
    guard = expanded_uncertainty if rule == GUARDED else 0.0
    return Conformity(
        verdict=_verdict(estimate, lower, upper, guard),
        rule=rule,
        estimate=estimate,
        standard_uncertainty=standard_uncertainty,
        expanded_uncertainty=expanded_uncertainty,
        lower=lower,
        upper=upper,
        accept_from=lower + guard,
        accept_to=upper - guard,
        probability=float(probability_of_conformity(estimate, standard_uncertainty, lower, upper)),
        probability_low=float(probability_of_conformity(estimate, standard_uncertainty, -inf, lower)),
        probability_high=float(probability_of_conformity(estimate, standard_uncertainty, upper, inf)),
        base_name=base_name,
    )


def _verdict(estimate: float, lower: float, upper: float, guard: float) -> str:
    if lower + guard <= estimate <= upper - guard:
        return IN_BAND
    if estimate < lower - guard:
        return LOW
    if estimate > upper + guard:
        return HIGH
    return NOT_PROVEN
