"""The flags and forecasts of the drift analysis as sentences for people, figures filled in."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from fleet.calculation import drift_results as codes
from fleet.calculation import units
from fleet.calculation.drift_results import CODES, FleetDrift, Predictions
from fleet.calculation.drift_words import (
    BORROWED_WORDS,
    EARLY_RETEST,
    NO_INTERVAL,
    SLACKER,
    STRONGER,
    TIGHTER,
    WEAKER,
    WITHHELD_WORDS,
    WORDS,
)
from fleet.calculation.sentences import Sentence, points_shown

_SIDES = {
    codes.OUTSIDE_PREDICTION: (TIGHTER, SLACKER),
    codes.STEP: (TIGHTER, SLACKER),
    codes.SLOPE_UNEXPECTED: (STRONGER, WEAKER),
    codes.AS_FOUND_UNEXPECTED: (STRONGER, WEAKER),
    codes.AS_FOUND_OUTSIDE: (STRONGER, WEAKER),
}
_EXPECTED = {
    codes.OUTSIDE_PREDICTION: "mark",
    codes.STEP: "mark",
    codes.LINING_GREW: "lining",
    codes.LINING_UNEXPECTED: "lining",
}


@dataclass(frozen=True, kw_only=True)
class Explanation:
    """One flag in words: what was seen, its likeliest causes first to last, and the check that tells them apart."""

    code: str
    seen: Sentence
    causes: tuple[Sentence, ...]
    check: Sentence

    @property
    def text(self) -> str:
        """All of it in plain English."""
        causes = "; ".join(cause.text for cause in self.causes)
        return f"{self.seen.text} Likeliest: {causes}. {self.check.text}"


def explain(found: FleetDrift, flag: int, *, setting_unit: str, other_name: str = "", before: str = "") -> Explanation:
    """One flag of an analysis in words.

    Args: flag: row of ``found.flags``; setting_unit: code in which the drum's setting is shown; other_name: of the drum
    that ``found.flags.other`` points to, for drums exchanged; before: date of the test repeated, ready for display.
    """
    flags, row = found.flags, int(found.flags.test[flag])
    code, size = CODES[int(flags.code[flag])], float(flags.size[flag])
    if code in _SIDES:
        above, below = _SIDES[code]
        middle = 1.0 if code == codes.SLOPE_UNEXPECTED else 0.0
        words = WORDS[(code, above if size > middle else below)]
    else:
        words = WORDS[code]
    template = words.seen
    if code in _EXPECTED and not np.isfinite(getattr(found.tests, _EXPECTED[code]).low[row]):
        template = NO_INTERVAL
    figures = _figures(found, row, code, size, setting_unit) | {"other": other_name, "before": before}
    return Explanation(
        code=code,
        seen=Sentence(template=template, figures=figures),
        causes=tuple(Sentence(template=cause) for cause in words.causes),
        check=Sentence(template=words.check, figures=figures),
    )


def why_withheld(reason: int) -> Sentence | None:
    """Why a forecast is not given, None where it is. Args: reason: index into WITHHELD."""
    code = codes.WITHHELD[reason]
    return Sentence(template=WITHHELD_WORDS[code]) if code else None


def borrowing(found: FleetDrift, drum: int) -> Sentence | None:
    """How far a drum is judged by others, None without tests. Args: drum: row of the drum."""
    part = float(found.drums.borrowed_wear[drum])
    if not np.isfinite(part):
        return None
    template = next(words for upto, words in BORROWED_WORDS if part < upto)
    return Sentence(template=template, figures={"drums": str(int(found.drums.comparable[drum]))})


def early_retest(found: FleetDrift, drum: int) -> Sentence | None:
    """The advice to test a new lining again early, None where it does not apply. Args: drum: row of the drum."""
    return Sentence(template=EARLY_RETEST) if found.drums.retest_early[drum] else None


def _figures(found: FleetDrift, row: int, code: str, size: float, setting_unit: str) -> dict[str, str]:
    h, tests = found.histories, found.tests

    def mark(value: float) -> str:
        return units.display(float(value), setting_unit)

    def lining(value: float) -> str:
        return units.display(float(value), "mm")

    def share(value: float) -> str:
        return units.display(float(value), "percent")

    figures = {
        "target": share(h.target_share[row]),
        "lower": share(h.lower_share[row]),
        "upper": share(h.upper_share[row]),
    }
    if code in (codes.OUTSIDE_PREDICTION, codes.STEP):
        figures |= {"mark": mark(tests.mark_for_target_si[row]), **_ends(tests.mark, row, mark)}
    elif code == codes.EQUAL_MARKS:
        figures |= {"mark": mark(h.mark_si[row]), "drums": units.shown(size, 0)}
    elif code == codes.WEAR_TOO_FAST:
        figures["rate"] = mark(abs(size))
    elif code in (codes.LINING_GREW, codes.LINING_UNEXPECTED):
        figures |= {"lining": lining(h.lining_m[row]), **_ends(tests.lining, row, lining)}
    elif code in (codes.GAUGE_STEP, codes.MOVED_TOGETHER):
        figures["shift"] = points_shown(abs(size))
    elif code in (codes.WRONG_UNIT, codes.SLOPE_UNEXPECTED):
        figures["times"] = units.shown(size, 2)
    elif code == codes.TOO_GOOD:
        figures["load"] = share(h.as_left_share[row])
    elif code in (codes.AS_FOUND_UNEXPECTED, codes.AS_FOUND_OUTSIDE):
        figures["load"] = share(h.as_found_share[row])
        if code == codes.AS_FOUND_UNEXPECTED:
            figures |= _ends(tests.as_found, row, share)
    return figures


def _ends(expected: Predictions, row: int, shown: Callable[[float], str]) -> dict[str, str]:
    ends = expected.low[row], expected.high[row]
    return {"low": shown(ends[0]), "high": shown(ends[1])} if np.isfinite(ends[0]) else {}
