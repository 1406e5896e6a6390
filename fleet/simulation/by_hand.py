"""A virtual drum tested by one person, stroke by stroke, with whatever a hand can do wrong. All figures SI."""

from dataclasses import dataclass

import numpy as np

from fleet.calculation.checks import InputError
from fleet.simulation.brake import SLIDING, STATIC
from fleet.simulation.trial import Trial

# What a spindle that was turned back under load leaves the band too tight by, as the mark shows it. Our estimate of
# the play in thread, links and pins; common practice, no published source.
PLAY_M = 1.0e-3


@dataclass(frozen=True, kw_only=True)
class Raised:
    """The gauge after a stroke: the true pressure, what the dial shows, and whether the drum moved."""

    pressure_pa: float
    shown_pa: float
    moved: bool


class ByHand:
    """A trial that goes one act at a time: release, set to a mark, stroke, let the jack down.

    A brake that is turned to another mark while it still bears, or pumped again after a slip without having been
    released, gives what such a brake gives: running friction, or a band left tighter than its mark says.

    Args: trial: the drum; rng: numpy Generator, for the strokes; mark_m: where the brake stands, m.
    """

    def __init__(self, trial: Trial, *, rng: np.random.Generator, mark_m: float) -> None:
        self.trial = trial
        self.mark_m = mark_m
        self.is_applied = True
        self.has_slid = False
        self.pressure_pa = 0.0
        self.shown_pa = 0.0  # what a person reads off the dial now, to half a division
        self.strokes = 0
        self.moved = False
        self._rng = rng
        self._slip_pa: float | None = None
        trial.set_to(mark_m)

    def release(self) -> None:
        """Let the jack down and slacken the brake fully."""
        self.let_down()
        self.is_applied = False
        self.has_slid = False

    def set_to(self, mark_m: float) -> bool:
        """Turn the handwheel until the mark shows so much; True where that loosened a brake which still bears."""
        self.let_down()
        eased = self.is_applied and (mark_m - self.mark_m) * self.trial.brake.tighter_sign < 0
        self.trial.set_to(mark_m, left_tight_m=PLAY_M if eased else 0.0)
        self.mark_m = mark_m
        self.is_applied = True
        return eased

    def stroke(self, *, stop_shown_pa: float) -> Raised:
        """One stroke of the pump; one that comes to the STOP reading from below is cut short there.

        Raises: InputError with the brake off, or once the drum has moved.
        """
        if not self.is_applied or self.moved:
            raise InputError("stroke", "needs a brake that is applied and has not moved since")
        rig = self.trial.rig
        if self._slip_pa is None:
            movement = SLIDING if self.has_slid else STATIC
            self._slip_pa = rig.pressure_at_slip(self.trial.load_to_render(movement=movement))
        ahead_pa = rig.after_stroke(self.pressure_pa, rng=self._rng)
        over_pa = rig.dial.shows(ahead_pa) - stop_shown_pa
        if over_pa > 0 and self.shown_pa < stop_shown_pa:
            ahead_pa = max(self.pressure_pa, ahead_pa - over_pa)
        self.pressure_pa = ahead_pa
        self.shown_pa = rig.dial.read(ahead_pa)
        self.strokes += 1
        if self._slip_pa <= self.pressure_pa:
            self.moved = self.has_slid = True
            self.trial.slips += 1
        return Raised(pressure_pa=self.pressure_pa, shown_pa=self.shown_pa, moved=self.moved)

    def let_down(self) -> None:
        """Release the jack's pressure; the brake stays as it is."""
        self.pressure_pa = self.shown_pa = 0.0
        self.strokes = 0
        self.moved = False
        self._slip_pa = None
