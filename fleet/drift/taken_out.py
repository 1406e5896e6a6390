"""What of a record's content the analysis over the years needs, beside the columns that every submission has."""

from collections.abc import Mapping
from math import isfinite, sqrt
from typing import Any

from fleet.calculation.budget import GAUGE_CALIBRATION, GAUGE_CLASS
from fleet.calculation.gauge import ACCURACY_CLASSES, common_share_of_class

# A slope known less well than within this factor either way does not tell. Ours.
SLOPE_WITHIN = 1.5


def taken_out(content: Mapping[str, Any], *, base_load_n: float, target_share: float) -> dict[str, Any]:
    """Lining, slope, the gauge's own uncertainty and the kind of setting; None or empty where the record lacks it."""
    linings = [float(value) for value in content.get("lining_m") or [] if value]
    return {
        "setting_kind": content.get("drum", {}).get("setting_kind", ""),
        "lining_m": min(linings, default=None),
        "slope_share_per_si": _slope(content.get("setting_analysis"), base_load_n),
        "gauge_share": _gauge_share(content, base_load_n, target_share),
    }


def _slope(analysis: Mapping[str, Any] | None, base_load_n: float) -> float | None:
    if not analysis:
        return None
    slope, low, high = (float(analysis[f"slope_{part}n_per_si"]) for part in ("", "low_", "high_"))
    told = slope > 0 and low > 0 and isfinite(high) and high <= low * SLOPE_WITHIN**2
    return slope / base_load_n if told else None


def _gauge_share(content: Mapping[str, Any], base_load_n: float, target_share: float) -> float | None:
    """By the budget of the record; older records have none, there the gauge's class says it."""
    trust, gauge = content.get("trust"), content.get("kit", {}).get("gauge")
    if trust:
        of_gauge = sum(row["share"] for row in trust["rows"] if row["key"] in {GAUGE_CLASS, GAUGE_CALIBRATION})
        return float(trust["U_n"] / float(trust["k_shown"]) * sqrt(of_gauge) / base_load_n)
    reading = content.get("target", {}).get("reading_si")
    if not gauge or not reading or float(gauge["accuracy_class"]) not in ACCURACY_CLASSES:
        return None
    return common_share_of_class(
        accuracy_class=float(gauge["accuracy_class"]),
        span_pa=float(gauge["full_scale"]["si"]),
        reading_pa=float(reading),
        share=target_share,
    )
