"""What a piece of advice on a setting rests on besides the readings: the brake, the band, the hand; and what it is."""

from dataclasses import dataclass, field

from fleet.calculation import units
from fleet.calculation.assumptions import Assumptions
from fleet.calculation.checks import InputError, require_not_negative, require_positive
from fleet.calculation.sentences import Sentence
from fleet.calculation.setting_likelihood import Estimate, SlopePrior

SHORTER = "shorter"
LONGER = "longer"
SIGNS = {SHORTER: -1.0, LONGER: 1.0}


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
        margins: a reading in the band is left alone only where the best estimate of what the brake truly holds lies
            above the lower edge by this part of the way to the target: after the first application, the second and so
            on. After more applications than are named here a reading in the band is left alone, wherever the estimate
            lies: nobody is kept at it for ever.

    Raises: InputError.
    """

    smallest_move_si: float = 0.5e-3
    part: float = 0.95
    risk_above: float = 0.10
    aim_from_above: float = 0.5
    hand_part: float = 0.6
    bend: float = 0.10
    load_per_smallest_move: float = 0.02
    assumed_factor: float = 4.0
    last_slope_factor: float = 1.5
    holding_over_target: float = 4 / 3
    risk_of_holding: float = 0.001
    margins: tuple[float, ...] = (0.5, 0.5, 0.25)

    def __post_init__(self) -> None:
        require_positive(
            smallest_move_si=self.smallest_move_si,
            load_per_smallest_move=self.load_per_smallest_move,
            holding_over_target=self.holding_over_target,
        )
        require_not_negative(hand_part=self.hand_part, bend=self.bend)
        if any(not 0 <= margin < 1 for margin in self.margins):
            raise InputError("margins", "must each lie between 0 and 1")
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
    A contradiction, where there is one, leaves no move: the readings come first. ``best_load_n``: what the brake
    probably holds at the last setting, N, less what jack and lever take. ``refines``: tighten although it reads in
    the band.
    """

    code: str
    move: Move | None
    slope: Estimate | None
    target_setting_si: Estimate | None
    contradictions: tuple[str, ...]
    sentences: tuple[Sentence, ...]
    best_load_n: float
    refines: bool = False

    @property
    def text(self) -> str:
        """All of it in plain English."""
        return " ".join(sentence.text for sentence in self.sentences)


@dataclass(frozen=True, kw_only=True)
class SettingTask:
    """The brake, the band and the hand: all but the readings.

    Args: target_load_n, lower_n, upper_n: N; tighter_is: ``shorter`` or ``longer``; stop_n: load at the STOP reading,
    None where that is upper_n; last_slope_n_per_unit: found in an earlier test of this drum with the same lining, or
    None; movement_per_turn_si: of the setting, as measured on the drum, or None; part_that_arrives: of a load as read,
    what is left of it on average after all that jack and lever can only take away; slip_spread_relative: standard
    deviation of a slip; setting_unit: for the sentences. Raises: InputError.
    """

    target_load_n: float
    lower_n: float
    upper_n: float
    tighter_is: str
    stop_n: float | None = None
    last_slope_n_per_unit: float | None = None
    movement_per_turn_si: float | None = None
    part_that_arrives: float = 1.0
    slip_spread_relative: float = Assumptions().slip_spread_relative
    setting_unit: str = "mm"
    rules: SettingRules = field(default_factory=SettingRules)

    def __post_init__(self) -> None:
        require_positive(
            target_load_n=self.target_load_n,
            lower_n=self.lower_n,
            upper_n=self.upper_n,
            slip_spread_relative=self.slip_spread_relative,
            part_that_arrives=self.part_that_arrives,
        )
        if self.part_that_arrives > 1:
            raise InputError("part_that_arrives", "must be at most 1")
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
