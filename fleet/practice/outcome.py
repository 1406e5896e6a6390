"""How close a practice test came to the truth, which only a virtual brake can tell."""

from dataclasses import dataclass
from math import fsum

from fleet.calculation.budget import load_budget
from fleet.calculation.measurement import GaugeInUse, Measurement
from fleet.calculation.slips import slip_spread
from fleet.practice.brakes import BAND
from fleet.practice.deck_checks import is_ticked, spoilt
from fleet.practice.run import AS_FOUND, Reading, Run


@dataclass(frozen=True)
class Outcome:
    """Shares of the ship design MBL, and marks in m.

    ``as_read`` is what the gauge said of the brake as left, ``best`` the same after what jack and lever take from it,
    ``half_width`` the expanded uncertainty at 95 %, ``truth`` what the brake renders at once it is dry.
    """

    as_found: float | None
    as_read: float
    best: float
    half_width: float
    truth: float
    mark_m: float
    true_mark_m: float
    load_truth_n: float
    slips: int
    was_wet: bool

    @property
    def off_by_m(self) -> float:
        """Distance between the mark as left and the mark at which the brake truly renders at the target."""
        return abs(self.mark_m - self.true_mark_m)

    @property
    def off_by_share(self) -> float:
        return abs(self.truth - self.as_read)

    @property
    def whisker(self) -> tuple[float, float]:
        """The load as left with its uncertainty, about the best estimate."""
        return self.best - self.half_width, self.best + self.half_width

    @property
    def truth_is_in_whisker(self) -> bool:
        return abs(self.truth - self.best) <= self.half_width

    @property
    def truth_is_in_band(self) -> bool:
        return BAND[0] <= self.truth <= BAND[1]

    @property
    def truth_is_high(self) -> bool:
        return self.truth > BAND[1]


def outcome(run: Run) -> Outcome:
    """What a finished run came to."""
    brake, rig = run.brake, run.brake.drum.trial.rig
    slips = run.slips_as_left or [run.last_slip_here]
    readings = [row.gauge_pa for row in slips]
    mean_pa = fsum(readings) / len(readings)
    gauge = GaugeInUse(
        full_scale_si=rig.dial.full_scale_pa,
        accuracy_class=rig.dial.accuracy_class,
        smallest_division_si=rig.dial.smallest_division_pa,
    )
    budget = load_budget(
        Measurement(reading_si=mean_pa, target=brake.target, gauge=gauge, spread=slip_spread(readings))
    )
    sdmbl_n = brake.drum.sdmbl_n
    dry = run.hand.trial.brake_when_dry()
    bad = spoilt(brake)
    truth_n = dry.rendering_load(run.hand.mark_m)
    return Outcome(
        as_found=_as_found(run.readings),
        as_read=brake.share_at(mean_pa),
        best=float(budget.load_n) / sdmbl_n,
        half_width=float(budget.combined.expanded_uncertainty) / sdmbl_n,
        truth=truth_n / sdmbl_n,
        mark_m=run.hand.mark_m,
        true_mark_m=dry.mark_for(brake.target_load_n),
        load_truth_n=truth_n,
        slips=len(run.slips_as_left),
        was_wet=bool(bad and bad.fault == "wet" and is_ticked(run.ticked, bad)),
    )


def _as_found(readings: list[Reading]) -> float | None:
    return next((row.share for row in readings if row.phase == AS_FOUND and row.slipped), None)
