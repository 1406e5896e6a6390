"""One virtual drum under test: apply the brake to a mark, pump, read. The truth is kept beside every reading."""

from dataclasses import dataclass, replace
from math import exp, log10

import numpy as np

from fleet.calculation.checks import require_positive
from fleet.simulation.brake import SLIDING, STATIC, BandBrake
from fleet.simulation.rig import Rig


@dataclass(frozen=True, kw_only=True)
class Application:
    """One application of the brake: what the crew wrote down, and what nobody aboard could know.

    ``load_n`` is what the reading means to the crew; ``true_load_n`` is where the brake rendered or would have.
    """

    mark_m: float
    slipped: bool
    reading_pa: float
    load_n: float
    true_mark_m: float
    true_load_n: float


class Trial:
    """A drum with its brake, rig and hand. Each slip dries and polishes the brake a little.

    Args: brake, rig; hand_spread_m: standard deviation of a mark set by hand; friction_scatter: of one application's
    friction, relative; rest_growth: gain of static friction per tenfold minute at rest; run_in_per_slip: gain of
    friction by each slip; rng: numpy Generator, the only source of chance.
    """

    def __init__(
        self,
        *,
        brake: BandBrake,
        rig: Rig,
        rng: np.random.Generator,
        hand_spread_m: float = 0.0,
        friction_scatter: float = 0.0,
        rest_growth: float = 0.0,
        run_in_per_slip: float = 0.0,
    ) -> None:
        self.brake = brake
        self.rig = rig
        self.hand_spread_m = hand_spread_m
        self.friction_scatter = friction_scatter
        self.rest_growth = rest_growth
        self.run_in_per_slip = run_in_per_slip
        self.slips = 0
        self._rng = rng
        self._true_mark_m = brake.mark_when_bearing_m

    def apply(
        self, mark_m: float, *, stop_load_n: float, rest_minutes: float = 5.0, released: bool = True
    ) -> Application:
        """Set the brake to a mark and pump until it slips or STOP is reached.

        Args: mark_m: as the crew measures it; stop_load_n: N; rest_minutes: 1 or more, since the brake was applied;
        released: released fully and re-applied before. A brake that was not, once it has slipped, shows its running
        friction, not what it holds from rest. Raises: InputError.
        """
        require_positive(stop_load_n=stop_load_n, rest_minutes=rest_minutes)
        if released:
            self.set_to(mark_m)
        movement = STATIC if released or self.slips == 0 else SLIDING
        true_load_n = self.load_to_render(movement=movement, rest_minutes=rest_minutes)
        pumped = self.rig.pump(true_load_n, stop_load_n=stop_load_n, rng=self._rng)
        if pumped.slipped:
            self.slips += 1
        return Application(
            mark_m=mark_m,
            slipped=pumped.slipped,
            reading_pa=pumped.reading_pa,
            load_n=self.rig.load_read(pumped.reading_pa),
            true_mark_m=self._true_mark_m,
            true_load_n=true_load_n,
        )

    def set_to(self, mark_m: float, *, left_tight_m: float = 0.0) -> None:
        """A hand sets the brake to a mark in m; ``left_tight_m``: how much tighter than the mark it stays."""
        by_hand_m = self.hand_spread_m * float(self._rng.standard_normal())
        self._true_mark_m = mark_m + by_hand_m + self.brake.tighter_sign * left_tight_m

    def load_to_render(self, *, movement: str = STATIC, rest_minutes: float = 5.0) -> float:
        """Line load in N at which the brake, as it is set, gives way this time."""
        return self._now().rendering_load(
            self._true_mark_m, movement=movement, friction_factor=self._friction_factor(movement, rest_minutes)
        )

    def brake_when_dry(self) -> BandBrake:
        """The brake as the slips so far have left it, once it is dry."""
        factor = 1 + self.run_in_per_slip * self.slips
        return replace(self.brake, wetness=0.0, friction_sliding=self.brake.friction_sliding * factor)

    def true_load(self, mark_m: float) -> float:
        """Where the brake would usually render from rest if it stood at exactly this mark now, N."""
        factor = 1 + self.run_in_per_slip * self.slips
        return self._now().rendering_load(mark_m, friction_factor=factor)

    def _now(self) -> BandBrake:
        # Each slip warms the rim and drives out about half of what wetness is left.
        return self.brake.drier(0.5**self.slips)

    def _friction_factor(self, movement: str, rest_minutes: float) -> float:
        factor = exp(self.friction_scatter * float(self._rng.standard_normal())) * (
            1 + self.run_in_per_slip * self.slips
        )
        if movement == STATIC:
            factor *= 1 + self.rest_growth * max(0.0, log10(rest_minutes))
        return factor
