"""The bounds between which virtual brakes are drawn: each with its reason, none upside down."""

from fleet.simulation import ranges


def test_every_bound_has_a_reason_and_says_how_well_it_is_known() -> None:
    for bounds in ranges.TABLE:
        assert bounds.reason, bounds.key
        assert bounds.status in ranges.STATUSES, bounds.key
        assert bounds.low <= bounds.high, bounds.key
        assert (bounds.drawn == ranges.ONE_OF) == bool(bounds.values), bounds.key
        assert bounds.drawn != ranges.LOG_UNIFORM or bounds.low > 0, bounds.key


def test_no_parameter_stands_twice() -> None:
    assert len(ranges.BY_KEY) == len(ranges.TABLE)
