"""Every state a drum, a test or a certificate can show: its word, its shape, its tone."""

from dataclasses import dataclass

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _


@dataclass(frozen=True)
class Part:
    """One path of a shape on a 16 by 16 field: filled, or drawn with a line of some width."""

    d: str
    width: float = 0
    dash: str = ""

    @property
    def filled(self) -> bool:
        return self.width == 0

    @property
    def width_text(self) -> str:
        return f"{self.width:g}"


@dataclass(frozen=True)
class State:
    word: str | Promise
    shape: str
    # plain, quiet, tight or loose: colour that only helps
    tone: str = "plain"

    @property
    def parts(self) -> tuple[Part, ...]:
        return SHAPES[self.shape]


def _circle(x: float, y: float, radius: float) -> str:
    arc = f"a{radius:g} {radius:g} 0 1 0"
    return f"M{x - radius:g} {y:g}{arc} {2 * radius:g} 0{arc} {-2 * radius:g} 0z"


_UP = "M8 1.8 14.6 13.8H1.4z"
_DOWN = "M8 14.2 14.6 2.2H1.4z"
_SQUARE = "M2.5 2.5h11v11h-11z"

SHAPES: dict[str, tuple[Part, ...]] = {
    "ring_tick": (Part(_circle(8, 8, 6.6), 1.6), Part("M4.7 8.2l2.4 2.4 4.3-4.9", 1.8)),
    "half_disc": (Part(_circle(8, 8, 6.5), 1.6), Part("M8 1.5a6.5 6.5 0 0 1 0 13z")),
    "dashed_ring": (Part(_circle(8, 8, 6.2), 2, "2.6 2.2"),),
    "ring": (Part(_circle(8, 8, 6), 2.6),),
    "dashed_square": (Part(_SQUARE, 1.8, "2.75 2.75"),),
    "pencil": (Part("M2.2 13.8l1-4.2 7.6-7.6 3.2 3.2-7.6 7.6z", 1.6), Part("M2.2 13.8l.8-3.1 2.3 2.3z")),
    "turning_arrow": (Part("M13.4 9.6A5.6 5.6 0 1 1 11.6 3.7", 2), Part("M14.4.8v6h-6z")),
    "hourglass": (Part("M2.5 1.8h11M2.5 14.2h11", 1.8), Part("M4 2.5h8L8.7 8l3.3 5.5H4L7.3 8z")),
    "back_arrow": (Part("M3 6.8h6.3a3.6 3.6 0 0 1 0 7.2H5.5", 2), Part("M7 2v9.6L1 6.8z")),
    "disc": (Part(_circle(8, 8, 6.2)),),
    "up_with_dot": (Part(_UP, 1.7), Part(_circle(8, 9.9, 2.3))),
    "down_with_dot": (Part(_DOWN, 1.7), Part(_circle(8, 6.1, 2.3))),
    "up": (Part(_UP),),
    "down": (Part(_DOWN),),
    "cross": (Part("M3 3l10 10M13 3 3 13", 2.8),),
    "octagon": (Part("M5 1.2h6L14.8 5v6L11 14.8H5L1.2 11V5z"),),
    "ring_slash": (Part(_circle(8, 8, 6.2), 2), Part("M3.6 12.4l8.8-8.8", 2)),
    "diamond_bar": (Part("M8 .8 15.2 8 8 15.2.8 8zM4.3 6.9v2.2h7.4V6.9z"),),
    "hull_tick": (Part("M1.2 8.8h13.6l-2.3 5H3.5z", 1.6), Part("M4.8 3.8l2.4 2.4L11.8 1", 1.8)),
    "tick": (Part("M2 8.6l3.9 3.9 8-9.2", 3),),
    "two_squares": (Part("M1.5 1.5H11v3H4.5V11h-3z"), Part("M6.2 6.2h8v8h-8z", 1.6)),
    "struck_square": (Part(_SQUARE, 1.7), Part("M1.2 14.8 14.8 1.2", 2)),
}

DUE_STATES: dict[str, State] = {
    "in_date": State(_("in date"), "ring_tick"),
    "due": State(_("due"), "half_disc"),
    "overdue": State(_("overdue"), "ring", "tight"),
    "never_tested": State(_("never tested"), "dashed_square"),
    "draft_open": State(_("draft open"), "pencil"),
    "retest_ordered": State(_("retest ordered"), "turning_arrow", "tight"),
    "review_pending": State(_("review pending"), "hourglass"),
    "returned": State(_("returned"), "back_arrow", "tight"),
}

RESULT_STATES: dict[str, State] = {
    "in_band": State(_("in band"), "disc"),
    "was_too_tight": State(_("was too tight, now in band"), "up_with_dot", "tight"),
    "slipped_early": State(_("slipped early, now in band"), "down_with_dot", "loose"),
    "too_tight": State(_("too tight"), "up", "tight"),
    "too_loose": State(_("too loose"), "down", "loose"),
    "not_proven": State(_("not proven"), "dashed_ring"),
    "could_not_be_set": State(_("could not be set"), "cross", "tight"),
    "stopped": State(_("stopped"), "octagon"),
    "out_of_use": State(_("defective, out of use"), "ring_slash", "tight"),
    "restricted": State(_("restricted"), "diamond_bar", "tight"),
    "accepted_aboard": State(_("accepted aboard, shore review pending"), "hull_tick"),
    "approved": State(_("approved"), "tick"),
    "superseded": State(_("superseded"), "two_squares", "quiet"),
    "withdrawn": State(_("withdrawn"), "struck_square", "quiet"),
}

STATES: dict[str, State] = DUE_STATES | RESULT_STATES
