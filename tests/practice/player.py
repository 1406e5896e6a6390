"""Somebody who practises by the book: every act a form as the pages send it, every figure read off the run."""

from dataclasses import dataclass, field

from fleet.calculation import units
from fleet.practice import run as steps
from fleet.practice.deck_checks import DECK_CHECKS
from fleet.practice.moves import Address
from fleet.practice.posted import make_move
from fleet.practice.run import Run, play

Form = dict[str, str]


def bar(pressure_pa: float) -> str:
    return units.digits(pressure_pa, "bar")


def mm(length_m: float) -> str:
    return units.digits(length_m, "mm")


def ticks(run: Run) -> Form:
    """Ticked is what is in order on this deck."""
    return {f"check_{check.name}": "on" for check in DECK_CHECKS if check.is_in_order(run.brake)}


@dataclass
class Player:
    """Goes through a test; `address` is where it stands, `sent` every form."""

    address: Address
    run: Run
    sent: list[Form] = field(default_factory=list)

    def send(self, **form: str) -> Run:
        self.address = make_move(self.address, self.run, form)
        self.sent.append(form)
        return self.run

    def up_to_the_pump(self) -> Run:
        run = self.run
        self.send(act="side", side=run.right_side)
        self.send(act="checks", **ticks(run))
        self.send(act="lining", lining="N" if run.brake.fault == "thin" else "Y")
        return self.send(act="reads", reads=bar(run.brake.target_reading_pa))

    def raise_and_write(self, phase: str) -> Run:
        """Pump to first movement or to STOP, then write it down."""
        run = self.run
        while not (run.hand.moved or run.is_at_stop):
            run = self.send(act="strokes")
        result = "slipped" if run.hand.moved else "held"
        return self.send(act=result, phase=phase, gauge=bar(run.hand.shown_pa))

    def re_apply(self, mark_m: float) -> Run:
        self.send(act="release")
        return self.send(act="mark", mark=mm(mark_m))

    def by_the_book(self) -> Run:
        """The whole test, as the tool suggests it."""
        run = self.up_to_the_pump()
        run = self.raise_and_write("a" if run.brake.after_work else "f")
        for _attempt in range(12):
            last = run.readings[-1]
            if last.is_in_band:
                break
            found = run.advice
            assert found
            self.re_apply(found.move.to_si if found.move else last.mark_m)
            run = self.raise_and_write("a")
        while len(run.slips_as_left) < steps.LEAST_SLIPS:
            self.re_apply(run.readings[-1].mark_m)
            run = self.raise_and_write("v")
        self.send(act="done")
        return self.send(act="fix", final_mark=mm(run.hand.mark_m), fixing="b")


def player(level: int, seed: int, attempt: int = 0) -> Player:
    address = Address(level, seed, attempt)
    return Player(address, play(address))
