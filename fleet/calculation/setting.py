"""The next move of a brake under test: from its slips and holds to a setting for the target, always from below.

Loads in N, settings in the drum's own kind: m for a marker distance, N·m for a torque, Pa for an applied pressure, a
plain number for shims. How the slope is found stands in ``setting_likelihood``, the words in ``setting_sentences``.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import floor, sqrt

from fleet.calculation import units
from fleet.calculation.assumptions import Assumptions
from fleet.calculation.checks import InputError, require_not_negative, require_positive
from fleet.calculation.sentences import Sentence
from fleet.calculation.setting_likelihood import Estimate, Posterior, SettingReading, SlopePrior, Spread, weigh
from fleet.calculation.setting_sentences import (
    IN_BAND,
    LOAD_FALLS,
    NEAR_EDGE,
    PUMP_ON,
    REPEAT,
    SLACKEN,
    SLOPE,
    SLOPE_ASSUMED,
    SPREAD,
    TARGET_SETTING,
    TEMPLATES,
    TIGHTEN,
    TOO_COARSE,
    TURNS,
)

SHORTER = "shorter"
LONGER = "longer"
SIGNS = {SHORTER: -1.0, LONGER: 1.0}

# Two slips may differ by so many standard deviations before they are said to contradict each other.
_MOST_DEVIATIONS = 2.0


@dataclass(frozen=True, kw_only=True)
class SettingRules:
    """How a hand sets a brake, and how careful a step is. Ours, common practice, no published source.

    Args:
        smallest_move_si: what a hand can do; 0.5 mm for a marker distance.
        part: of the distance to the target that one step may go at most; one smallest move is always allowed as long
            as it stays short of the target.
        risk_above: greatest probability that a step ends above the band.
        aim_from_above: where slackening aims, as a part of the way from the lower edge of the band to the target.
        hand_part: standard deviation of a setting as a hand finds it, over the smallest move.
        bend: how much less a reading counts the further it lies from the target, see ``setting_likelihood.Spread``.
        load_per_smallest_move: part of the target load that one smallest move is taken to change while nothing is
            known of this brake, within ``assumed_factor`` either way.
        last_slope_factor: what last year's slope is good for, either way.
        holding_over_target: the brake's design holding load over the target load: 80 % over 60 % of SDMBL. A brake that
            only held is looked for up to there.
        risk_of_holding: greatest probability that a step ends above that.

    Raises: InputError.
    """

    smallest_move_si: float = 0.5e-3
    part: float = 0.85
    risk_above: float = 0.025
    aim_from_above: float = 0.5
    hand_part: float = 0.6
    bend: float = 0.10
    load_per_smallest_move: float = 0.02
    assumed_factor: float = 4.0
    last_slope_factor: float = 1.5
    holding_over_target: float = 4 / 3
    risk_of_holding: float = 0.001

    def __post_init__(self) -> None:
        require_positive(
            smallest_move_si=self.smallest_move_si,
            load_per_smallest_move=self.load_per_smallest_move,
            holding_over_target=self.holding_over_target,
        )
        require_not_negative(hand_part=self.hand_part, bend=self.bend)
        for name in ("part", "risk_above", "aim_from_above", "risk_of_holding"):
            if not 0 < getattr(self, name) < 1:
                raise InputError(name, "must lie above 0 and below 1")


@dataclass(frozen=True, kw_only=True)
class Move:
    """From one setting to the next; ``by_si`` carries the drum's own sign, ``turns`` are of the handwheel (or None)."""

    from_si: float
    to_si: float
    by_si: float
    turns: float | None
    expected_load: Estimate


@dataclass(frozen=True, kw_only=True)
class SettingAdvice:
    """What to do next, and what it rests on. Codes are stable, see ``setting_sentences``.

    ``slope`` (N per setting unit towards tighter) and ``target_setting_si`` are None while nothing is known of them.
    A contradiction, where there is one, leaves no move: the readings come first.
    """

    code: str
    move: Move | None
    slope: Estimate | None
    target_setting_si: Estimate | None
    contradictions: tuple[str, ...]
    sentences: tuple[Sentence, ...]

    @property
    def text(self) -> str:
        """All of it in plain English."""
        return " ".join(sentence.text for sentence in self.sentences)


@dataclass(frozen=True, kw_only=True)
class SettingTask:
    """The brake, the band and the hand: all but the readings.

    Args: target_load_n, lower_n, upper_n: N; tighter_is: ``shorter`` or ``longer``; stop_n: load at the STOP reading,
    None where that is upper_n; last_slope_n_per_unit: found in an earlier test of this drum with the same lining, or
    None; movement_per_turn_si: of the setting, as measured on the drum, or None; slip_spread_relative: standard
    deviation of a slip; setting_unit: for the sentences. Raises: InputError.
    """

    target_load_n: float
    lower_n: float
    upper_n: float
    tighter_is: str
    stop_n: float | None = None
    last_slope_n_per_unit: float | None = None
    movement_per_turn_si: float | None = None
    slip_spread_relative: float = Assumptions().slip_spread_relative
    setting_unit: str = "mm"
    rules: SettingRules = field(default_factory=SettingRules)

    def __post_init__(self) -> None:
        require_positive(
            target_load_n=self.target_load_n,
            lower_n=self.lower_n,
            upper_n=self.upper_n,
            slip_spread_relative=self.slip_spread_relative,
        )
        if not self.lower_n < self.target_load_n < self.upper_n:
            raise InputError("target_load_n", "must lie inside the band")
        if self.stop_n is not None and not self.target_load_n < self.stop_n < float("inf"):
            raise InputError("stop_n", "must lie above the target, or the brake cannot be set with this gear")
        if self.tighter_is not in SIGNS:
            raise InputError("tighter_is", f"must be one of {', '.join(SIGNS)}")
        for name in ("last_slope_n_per_unit", "movement_per_turn_si"):
            if getattr(self, name) is not None:
                require_positive(**{name: getattr(self, name)})
        units.display(0.0, self.setting_unit)

    @property
    def sign(self) -> float:
        """+1 where the setting grows as the brake is tightened, −1 where it gets smaller."""
        return SIGNS[self.tighter_is]

    @property
    def ceiling_n(self) -> float:
        """A brake that holds this much, N, is slackened: the upper edge of the band, or STOP where that is lower."""
        return self.upper_n if self.stop_n is None else min(self.upper_n, self.stop_n)

    @property
    def prior(self) -> SlopePrior:
        """Last year's slope, or a guess that is good for little."""
        rules = self.rules
        if self.last_slope_n_per_unit is not None:
            return SlopePrior(slope_n_per_unit=self.last_slope_n_per_unit, factor=rules.last_slope_factor)
        guess = rules.load_per_smallest_move * self.target_load_n / rules.smallest_move_si
        return SlopePrior(slope_n_per_unit=guess, factor=rules.assumed_factor, assumed=True)


def next_move(readings: Sequence[SettingReading], task: SettingTask) -> SettingAdvice:
    """What to do after the last of one test's readings, in the order they were taken.

    A brake that rendered in the band is left alone. Below it, the step goes at most a stated part of the way, never
    past the target and hardly ever above the band; above it, the brake is slackened below the target, so that the next
    approach is again from below. Readings that contradict each other come before any move.

    Args: readings: only those for which the brake was released and re-applied to the setting, on the same layer and
    in the same state of dryness; anything else shows friction, not the setting. task: brake, band and hand.
    Raises: InputError. Source: censored likelihood, see ``setting_likelihood.weigh``; the rules of the step are ours.

    >>> task = SettingTask(target_load_n=382.2e3, lower_n=350.35e3, upper_n=414.05e3, tighter_is="shorter",
    ...     last_slope_n_per_unit=15e6, movement_per_turn_si=8e-3)
    >>> advice = next_move([SettingReading(setting_si=0.0520, load_n=300e3, stroke_n=11e3)], task)
    >>> advice.code, round(advice.move.by_si * 1000, 1), round(advice.move.turns, 2)
    ('tighten', -4.5, 0.56)
    """
    if not readings:
        raise InputError("readings", "needs at least one")
    return _Next(readings, task).advice()


class _Next:
    """Works one piece of advice out."""

    def __init__(self, readings: Sequence[SettingReading], task: SettingTask) -> None:
        self.task, self.rules = task, task.rules
        self.readings = readings
        self.last = readings[-1]
        self.now = task.sign * self.last.setting_si
        self.holding_n = self.rules.holding_over_target * task.target_load_n
        self.pairs = [(task.sign * reading.setting_si, reading) for reading in readings]
        self.found: Posterior = weigh(
            self.pairs,
            prior=task.prior,
            spread=Spread(
                slip_relative=task.slip_spread_relative,
                hand_si=self.rules.hand_part * self.rules.smallest_move_si,
                bend=self.rules.bend,
            ),
            target_load_n=task.target_load_n,
            highest_load_n=self.holding_n,
        )
        self.aim = self.found.tightness_for(task.target_load_n)
        marks = {round(tightness / self.rules.smallest_move_si) for tightness, _ in self.pairs}
        self.slope_is_known = not task.prior.assumed or len(marks) > 1
        self.figures = {
            "load": self._kn(self.last.load_n),
            "at_least": self._kn(self.last.at_least_n),
            "lower": self._kn(task.lower_n),
            "upper": self._kn(task.upper_n),
            "target": self._kn(task.target_load_n),
            "setting": self._setting(self.last.setting_si),
            "part": units.display(self.rules.part, "percent"),
            "smallest_move": self._setting(self.rules.smallest_move_si),
        }

    def advice(self) -> SettingAdvice:
        code, step = self._code_and_step()
        contradictions = self._contradictions(step)
        if contradictions and code in (TIGHTEN, SLACKEN, TOO_COARSE, REPEAT):
            # What is above the band is slackened whatever else the readings say.
            code, step = (code, step) if code == SLACKEN else (REPEAT, 0)
        move = self._move(step) if step else None
        sentences = [*(sentence for _, sentence in contradictions), *self._sentences(code, move)]
        return SettingAdvice(
            code=code,
            move=move,
            slope=self.found.slope if self.slope_is_known else None,
            target_setting_si=self._as_setting(self.aim) if self.slope_is_known else None,
            contradictions=tuple(name for name, _ in contradictions),
            sentences=tuple(sentences),
        )

    def _code_and_step(self) -> tuple[str, int]:
        """What to do, and by how many smallest moves, tighter counted above zero."""
        last, task = self.last, self.task
        if not last.slipped:
            return (SLACKEN, self._slacken()) if last.load_n >= task.ceiling_n * (1 - 1e-9) else (PUMP_ON, 0)
        if last.load_n > task.upper_n * (1 + 1e-9):
            return SLACKEN, self._slacken()
        if last.load_n >= task.lower_n * (1 - 1e-9):
            # As the record judges it, by the reading at first movement.
            return IN_BAND, 0
        return self._tighten()

    def _tighten(self) -> tuple[str, int]:
        distance = self.aim.estimate - self.now
        if distance <= 0:
            # The readings together say that this setting is already tight enough; the last one alone says not.
            return REPEAT, 0
        smallest = self.rules.smallest_move_si
        careful = min(
            self.found.tightest_within(self.task.ceiling_n, self.rules.risk_above),
            self.found.tightest_within(self.holding_n, self.rules.risk_of_holding),
        )
        steps = floor(min(self.rules.part * distance, careful - self.now) / smallest * (1 + 1e-12))
        if steps >= 1:
            return TIGHTEN, steps
        return (TIGHTEN, 1) if smallest <= distance else (TOO_COARSE, 0)

    def _slacken(self) -> int:
        task, rules = self.task, self.rules
        aim_n = task.lower_n + rules.aim_from_above * (task.target_load_n - task.lower_n)
        wanted = self.found.tightness_for(aim_n).estimate - self.now
        return min(-1, floor(wanted / rules.smallest_move_si))

    def _move(self, steps: int) -> Move:
        by = steps * self.rules.smallest_move_si
        per_turn = self.task.movement_per_turn_si
        return Move(
            from_si=self.last.setting_si,
            to_si=self.last.setting_si + self.task.sign * by,
            by_si=self.task.sign * by,
            turns=None if per_turn is None else abs(by) / per_turn,
            expected_load=self.found.load_at(self.now + by),
        )

    def _contradictions(self, step: int) -> list[tuple[str, Sentence]]:
        found = []
        if not self.last.slipped and self.last.load_n < self.task.ceiling_n * (1 - 1e-9):
            return []
        falls = self._falling()
        if falls is not None:
            found.append((LOAD_FALLS, falls))
        spread = self._spread(step)
        if spread is not None:
            found.append((SPREAD, spread))
        return found

    def _allowed(self, first: SettingReading, second: SettingReading) -> float:
        """By how much two loads may differ through scatter alone, N."""
        return _MOST_DEVIATIONS * self.task.slip_spread_relative * sqrt(first.load_n**2 + second.load_n**2)

    def _falling(self) -> Sentence | None:
        """Whether the last reading and an earlier one say that tightening made the brake weaker."""
        last = (self.now, self.last)
        for earlier in reversed(self.pairs[:-1]):
            (slack, slacker), (tight, tighter) = sorted((earlier, last), key=lambda pair: pair[0])
            if tight - slack < self.rules.smallest_move_si * (1 - 1e-9) or not tighter.slipped:
                continue
            if slacker.at_least_n - tighter.load_n > self._allowed(slacker, tighter):
                figures = {
                    "slacker": self._setting(slacker.setting_si),
                    "higher": self._kn(slacker.load_n),
                    "tighter": self._setting(tighter.setting_si),
                    "lower_load": self._kn(tighter.load_n),
                }
                return Sentence(template=TEMPLATES[LOAD_FALLS], figures=figures)
        return None

    def _spread(self, step: int) -> Sentence | None:
        """Whether slips at the last setting differ by more than scatter explains and the next step would change."""
        same = [
            reading
            for tightness, reading in self.pairs
            if reading.slipped and abs(tightness - self.now) < self.rules.smallest_move_si / 2
        ]
        if len(same) < 2 or not step:
            return None
        lowest, highest = min(same, key=lambda one: one.load_n), max(same, key=lambda one: one.load_n)
        differ_n = highest.load_n - lowest.load_n
        step_n = abs(step) * self.rules.smallest_move_si * self.found.slope.estimate
        if highest.at_least_n - lowest.load_n <= self._allowed(lowest, highest) or differ_n <= step_n:
            return None
        move = self._setting(abs(step) * self.rules.smallest_move_si)
        figures = {"setting": self.figures["setting"], "spread": self._kn(differ_n), "move": move}
        return Sentence(template=TEMPLATES[SPREAD], figures=figures)

    def _sentences(self, code: str, move: Move | None) -> list[Sentence]:
        figures = dict(self.figures)
        if move is not None:
            figures |= {"move": self._setting(abs(move.by_si)), "new_setting": self._setting(move.to_si)}
        held = code == SLACKEN and not self.last.slipped
        said = [Sentence(template=TEMPLATES[(SLACKEN, "held") if held else code], figures=figures)]
        if code == IN_BAND and self.last.middle_n < self.task.lower_n:
            said.append(Sentence(template=TEMPLATES[NEAR_EDGE], figures=figures))
        if move is not None and move.turns is not None:
            said.append(Sentence(template=TEMPLATES[TURNS], figures={"turns": units.shown(move.turns, 2)}))
        if not self.slope_is_known:
            if code == TIGHTEN:
                said.append(Sentence(template=TEMPLATES[SLOPE_ASSUMED]))
            return said
        one = 1.0 if self.task.setting_unit == "count" else units.to_si(1.0, self.task.setting_unit)
        slope, setting = self.found.slope, self._as_setting(self.aim)
        said.append(
            Sentence(
                template=TEMPLATES[SLOPE],
                figures={
                    "per_unit": f"1 {units.label(self.task.setting_unit)}".strip(),
                    "slope": self._kn(slope.estimate * one),
                    "low": self._kn(slope.low * one),
                    "high": self._kn(slope.high * one),
                },
            )
        )
        said.append(
            Sentence(
                template=TEMPLATES[TARGET_SETTING],
                figures={
                    "target": self.figures["target"],
                    "estimate": self._setting(setting.estimate),
                    "low": self._setting(setting.low),
                    "high": self._setting(setting.high),
                },
            )
        )
        return said

    def _as_setting(self, tightness: Estimate) -> Estimate:
        ends = sorted((self.task.sign * tightness.low, self.task.sign * tightness.high))
        return Estimate(estimate=self.task.sign * tightness.estimate, low=ends[0], high=ends[1])

    def _kn(self, load_n: float) -> str:
        return units.display(load_n, "kN")

    def _setting(self, setting_si: float) -> str:
        return units.display(setting_si, self.task.setting_unit)
