"""Works out again how far a load can be trusted: the budget, the whisker, and the verdict on the band."""

from collections.abc import Iterator
from math import inf
from typing import Any

from fleet.calculation import units
from fleet.calculation.assumptions import Assumptions, Tolerances
from fleet.calculation.budget import LoadBudget, load_budget
from fleet.calculation.conformity import assess
from fleet.calculation.measurement import GaugeInUse, Measurement
from fleet.calculation.sentences import points_shown, probability_shown
from fleet.calculation.slips import SlipSpread
from fleet.certificates.recheck_figures import Rebuilt
from fleet.certificates.recheck_lines import TRUST, Line, compared

PARTS_DECIMALS = 2


def trust_lines(record: dict[str, Any]) -> list[Line]:
    """Lines on the uncertainty; none for a record made before it was stated."""
    kept = record.get("trust")
    if kept is None:
        return []
    if "inputs" not in kept:
        return [Line(TRUST, "uncertainty", None, "the record does not hold what it was worked out from")]
    try:
        return list(_lines(Rebuilt(record), kept))
    except (ValueError, KeyError, TypeError, AttributeError, ZeroDivisionError, OverflowError) as error:
        return [Line(TRUST, "uncertainty", False, f"cannot be worked out from this record ({error})")]


def _lines(rebuilt: Rebuilt, kept: dict[str, Any]) -> Iterator[Line]:
    budget, policy = _budget(rebuilt, kept["inputs"]), rebuilt.record["policy"]
    total, base_n = budget.combined, rebuilt.base_n
    load_n, expanded_n = float(budget.load_n), float(total.expanded_uncertainty)
    yield compared(
        TRUST,
        "best estimate of the load",
        [kept[name] for name in ("load_shown", "load_tf_shown", "share_shown", "load_n", "share")],
        [
            units.display(load_n, "kN"),
            units.display(load_n, "tf"),
            units.display(load_n / base_n, "percent"),
            load_n,
            load_n / base_n,
        ],
    )
    yield compared(
        TRUST,
        "expanded uncertainty and coverage factor",
        [kept[name] for name in ("U_shown", "U_points_shown", "k_shown", "U_n", "coverage")],
        [
            units.display(expanded_n, "kN"),
            points_shown(expanded_n / base_n),
            units.shown(float(total.coverage_factor), 2),
            expanded_n,
            total.coverage,
        ],
    )
    for row, share in total.longest_first:
        again = [units.shown_quantity(float(row.contribution) / base_n, "percent", PARTS_DECIMALS), share]
        found = [[line["contribution_shown"], line["share"]] for line in kept["rows"] if line["key"] == row.key]
        yield compared(TRUST, f"budget, {row.name}", found[0] if found else None, again)
    low = max(0.0, (load_n - expanded_n) / base_n)
    high = (load_n + expanded_n) / base_n
    yield compared(
        TRUST,
        "whisker",
        [*kept["whisker_shown"], *kept["whisker"]],
        [units.display(low, "percent"), units.display(high, "percent"), low, high],
    )
    judged = assess(
        estimate=load_n / base_n,
        standard_uncertainty=float(total.standard_uncertainty) / base_n,
        expanded_uncertainty=expanded_n / base_n,
        lower=float(policy["band_low"]),
        upper=float(policy["band_high"]),
        rule=policy["decision_rule"],
        base_name=str(rebuilt.record["vessel"]["base_load"]["kind_label"]),
    )
    yield compared(
        TRUST,
        "verdict on the band",
        [kept["probability_shown"], kept["rule"], kept["verdict"], kept["probability"]],
        [probability_shown(judged.probability), judged.rule, judged.verdict, judged.probability],
    )


def _budget(rebuilt: Rebuilt, inputs: dict[str, Any]) -> LoadBudget:
    instrument = rebuilt.record["kit"]["gauge"]
    assumed = dict(inputs["assumptions"])
    tolerances = Tolerances(**assumed.pop("tolerances"))
    reading_si = _mean_slip_si(rebuilt)
    return load_budget(
        Measurement(
            reading_si=reading_si,
            target=rebuilt.true_target,
            gauge=GaugeInUse(
                full_scale_si=float(instrument["full_scale"]["si"]),
                accuracy_class=float(instrument["accuracy_class"]),
                smallest_division_si=float(instrument["smallest_division"]["si"]),
                certificate=rebuilt.certificate if rebuilt.is_covered(reading_si) else None,
            ),
            tolerances=Tolerances(**inputs["tolerances"]),
            assumptions=Assumptions(tolerances=tolerances, **assumed),
            spread=_spread(inputs["spread"]),
        )
    )


def _mean_slip_si(rebuilt: Rebuilt) -> float:
    slips = [
        float(row["gauge_si"])
        for row in rebuilt.record["readings"]
        if row["phase"] == "verification" and row["slipped"] and rebuilt.at(float(row["gauge_si"]))[1] is not None
    ]
    return sum(slips) / len(slips)


def _spread(kept: dict[str, Any]) -> SlipSpread:
    degrees = kept["degrees_of_freedom"]
    return SlipSpread(**{**kept, "degrees_of_freedom": inf if degrees is None else degrees})
