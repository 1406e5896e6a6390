"""Rules on the target: the share aimed at, and a recorded target that does not follow from the drum's figures."""

from __future__ import annotations

from math import log

from fleet.calculation.plausibility.case import Case, near
from fleet.calculation.plausibility.finding import Seen, gettext_noop, rule
from fleet.calculation.units import GAUGE_UNITS, display, label, to_si

EIGHTY_FOR_SIXTY = 0.80 / 0.60


def other_unit(case: Case, seen_pa: float, expected_pa: float) -> str | None:
    """The unit that would explain a pressure about ten or more times off; None where none does."""
    unit = case.unit
    if unit not in GAUGE_UNITS or expected_pa <= 0 or seen_pa <= 0 or 1 / 7.2 < seen_pa / expected_pa < 6.5:
        return None
    # The figure was typed for `unit`; had it been read in `other`, it would be this many times the pressure.
    ratios = {other: seen_pa * to_si(1.0, other) / to_si(1.0, unit) / expected_pa for other in GAUGE_UNITS}
    best = min(ratios, key=lambda other: abs(log(ratios[other])))
    return best if best != unit and 0.6 <= ratios[best] <= 1.6 else None


def _seen(case: Case) -> Seen:
    return Seen({"target": case.shown_pa(case.target_pa or 0.0), "expected": case.shown_pa(case.expected_pa or 0.0)})


def _target_ratio(case: Case) -> float | None:
    """Recorded target over the target worked out again; None where they agree or one is unknown."""
    recorded, expected = case.test.target_pressure_pa, case.expected_pa
    if not recorded or not expected or abs(recorded - expected) <= max(0.01 * expected, case.division_pa):
        return None
    return recorded / expected


@rule(
    "target_in_other_unit",
    level="ask",
    field="target_pressure",
    title=gettext_noop("Target in another unit"),
    template=gettext_noop(
        "The target {target} should be {expected}. Probably a figure in {unit} was entered. Use the target of the "
        "worksheet for this gauge."
    ),
)
def target_in_other_unit(case: Case) -> Seen | None:
    if _target_ratio(case) is None:
        return None
    unit = other_unit(case, case.test.target_pressure_pa or 0.0, case.expected_pa or 0.0)
    return Seen({**_seen(case).figures, "unit": label(unit)}) if unit else None


@rule(
    "target_without_line_diameter",
    level="ask",
    field="target_pressure",
    title=gettext_noop("Target worked out without the line diameter"),
    template=gettext_noop(
        "The target {target} should be {expected}. It fits a calculation in which the line diameter was forgotten: the "
        "brake is set too low. Use the target of the worksheet."
    ),
)
def target_without_line_diameter(case: Case) -> Seen | None:
    recorded, geometry = case.test.target_pressure_pa, case.geometry
    if not recorded or not geometry or not case.expected_pa or abs(recorded / case.expected_pa - 1) < 0.02:
        return None
    forgotten = (case.drum.drum_diameter_m or 0.0) / 2 / geometry.radius_m
    return _seen(case) if near(recorded / case.expected_pa, forgotten, 0.005) else None


@rule(
    "target_without_lever",
    level="ask",
    field="target_pressure",
    title=gettext_noop("Target worked out as a straight pull"),
    template=gettext_noop(
        "The target {target} should be {expected}. It fits a straight pull, as if there were no lever. Use the target "
        "of the worksheet."
    ),
)
def target_without_lever(case: Case) -> Seen | None:
    ratio, geometry, arm = _target_ratio(case), case.geometry, case.drum.lever_arm_m
    if ratio is None or not geometry or not arm or near(arm / geometry.radius_m, 1.0, 0.2):
        return None
    return _seen(case) if near(ratio, arm / geometry.radius_m, 0.01) else None


@rule(
    "target_on_first_layer",
    level="ask",
    field="target_pressure",
    title=gettext_noop("Target worked out for the first layer"),
    template=gettext_noop(
        "The target {target} should be {expected}. It fits the first layer, but the line lies on layer {layer}. Use "
        "the target of the worksheet."
    ),
)
def target_on_first_layer(case: Case) -> Seen | None:
    ratio, geometry, drum = _target_ratio(case), case.geometry, case.drum
    if ratio is None or not geometry or not drum.layer or drum.layer == 1:
        return None
    first = ((drum.drum_diameter_m or 0.0) + (drum.line_diameter_m or 0.0)) / 2
    fits = near(ratio, first / geometry.radius_m, 0.005)
    return Seen({**_seen(case).figures, "layer": str(drum.layer)}) if fits else None


@rule(
    "target_does_not_follow",
    level="ask",
    field="target_pressure",
    general=True,
    title=gettext_noop("Target does not follow from the drum's figures"),
    template=gettext_noop(
        "The recorded target {target} does not follow from the figures of drum, line, lever and jack, which give "
        "{expected}. Find the figure that differs, or use the target of the worksheet."
    ),
)
def target_does_not_follow(case: Case) -> Seen | None:
    return None if _target_ratio(case) is None else _seen(case)


@rule(
    "eighty_for_sixty",
    level="ask",
    field="share",
    title=gettext_noop("80 % taken for 60 %"),
    template=gettext_noop(
        "The brake was tested at {share} of the base load, where {policy} is meant. 80 % is what a new brake is "
        "designed to hold, not what it is set to: a brake set so may part the line before it renders. Set it to "
        "{policy} and test again."
    ),
)
def eighty_for_sixty(case: Case) -> Seen | None:
    aimed, policy = case.test.share_aimed, case.test.policy_share
    meant = policy if policy is not None else 0.60
    if meant > 0.70:
        return None
    left = case.as_left_share
    if aimed is not None and near(aimed / meant, EIGHTY_FOR_SIXTY, 0.02):
        return Seen({"share": display(aimed, "percent"), "policy": display(meant, "percent")})
    if left is not None and near(left / meant, EIGHTY_FOR_SIXTY, 0.04):
        return Seen({"share": display(left, "percent"), "policy": display(meant, "percent")})
    return None


@rule(
    "share_not_of_policy",
    level="ask",
    field="share",
    general=True,
    title=gettext_noop("Share aimed at is not the policy's"),
    template=gettext_noop(
        "The test aimed at {share} of the base load; the operator's policy is {policy}. Say who decided so, or test to "
        "the policy."
    ),
)
def share_not_of_policy(case: Case) -> Seen | None:
    aimed, policy = case.test.share_aimed, case.test.policy_share
    if aimed is None or policy is None or abs(aimed - policy) <= 0.005:
        return None
    return Seen({"share": display(aimed, "percent"), "policy": display(policy, "percent")})
