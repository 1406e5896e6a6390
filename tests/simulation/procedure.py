"""Sets virtual brakes by a procedure and counts how it went: ours by ``setting.next_move``, and naive halving."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from math import log10

from scipy import optimize

from fleet.calculation.budget import load_budget
from fleet.calculation.measurement import GaugeInUse, Measurement
from fleet.calculation.setting import LONGER, SHORTER, SettingAdvice, SettingRules, SettingTask, next_move
from fleet.calculation.setting_likelihood import SettingReading
from fleet.calculation.setting_sentences import IN_BAND
from fleet.simulation.draw import SHARE, VirtualDrum, draw_drum
from fleet.simulation.trial import Application

BAND = (0.55, 0.65)
HOLDING_SHARE = 0.80
MOST_APPLICATIONS = 4


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """How one brake was set. ``applications`` counts every slip and every hold up to the one in band, None if never.

    ``overshot``: whether any mark the procedure chose made the brake truly hold more than 80 % of SDMBL; the mark it
    started from was chosen by nobody and stands in ``started_over``. ``true_share`` is of the mark it ended at.
    ``target_covered``: whether the interval given for the setting of exactly the target held it, as this rig reads;
    ``slope_covered``: the same for the slope; None where no interval was given or nothing was reached.
    """

    applications: int | None
    overshot: bool
    started_over: bool
    true_share: float
    target_covered: bool | None = None
    slope_covered: bool | None = None


def by_our_rules(drum: VirtualDrum, rules: SettingRules | None = None) -> Outcome:
    """Set a drum by the package's advice."""
    rig = drum.trial.rig
    task = SettingTask(
        target_load_n=SHARE * drum.sdmbl_n,
        lower_n=BAND[0] * drum.sdmbl_n,
        upper_n=BAND[1] * drum.sdmbl_n,
        tighter_is=LONGER if drum.trial.brake.tighter_sign > 0 else SHORTER,
        last_slope_n_per_unit=drum.last_slope_n_per_m,
        movement_per_turn_si=drum.mark_per_turn_m,
        part_that_arrives=part_that_arrives(drum),
        rules=rules or SettingRules(),
    )
    readings: list[SettingReading] = []
    advice: SettingAdvice | None = None

    def choose(done: Application) -> float | None:
        nonlocal advice
        readings.append(
            SettingReading(
                setting_si=done.mark_m,
                load_n=done.load_n,
                slipped=done.slipped,
                stroke_n=rig.load_read(rig.stroke_pa),
            )
        )
        advice = next_move(readings, task)
        if advice.code == IN_BAND:
            return None
        return done.mark_m if advice.move is None else advice.move.to_si

    outcome = _set(drum, choose)
    if outcome.applications is None or advice is None or advice.slope is None or advice.target_setting_si is None:
        return outcome
    mark_m, slope = _as_the_rig_reads(drum, task.target_load_n / task.part_that_arrives)
    return replace(
        outcome,
        target_covered=advice.target_setting_si.low <= mark_m <= advice.target_setting_si.high,
        slope_covered=advice.slope.low <= slope <= advice.slope.high,
    )


def part_that_arrives(drum: VirtualDrum) -> float:
    """What the crew's own budget takes off a load as read, knowing nothing of this rig's flaws: by assumption."""
    rig, dial = drum.trial.rig, drum.trial.rig.dial
    gauge = GaugeInUse(
        full_scale_si=dial.full_scale_pa,
        accuracy_class=dial.accuracy_class,
        smallest_division_si=dial.smallest_division_pa,
    )
    reading_pa = rig.target.pressure_for(SHARE * drum.sdmbl_n)
    budget = load_budget(Measurement(reading_si=reading_pa, target=rig.target, gauge=gauge))
    return float(budget.load_n / budget.uncorrected_n)


def _as_the_rig_reads(drum: VirtualDrum, load_n: float) -> tuple[float, float]:
    """The mark at which this brake usually reads a load with this rig, and the slope of the reading there."""
    trial, rig, sign = drum.trial, drum.trial.rig, drum.trial.brake.tighter_sign
    rested = 1 + trial.rest_growth * log10(5)

    def read_n(mark_m: float) -> float:
        return rig.load_read(rig.dial.shows(rig.pressure_at_slip(trial.true_load(mark_m) * rested)))

    about_m = trial.brake.mark_for(load_n)
    mark_m = optimize.brentq(lambda at: read_n(at) - load_n, about_m - 0.02, about_m + 0.02, xtol=1e-9)
    return mark_m, (read_n(mark_m + sign * 1e-4) - read_n(mark_m - sign * 1e-4)) / 2e-4


def by_halving(drum: VirtualDrum) -> Outcome:
    """Set a drum without any slope: half a turn of the handwheel, and half of that at each change of direction."""
    sign = drum.trial.brake.tighter_sign
    step_m, before = drum.mark_per_turn_m / 2, 0.0

    def choose(done: Application) -> float | None:
        nonlocal step_m, before
        high = not done.slipped or done.load_n > BAND[1] * drum.sdmbl_n
        if not high and done.load_n >= BAND[0] * drum.sdmbl_n:
            return None
        direction = -sign if high else sign
        if before and direction != before:
            step_m /= 2
        before = direction
        return done.mark_m + direction * step_m

    return _set(drum, choose)


def _set(drum: VirtualDrum, choose: Callable[[Application], float | None]) -> Outcome:
    mark_m, overshot, started_over, reached = drum.start_mark_m, False, False, None
    for number in range(1, MOST_APPLICATIONS + 1):
        done = drum.trial.apply(mark_m, stop_load_n=BAND[1] * drum.sdmbl_n)
        over = done.true_load_n > HOLDING_SHARE * drum.sdmbl_n
        started_over = started_over or (over and number == 1)
        overshot = overshot or (over and number > 1)
        chosen = choose(done)
        if chosen is None:
            reached = number
            break
        mark_m = chosen
    else:
        # The last mark chosen is set as well, though nobody tests it any more.
        overshot = overshot or drum.trial.true_load(mark_m) > HOLDING_SHARE * drum.sdmbl_n
    return Outcome(
        applications=reached,
        overshot=overshot,
        started_over=started_over,
        true_share=drum.trial.true_load(mark_m) / drum.sdmbl_n,
    )


@dataclass(frozen=True, kw_only=True)
class Tally:
    """Counts over many brakes."""

    brakes: int
    reached: int
    overshot: int
    started_over: int
    truly_in_band: int
    by_number: tuple[int, ...]
    intervals: int
    targets_covered: int
    slopes_covered: int


def tally(outcomes: Iterable[Outcome]) -> Tally:
    """Count outcomes."""
    all_of_them = list(outcomes)
    reached = [outcome for outcome in all_of_them if outcome.applications is not None]
    return Tally(
        brakes=len(all_of_them),
        reached=len(reached),
        overshot=sum(outcome.overshot for outcome in all_of_them),
        started_over=sum(outcome.started_over for outcome in all_of_them),
        truly_in_band=sum(BAND[0] <= outcome.true_share <= BAND[1] for outcome in reached),
        by_number=tuple(
            sum(outcome.applications == number for outcome in reached) for number in range(1, MOST_APPLICATIONS + 1)
        ),
        intervals=sum(outcome.target_covered is not None for outcome in reached),
        targets_covered=sum(outcome.target_covered is True for outcome in reached),
        slopes_covered=sum(outcome.slope_covered is True for outcome in reached),
    )


def run(seeds: Iterable[int], way: Callable[[VirtualDrum], Outcome] = by_our_rules) -> Tally:
    """Set the drums of these seeds."""
    return tally(way(draw_drum(seed)) for seed in seeds)
