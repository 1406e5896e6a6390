"""The long counts: each on a fixed sample, and the command that runs them in full."""

import sys
from io import StringIO
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from scipy import stats

from tests import soak
from tests.soak import honest_records, setting_procedure
from tests.soak.part import Part, Report, share_line, upper_limit


def part(name: str, *, holds: bool = True, calls: list[tuple[int, int]] | None = None) -> Part:
    def run(first_seed: int, count: int) -> Report:
        if calls is not None:
            calls.append((first_seed, count))
        return Report(lines=(f"{name} counted {count}",), holds=holds)

    return Part(name=name, what=f"what {name} promises", first_seed=100, count=7, run=run, tuned_on=(range(5),))


@pytest.fixture
def parts(monkeypatch: pytest.MonkeyPatch) -> dict[str, Part]:
    registry: dict[str, Part] = {}
    monkeypatch.setattr(soak, "PARTS", registry)
    return registry


def run_soak(*arguments: str) -> str:
    out = StringIO()
    call_command("soak", *arguments, stdout=out)
    return out.getvalue()


def test_every_part_has_a_name_of_its_own_and_was_not_tuned_on_what_it_reports() -> None:
    assert list(soak.PARTS) == [one.name for one in soak.PARTS.values()]
    for one in soak.PARTS.values():
        assert one.count > 0
        assert not one.was_tuned_on(one.first_seed, one.count)


def test_each_part_runs_in_full_on_its_own_seeds(parts: dict[str, Part]) -> None:
    calls: list[tuple[int, int]] = []
    parts |= {"first": part("first", calls=calls), "second": part("second", calls=calls)}
    told = run_soak()
    assert calls == [(100, 7), (100, 7)]
    assert "first: what first promises\n  seeds 100 to 106\n  first counted 7\n  holds" in told
    assert "flatter" not in told


def test_one_part_with_other_seeds_and_fewer(parts: dict[str, Part]) -> None:
    calls: list[tuple[int, int]] = []
    parts |= {"first": part("first", calls=calls), "second": part("second")}
    told = run_soak("--part", "first", "--seed", "3", "--count", "2")
    assert calls == [(3, 2)]
    assert "second" not in told
    assert "Some of these seeds were tuned on: these figures flatter." in told


def test_a_part_that_does_not_hold_fails_the_command_after_all_have_run(parts: dict[str, Part]) -> None:
    calls: list[tuple[int, int]] = []
    parts |= {"bad": part("bad", holds=False), "good": part("good", calls=calls)}
    with pytest.raises(CommandError, match="Does not hold: bad"):
        run_soak()
    assert calls


@pytest.mark.parametrize(
    ("arguments", "told"),
    [(("--part", "no"), "No such part: no"), (("--count", "0"), "count"), (("--seed", "-1"), "seed")],
)
def test_what_makes_no_sense_is_refused(parts: dict[str, Part], arguments: tuple[str, ...], told: str) -> None:
    parts["first"] = part("first")
    with pytest.raises(CommandError, match=told):
        run_soak(*arguments)


def test_the_parts_are_listed_without_running_any(parts: dict[str, Part]) -> None:
    calls: list[tuple[int, int]] = []
    parts["first"] = part("first", calls=calls)
    assert run_soak("--list") == "first: what first promises; 7 seeds from 100\n"
    assert not calls


def test_without_the_tests_the_command_says_what_it_needs(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "tests.soak", None)
    with pytest.raises(CommandError, match="soak needs the test environment"):
        run_soak()


def test_a_sample_of_the_honest_records_raises_nothing_above_a_note() -> None:
    report = honest_records.run(honest_records.PART.first_seed, 150)
    assert report.holds
    assert report.lines[0] == f"honest records with a finding above a note: 0 of 150 (0.00%, upper limit {limit(150)})"


def test_a_record_with_a_mistake_is_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    made = honest_records.honest_record

    def with_a_mistake(seed: int, **kinds: Any) -> Any:
        # A flange measured for the barrel: nearly twice the diameter.
        record = made(seed, **kinds)
        drum = record.test.drum
        return record.with_drum(drum_diameter_m=1.8 * drum.drum_diameter_m)

    monkeypatch.setattr(honest_records, "honest_record", with_a_mistake)
    report = honest_records.run(0, 5)
    assert not report.holds
    assert "above a note: 5 of 5" in report.lines[0]


def test_the_setting_procedure_reports_both_ways_and_what_is_promised() -> None:
    report = setting_procedure.run(setting_procedure.REPORTED_ON.start, 3)
    told = "\n".join(report.lines)
    assert "suggested procedure, 3 brakes" in told
    assert "naive halving, 3 brakes" in told
    assert "upper limit" in told


def limit(of: int) -> str:
    """Clopper and Pearson's limit of none out of so many in closed form: 1 − 0.05^(1/n)."""
    return f"{1 - 0.05 ** (1 / of):.2%}"


@pytest.mark.parametrize(("count", "of"), [(0, 2000), (68, 2000), (7, 10), (10, 10)])
def test_the_upper_limit_is_that_of_clopper_and_pearson(count: int, of: int) -> None:
    # SciPy's exact binomial test, one-sided at 95 %.
    expected = stats.binomtest(count, of, alternative="less").proportion_ci(0.95, method="exact").high
    assert upper_limit(count, of) == pytest.approx(expected, rel=1e-9)
    assert share_line(count, of).startswith(f"{count} of {of} (")
