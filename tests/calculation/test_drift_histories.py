"""What the drift analysis refuses to be given, and that it names the array."""

from typing import Any

import numpy as np
import pytest

from fleet.calculation.checks import InputError
from tests.calculation.histories import histories, worn

MARKS = worn(np.random.default_rng(1), drums=4, tests=3)


def test_good_histories_count_their_rows() -> None:
    made = histories(MARKS)
    assert (made.drums, made.tests) == (4, 12)


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("year", np.linspace(2012, 2010, 12)),
        ("drum", np.full(12, 4)),
        ("mark_si", np.full(12, np.nan)),
        ("mark_si", np.zeros(11)),
        ("as_left_share", np.zeros(12)),
        ("slope_share_per_si", np.full(12, -1.0)),
        ("hand_si", np.full(12, -1e-3)),
        ("target_share", np.full(12, 0.7)),
        ("tighter_sign", np.zeros(4)),
        ("setting_kind", np.full(4, 9)),
        ("as_found_kind", np.full(12, 2)),
        ("event_drum", np.array([4])),
    ],
)
def test_what_cannot_be_is_refused(name: str, value: Any) -> None:
    changes = {name: value}
    if name == "event_drum":
        changes |= {"event_year": np.array([2011.0]), "event_kind": np.array([0])}
    with pytest.raises(InputError) as refused:
        histories(MARKS, **changes)
    named = {"year": "drum", "as_found_kind": "as_found_share"}.get(name, name)
    assert refused.value.argument == named
