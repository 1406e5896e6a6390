"""The checks before the pump is touched, in the words of the real test, and what is to be seen on this deck."""

from dataclasses import dataclass

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as lazy

from fleet.practice.brakes import NEEDLE, REELED, SISTER, WET, PracticeBrake


@dataclass(frozen=True)
class DeckCheck:
    """One check: its words, what is seen when it is in order, and the fault that can spoil it."""

    name: str
    label: str | Promise
    seen: str | Promise
    fault: str = ""
    seen_wrong: str | Promise = ""
    put_right: str | Promise = ""

    def is_in_order(self, brake: PracticeBrake) -> bool:
        return not self.fault or self.fault != brake.fault

    def seen_on(self, brake: PracticeBrake) -> str:
        return str(self.seen if self.is_in_order(brake) else self.seen_wrong)


DECK_CHECKS = (
    DeckCheck(
        "permit_seen",
        lazy("The permit is valid; everyone on deck has read it"),
        lazy("Signed this morning, valid until 18:00; three people have put their names to it."),
    ),
    DeckCheck(
        "line_slack",
        lazy("The line is off this drum, or slack and carries nothing"),
        lazy("The line hangs slack from the drum to the roller and ends on deck."),
    ),
    DeckCheck("clutched_out", lazy("The drum is clutched out"), lazy("The clutch is out and its pin is in.")),
    DeckCheck(
        "sister_clear",
        lazy("No other drum on this winch holds a mooring line"),
        lazy("The other drum on this winch is empty of load; its line lies coiled."),
        SISTER,
        lazy("The other drum on this winch holds a spring line, tight to the quay."),
        lazy("In this practice the spring is now shifted to another winch."),
    ),
    DeckCheck(
        "area_clear",
        lazy("Nobody stands in the lever's arc or over the jack"),
        lazy("The bosun stands beside the pump; the others are behind the winch."),
    ),
    DeckCheck(
        "gauge_checked",
        lazy("The gauge stands at zero and its label is in date"),
        lazy("No pressure on: the needle rests on zero. The label runs for seven months yet."),
        NEEDLE,
        lazy("No pressure on: the needle stands two marks above zero. The label runs for seven months yet."),
        lazy("In this practice the spare gauge of the same kind, in date and at zero, is now fitted."),
    ),
    DeckCheck(
        "reeled_as_marked",
        lazy("The line is reeled in the direction marked on the winch"),
        lazy("The arrow on the winch and the lay of the line agree."),
        REELED,
        lazy("The arrow on the winch points one way; the line lies the other way round on the drum."),
        lazy("In this practice the line is now re-reeled as marked."),
    ),
    DeckCheck(
        "run_in",
        lazy("The drum was run briefly with the brake lightly on, and is dry"),
        lazy("The bosun ran it before breakfast; the rim is dry and warm to the hand."),
        WET,
        lazy("Spray came over in the night and the drum has not been turned since; water shines on the rim."),
        lazy("In this practice the drum is now run with the brake lightly on until it is dry."),
    ),
)
EVERY_CHECK = (1 << len(DECK_CHECKS)) - 1


def spoilt(brake: PracticeBrake) -> DeckCheck | None:
    """The one check that is not in order on this deck, if any."""
    return next((check for check in DECK_CHECKS if not check.is_in_order(brake)), None)


def is_ticked(mask: int, check: DeckCheck) -> bool:
    return bool(mask >> DECK_CHECKS.index(check) & 1)
