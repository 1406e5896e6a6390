"""How far a load can be trusted, as a record keeps it: invented, for the tests of what shows it."""

from copy import deepcopy
from typing import Any

WITHIN = "anywhere within these limits, each place as likely"
_ROWS = [
    ("gauge_class", "gauge, by its accuracy class", "172.5 bar", "4.0 bar", "rectangular", "0.80", 0.52, False),
    ("slips", "spread of the slips", "172.5 bar", "3.3 bar", "normal", "0.55", 0.246, True),
    ("jack_friction", "friction of the jack's seals", "1.00 %", "1.00 %", "one_sided", "0.34", 0.094, True),
    ("lever_angle", "lever not square to the jack", "0.05 %", "3.0 °", "cosine", "0.02", 0.0003, True),
]

TRUST: dict[str, Any] = {
    "load_n": 375_400.0,
    "load_shown": "375.4 kN",
    "load_tf_shown": "38.28 t (tonne-force)",
    "share": 0.5893,
    "share_shown": "58.9 %",
    "as_read_share_shown": "59.7 %",
    "U_n": 14_200.0,
    "U_shown": "14.2 kN",
    "U_points_shown": "2.2",
    "k_shown": "2.01",
    "dof_shown": "52",
    "coverage": 0.95,
    "whisker": [0.5670, 0.6116],
    "whisker_shown": ["56.7 %", "61.2 %"],
    "band_shown": "55.0 to 65.0 %",
    "rule": "simple",
    "rule_label": "simple acceptance: the best estimate lies in the band",
    "probability": 0.998,
    "probability_shown": "99.8 %",
    "verdict": "in_band",
    "verdict_label": "in band",
    "sentence": "When tested, the brake rendered at 58.9 %, give or take 2.2 points: in the band.",
    "advice": "",
    "rows": [
        {
            "key": key,
            "name": name,
            "value_shown": value,
            "half_width_shown": half,
            "distribution": distribution,
            "distribution_label": WITHIN if distribution == "rectangular" else distribution,
            "sensitivity_shown": "",
            "contribution_shown": points,
            "correction_shown": "",
            "share": share,
            "share_shown": f"{100 * share:.1f} %",
            "assumed": assumed,
            "assumed_by": "ours, common practice, no published source" if assumed else "",
        }
        for key, name, value, half, distribution, points, share, assumed in _ROWS
    ],
    "not_counted": ["weight of the lever"],
    "correction": "",
    "meaning": "The measurement alone: as tested, dry, on that day.",
}


def trust(**changes: Any) -> dict[str, Any]:
    """A copy of the literal, with some keys said otherwise."""
    return deepcopy(TRUST) | changes
