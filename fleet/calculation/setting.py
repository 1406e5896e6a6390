"""The next move of a brake under test: from its slips and holds to a setting for the target, always from below.

Loads in N, settings in the drum's own kind: m for a marker distance, N·m for a torque, Pa for an applied pressure, a
plain number for shims. How the slope is found stands in ``setting_likelihood``, the words in ``setting_sentences``.
"""

from collections.abc import Sequence
from math import floor, sqrt

from fleet.calculation import units
from fleet.calculation.checks import InputError
from fleet.calculation.sentences import Sentence
from fleet.calculation.setting_likelihood import Estimate, Posterior, SettingReading, Spread, weigh
from fleet.calculation.setting_sentences import (
    IN_BAND,
    LOAD_FALLS,
    NEAR_EDGE,
    PUMP_ON,
    REFINE,
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
from fleet.calculation.setting_task import LONGER, SHORTER, SIGNS, Move, SettingAdvice, SettingRules, SettingTask

__all__ = ["LONGER", "SHORTER", "SIGNS", "Move", "SettingAdvice", "SettingRules", "SettingTask", "next_move"]

# Two slips may differ by so many standard deviations before they are said to contradict each other.
_MOST_DEVIATIONS = 2.0


def next_move(readings: Sequence[SettingReading], task: SettingTask) -> SettingAdvice:
    """What to do after the last of one test's readings, in the order they were taken.

    A brake that rendered in the band is left alone, unless the best estimate of what it truly holds lies too near the
    lower edge: jack and lever only take force away, and a slip is read at the top of its stroke. Below the band the
    step goes at most a stated part of the way, never past the target and seldom above the band; above it, the brake is
    slackened below the target, no further than to a setting that read in the band, so that the next approach is again
    from below. Readings that contradict each other come before any move.

    Args: readings: only those for which the brake was released and re-applied to the setting, on the same layer and
    in the same state of dryness; anything else shows friction, not the setting. task: brake, band and hand.
    Raises: InputError. Source: censored likelihood, see ``setting_likelihood.weigh``; the rules of the step are ours.

    >>> task = SettingTask(target_load_n=382.2e3, lower_n=350.35e3, upper_n=414.05e3, tighter_is="shorter",
    ...     last_slope_n_per_unit=15e6, movement_per_turn_si=8e-3)
    >>> advice = next_move([SettingReading(setting_si=0.0520, load_n=300e3, stroke_n=11e3)], task)
    >>> advice.code, round(advice.move.by_si * 1000, 1), round(advice.move.turns, 2)
    ('tighten', -5.5, 0.69)
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
        self.best_load_n = task.part_that_arrives * self.found.load_at(self.now).estimate
        self.aim = self.found.tightness_for(task.target_load_n / task.part_that_arrives)
        marks = {round(tightness / self.rules.smallest_move_si) for tightness, _ in self.pairs}
        self.slope_is_known = not task.prior.assumed or len(marks) > 1
        self.figures = {
            "load": self._kn(self.last.load_n),
            "at_least": self._kn(self.last.at_least_n),
            "lower": self._kn(task.lower_n),
            "upper": self._kn(task.upper_n),
            "target": self._kn(task.target_load_n),
            "best": self._kn(self.best_load_n),
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
            best_load_n=self.best_load_n,
            refines=code == TIGHTEN and self._reads_in_band,
        )

    def _code_and_step(self) -> tuple[str, int]:
        """What to do, and by how many smallest moves, tighter counted above zero."""
        last, task = self.last, self.task
        if not last.slipped:
            return (SLACKEN, self._slacken()) if last.load_n >= task.ceiling_n * (1 - 1e-9) else (PUMP_ON, 0)
        if last.load_n > task.upper_n * (1 + 1e-9):
            return SLACKEN, self._slacken()
        if self._reads_in_band:
            # As the record judges it, by the reading at first movement.
            return self._refined()
        return self._tighten()

    @property
    def _reads_in_band(self) -> bool:
        lower_n, upper_n = self.task.lower_n * (1 - 1e-9), self.task.upper_n * (1 + 1e-9)
        return self.last.slipped and lower_n <= self.last.load_n <= upper_n

    def _refined(self) -> tuple[str, int]:
        task = self.task
        if len(self.pairs) > len(self.rules.margins):
            return IN_BAND, 0
        margin = self.rules.margins[len(self.pairs) - 1]
        if self.best_load_n < task.lower_n + margin * (task.target_load_n - task.lower_n):
            code, step = self._tighten()
            return (code, step) if code == TIGHTEN else (IN_BAND, 0)
        return IN_BAND, 0

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
        wanted = self.found.tightness_for(aim_n / task.part_that_arrives).estimate - self.now
        steps = min(-1, floor(wanted / rules.smallest_move_si))
        # A slacker setting that read in the band is as far back as there is any need to go.
        proven = [
            round((tightness - self.now) / rules.smallest_move_si)
            for tightness, reading in self.pairs
            if reading.slipped and task.lower_n <= reading.load_n <= task.ceiling_n and tightness < self.now
        ]
        return max([steps, *(back for back in proven if back < 0)])

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
        name: str | tuple[str, str] = code
        if code == SLACKEN and not self.last.slipped:
            name = (SLACKEN, "held")
        elif code == TIGHTEN and self._reads_in_band:
            name = REFINE
        said = [Sentence(template=TEMPLATES[name], figures=figures)]
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
