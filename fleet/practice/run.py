"""A practice test played from its moves: at which step it stands, what was read, what went wrong so far."""

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass

from django.utils.translation import gettext as _

from fleet.calculation import units
from fleet.calculation.setting import SettingAdvice
from fleet.core.pictures.jack_side import jack_side
from fleet.practice import mistakes, moves
from fleet.practice.advised import advised
from fleet.practice.brakes import BAND, BAR_PA, GAUGE_UNIT, THIN, WET, PracticeBrake, practice_brake
from fleet.practice.deck_checks import DECK_CHECKS, is_ticked, spoilt
from fleet.practice.moves import Address
from fleet.simulation.by_hand import ByHand
from fleet.simulation.draw import HOLDING_SHARE

SIDE, CHECKS, LINING, GAUGE, READINGS, SETTING, END = (
    "side",
    "checks",
    "lining",
    "gauge",
    "readings",
    "setting",
    "end",
)
AS_FOUND, ADJUSTING, VERIFICATION = "f", "a", "v"
TENTH_BAR_PA = BAR_PA / 10
TENTH_MM_M = 1e-4
LEAST_SLIPS = 2
GOOD_FIXING = "b"
HIGHEST_MARK_M = 0.4
# Two marks nearer than this are one: half of what a steel rule shows.
SAME_MARK_M = 0.25e-3
HAIR = 1e-9


class Refused(ValueError):
    """A move that cannot be made now, told beside the field it belongs to."""

    def __init__(self, field: str, words: str) -> None:
        super().__init__(words)
        self.field = field
        self.words = words


@dataclass(frozen=True)
class Reading:
    """One raise of the jack as it was written down."""

    phase: str
    mark_m: float
    gauge_pa: float
    slipped: bool
    reapplied: bool
    share: float

    @property
    def is_in_band(self) -> bool:
        return self.slipped and BAND[0] <= self.share <= BAND[1]


class Run:
    """One practice test. Each move is a method that either happens whole or is refused in words."""

    def __init__(self, brake: PracticeBrake, attempt: int) -> None:
        self.brake = brake
        self.stage = SIDE
        self.attempt = attempt
        self.hand: ByHand = brake.by_hand(attempt, run_in=True)
        self.readings: list[Reading] = []
        self.untouched = not brake.after_work
        self.found: Counter[str] = Counter()
        self.side_answers: list[str] = []
        self.wrong_reads_pa: list[float] = []
        self.lining_answer = ""
        self.ticked = 0
        self.fixing = ""
        self._slid_before = False

    # --- before the pump -------------------------------------------------------------------------------------------

    @property
    def right_side(self) -> str:
        b = self.brake
        return "R" if jack_side(line_off=b.line_off, jack_acts=b.jack_acts, lead=b.lead).right else "L"

    def side(self, answer: str) -> None:
        self._at(SIDE)
        self.side_answers.append(answer)
        if answer == self.right_side:
            self.stage = CHECKS
        else:
            self.found[mistakes.WRONG_SIDE] += 1

    def checks(self, given: str) -> None:
        self._at(CHECKS)
        mask, bad = int(given), spoilt(self.brake)
        open_ones = [str(check.label) for check in DECK_CHECKS if check is not bad and not is_ticked(mask, check)]
        if open_ones:
            words = _("Still open: {checks}. Look again at what is to be seen there.")
            raise Refused("checks", words.format(checks="; ".join(open_ones)))
        self.ticked = mask
        if bad and is_ticked(mask, bad):
            self.found[f"ticked_{bad.fault}"] += 1
        if bad and bad.fault == WET and is_ticked(mask, bad):
            self.hand = self.brake.by_hand(self.attempt, run_in=False)
        self.stage = LINING

    def lining(self, answer: str) -> None:
        self._at(LINING)
        self.lining_answer = answer
        if answer == "Y" and self.brake.fault == THIN:
            self.found[mistakes.THIN_LINING_TESTED] += 1
        self.stage = GAUGE

    def reads(self, tenths: str) -> None:
        """What the gauge must show, as the person worked it out: right within one division of the dial."""
        self._at(GAUGE)
        answer_pa = int(tenths) * TENTH_BAR_PA
        if abs(answer_pa - self.brake.target_reading_pa) <= self.brake.division_pa:
            self.stage = READINGS
            return
        self.found[mistakes.WRONG_TARGET] += 1
        self.wrong_reads_pa.append(answer_pa)

    def worksheet(self, _nothing: str) -> None:
        self._at(GAUGE)
        self.stage = READINGS

    # --- at the pump -----------------------------------------------------------------------------------------------

    @property
    def as_found_is_open(self) -> bool:
        return self.untouched and not any(reading.phase == AS_FOUND for reading in self.readings)

    @property
    def is_at_stop(self) -> bool:
        return self.hand.shown_pa >= self.brake.stop_mark_pa * (1 - HAIR)

    @property
    def dial_is_at_its_end(self) -> bool:
        return self.hand.shown_pa >= self.brake.drum.trial.rig.dial.full_scale_pa

    def release(self, _nothing: str) -> None:
        self._at(READINGS)
        self._nothing_unwritten()
        self._as_found_is_lost()
        self.hand.release()
        self.untouched = False

    @property
    def advice(self) -> SettingAdvice | None:
        """What the readings so far advise; None while there is no reading it may rest on."""
        is_verifying = bool(self.readings) and self.readings[-1].phase == VERIFICATION
        return advised(self.brake, self.readings, is_verifying=is_verifying)

    def _leaves_what_is_in_band(self, mark_m: float) -> bool:
        """Whether another mark is set after a slip in the band, without having been told to tighten it further."""
        last = self.readings[-1] if self.readings else None
        if last is None or not (last.is_in_band and last.reapplied) or abs(mark_m - last.mark_m) < SAME_MARK_M:
            return False
        found = self.advice
        if found is None or not found.refines or found.move is None:
            return True
        return found.move.by_si * (mark_m - last.mark_m) <= 0

    def set_mark(self, tenths: str) -> None:
        self._at(READINGS)
        self._nothing_unwritten()
        mark_m = int(tenths) * TENTH_MM_M
        if not 0 < mark_m <= HIGHEST_MARK_M:
            raise Refused("mark", _("The mark must lie above 0 and at most at 400 mm: write it in millimetres."))
        if self.hand.is_applied and abs(mark_m - self.hand.mark_m) < TENTH_MM_M / 2:
            raise Refused("mark", _("The brake bears at this mark already: release it fully before it is re-applied."))
        self._as_found_is_lost()
        if self._leaves_what_is_in_band(mark_m):
            self.found[mistakes.ADJUSTED_IN_BAND] += 1
        if self.hand.set_to(mark_m):
            self.found[mistakes.FROM_ABOVE] += 1
        self.untouched = False

    def strokes(self, number: str) -> None:
        self._at(READINGS)
        for _stroke in range(int(number)):
            self._stroke()

    def _stroke(self) -> None:
        hand = self.hand
        if not hand.is_applied:
            raise Refused("pump", _("The brake is off and the drum turns freely. Apply the brake to a mark first."))
        if hand.moved:
            raise Refused("pump", _("The drum has moved. Write what the gauge showed before anything else."))
        if self.dial_is_at_its_end:
            raise Refused("pump", _("The needle is at the end of its scale. Write “held”, release, slacken."))
        if hand.strokes == 0:
            self._slid_before = hand.has_slid
        if self.is_at_stop:
            self.found[mistakes.PAST_STOP] += 1
        was_below = self.brake.share_at(hand.shown_pa) <= HOLDING_SHARE
        raised = hand.stroke(stop_shown_pa=self.brake.stop_mark_pa)
        if was_below and self.brake.share_at(raised.shown_pa) > HOLDING_SHARE:
            self.found[mistakes.PAST_HOLDING] += 1

    def write(self, given: str) -> None:
        self._at(READINGS)
        hand, slipped, phase = self.hand, given[0] == "s", given[1]
        gauge_pa = int(given[2:]) * TENTH_BAR_PA
        if hand.strokes == 0:
            raise Refused("gauge", _("There is no pressure on. Pump first, then write what the gauge shows."))
        if slipped and not hand.moved:
            raise Refused("gauge", _("The drum has not moved. Pump on, slowly, or press “It held”."))
        if hand.moved and not slipped:
            raise Refused("gauge", _("The drum has moved: press “It slipped”."))
        if abs(gauge_pa - hand.shown_pa) > self.brake.division_pa / 2 * (1 + HAIR):
            told = _("The gauge shows {shown}, you wrote {written}. Write what the gauge shows, never the target.")
            raise Refused("gauge", told.format(shown=bar(hand.shown_pa), written=bar(gauge_pa)))
        if (phase == AS_FOUND) != self.untouched:
            told = _("This is the brake as found: nobody has touched it yet.")
            raise Refused("phase", told if self.untouched else _("The brake was touched: this is no longer as found."))
        if slipped and self._slid_before:
            self.found[mistakes.NOT_RELEASED] += 1
        share = self.brake.share_at(gauge_pa)
        reapplied = not self._slid_before
        self.readings.append(Reading(phase, hand.mark_m, gauge_pa, slipped, reapplied, share))
        # A brake that has slipped once is no longer as it was found.
        self.untouched = self.untouched and not slipped
        hand.let_down()

    def done(self, _nothing: str) -> None:
        self._at(READINGS)
        self._nothing_unwritten()
        if not any(reading.slipped and reading.mark_m == self.hand.mark_m for reading in self.readings):
            raise Refused("done", _("No slip was written at the mark where the brake stands now: test it there first."))
        if not self.hand.is_applied:
            raise Refused("done", _("The brake is off. Re-apply it to its mark before you leave it."))
        self.stage = SETTING

    def fix(self, given: str) -> None:
        self._at(SETTING)
        mark_m = int(given[:-1]) * TENTH_MM_M
        if abs(mark_m - self.hand.mark_m) > 5 * TENTH_MM_M * (1 + HAIR):
            told = _("The rule shows another figure: the brake stands at {mark}. Measure again and write that.")
            raise Refused("final_mark", told.format(mark=units.display(self.hand.mark_m, "mm")))
        self.fixing = given[-1]
        if self.fixing != GOOD_FIXING:
            self.found[mistakes.WEAK_FIXING] += 1
        if len(self.slips_as_left) < LEAST_SLIPS:
            self.found[mistakes.FEW_SLIPS] += 1
        if not self.last_slip_here.is_in_band:
            self.found[mistakes.OUT_OF_BAND] += 1
        self.stage = END

    # --- what it comes to ------------------------------------------------------------------------------------------

    @property
    def slips_as_left(self) -> list[Reading]:
        """The verification slips at the mark where the brake stands now, each from a brake that was re-applied."""
        mark_m = self.hand.mark_m
        return [
            row
            for row in self.readings
            if row.slipped and row.reapplied and row.phase == VERIFICATION and abs(row.mark_m - mark_m) < SAME_MARK_M
        ]

    @property
    def last_slip_here(self) -> Reading:
        """The newest slip at the mark where the brake stands; there is one once the readings are done."""
        mark_m = self.hand.mark_m
        return next(row for row in reversed(self.readings) if row.slipped and abs(row.mark_m - mark_m) < SAME_MARK_M)

    @property
    def mistakes(self) -> list[mistakes.Mistake]:
        return [mistakes.Mistake(code, self.found[code]) for code in mistakes.SENTENCES if self.found[code]]

    def _at(self, stage: str) -> None:
        if self.stage != stage:
            raise Refused("step", _("This step is over, or not reached yet. Go on with what is shown here."))

    def _nothing_unwritten(self) -> None:
        if self.hand.moved:
            raise Refused("gauge", _("The drum has moved. Write what the gauge showed before anything else."))

    def _as_found_is_lost(self) -> None:
        if self.as_found_is_open:
            self.found[mistakes.NO_AS_FOUND] = 1


def bar(pressure_pa: float) -> str:
    """A pressure as the dial's unit shows it."""
    return units.display(pressure_pa, GAUGE_UNIT)


ACTS: dict[str, Callable[[Run, str], None]] = {
    moves.SIDE: Run.side,
    moves.CHECKS: Run.checks,
    moves.LINING: Run.lining,
    moves.READS: Run.reads,
    moves.WORKSHEET: Run.worksheet,
    moves.RELEASE: Run.release,
    moves.MARK: Run.set_mark,
    moves.STROKES: Run.strokes,
    moves.WRITE: Run.write,
    moves.DONE: Run.done,
    moves.FIX: Run.fix,
}


def play(address: Address) -> Run:
    """The test as it stands after the moves of an address. Raises: moves.Unreadable for moves that cannot be."""
    run = Run(practice_brake(address.level, address.seed), address.attempt)
    for move in address.moves:
        try:
            ACTS[move[0]](run, move[1:])
        except Refused as refusal:
            raise moves.Unreadable from refusal
    return run


def pump(address: Address, run: Run, wanted: int) -> Address:
    """Up to so many strokes, ended early where the drum moves or STOP is reached. Raises: Refused."""
    was_at_stop = run.is_at_stop
    for number in range(wanted):
        if number and (run.hand.moved or run.dial_is_at_its_end or (run.is_at_stop and not was_at_stop)):
            break
        run.strokes("1")
        address = address.then(f"{moves.STROKES}1")
    return address
