"""What can go wrong in a practice test, each with the one sentence that is said about it at the end."""

from dataclasses import dataclass

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as lazy

WRONG_SIDE = "wrong_side"
THIN_LINING_TESTED = "thin_lining_tested"
WRONG_TARGET = "wrong_target"
NO_AS_FOUND = "no_as_found"
PAST_STOP = "past_stop"
PAST_HOLDING = "past_holding"
NOT_RELEASED = "not_released"
FROM_ABOVE = "from_above"
ADJUSTED_IN_BAND = "adjusted_in_band"
FEW_SLIPS = "few_slips"
OUT_OF_BAND = "out_of_band"
WEAK_FIXING = "weak_fixing"
TICKED_WET, TICKED_REELED, TICKED_SISTER, TICKED_NEEDLE = (
    f"ticked_{fault}" for fault in ("wet", "reeled", "sister", "needle")
)

SENTENCES: dict[str, str | Promise] = {
    WRONG_SIDE: lazy(
        "The jack was put on the wrong side: there it turns the drum against the way it pays out, the brake seems "
        "several times weaker, and is then set far too tight."
    ),
    TICKED_WET: lazy(
        "“Dry” was ticked while water stood on the rim: a brake set wet holds much more once it is dry, and then the "
        "line parts first."
    ),
    TICKED_REELED: lazy(
        "The reeling direction was ticked although the line lay the other way round: a band brake grips fully one way "
        "only, so the setting would not have held the ship."
    ),
    TICKED_SISTER: lazy(
        "The other drum was ticked as free although it held a line: drums on one frame or shaft move together, and "
        "the line that keeps the ship alongside can run out."
    ),
    TICKED_NEEDLE: lazy(
        "The gauge was ticked although its needle did not stand at zero: every reading is then wrong by at least as "
        "much."
    ),
    THIN_LINING_TESTED: lazy(
        "A lining below its least thickness was to be tested: rivets or steel can reach the rim, and what holds today "
        "says nothing about tomorrow."
    ),
    WRONG_TARGET: lazy(
        "What the gauge must show was not found at the first go: this one figure decides how tight every brake aboard "
        "is set."
    ),
    NO_AS_FOUND: lazy(
        "The brake was adjusted before it was tested as found: how it stood all year is then lost for good, and with "
        "it the only sign of drift."
    ),
    PAST_STOP: lazy(
        "The jack was pumped past STOP: a brake that holds there holds too much already, and more pressure only loads "
        "band, lever, deck and people."
    ),
    PAST_HOLDING: lazy(
        "The brake was loaded past 80 % of the ship design MBL, its design holding load: parts may be strained unseen, "
        "and gear under that load has been thrown."
    ),
    NOT_RELEASED: lazy(
        "The jack was pumped again after a slip without releasing the brake: that shows running friction, not the "
        "setting, and makes the brake look weaker than it is."
    ),
    FROM_ABOVE: lazy(
        "The mark was reached from the tight side, by easing a brake that still bore: play leaves the band tighter "
        "than its mark says. Release fully and come to it from the slack side."
    ),
    ADJUSTED_IN_BAND: lazy(
        "The brake was adjusted although it had slipped well in the band: then it is time to stop, release, re-apply "
        "to the same mark and verify."
    ),
    FEW_SLIPS: lazy(
        "The mark was left with fewer than two verification slips: one slip may be chance, and only a second shows "
        "that a hand finds the same load again."
    ),
    OUT_OF_BAND: lazy(
        "The brake was left outside the band by its own last slip: too loose lets the ship go, too tight lets the line "
        "part first."
    ),
    WEAK_FIXING: lazy(
        "The mark was fixed so that it shifts by hand, or so that the brake cannot be tightened in an emergency."
    ),
}


@dataclass(frozen=True)
class Mistake:
    """One kind of mistake and how often it was made."""

    code: str
    times: int

    @property
    def sentence(self) -> str:
        return str(SENTENCES[self.code])
