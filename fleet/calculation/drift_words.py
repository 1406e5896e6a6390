"""What each flag of the drift analysis says: what was seen, the likeliest causes, and the check that tells them apart.

Likeliest first. Which causes are likely is common practice, no published source. "Tighter" and "slacker" are the
brake's: which way the mark moves for it is the drum's own.
"""

from dataclasses import dataclass

from fleet.calculation import drift_results as codes
from fleet.calculation.sentences import gettext_noop

TIGHTER, SLACKER = "tighter", "slacker"
WEAKER, STRONGER = "weaker", "stronger"


@dataclass(frozen=True, kw_only=True)
class Words:
    """Templates of one flag."""

    seen: str
    causes: tuple[str, ...]
    check: str


_NEW_LINING_UNRECORDED = gettext_noop("the lining was renewed and nobody recorded it")
_OTHER_POINT = gettext_noop("the mark was measured from another point, or its pointer or clamp has moved")
_WET = gettext_noop("the brake was wet, oily or rusty when it was tested")
_LINING_BREAKS = gettext_noop("the lining is breaking up or wears much faster than it did")
_WRONG_DIAMETER = gettext_noop("a diameter or lever arm was entered wrongly, or a reading in another unit")
_REEL = gettext_noop("the jack pushed against the direction in which the line pays out")
_GAUGE_OFF = gettext_noop("the gauge that is new to these drums, or the one before it, reads wrongly")
_UNIT = gettext_noop("readings in kgf/cm² were taken for bar, or the other way round")

WORDS: dict[str | tuple[str, str], Words] = {
    (codes.OUTSIDE_PREDICTION, TIGHTER): Words(
        seen=gettext_noop(
            "To hold the target the brake now has to be tighter than its earlier tests allow: the mark corrected to "
            "the target is {mark}, expected {low} to {high}."
        ),
        causes=(_WET, _LINING_BREAKS, _OTHER_POINT, _WRONG_DIAMETER),
        check=gettext_noop(
            "Run the drum briefly with the brake lightly on, test it again dry, measure the lining at three places "
            "and "
            "photograph the mark with the rule."
        ),
    ),
    (codes.OUTSIDE_PREDICTION, SLACKER): Words(
        seen=gettext_noop(
            "The brake reached the target slacker than its earlier tests allow: the mark corrected to the target is "
            "{mark}, expected {low} to {high}."
        ),
        causes=(_NEW_LINING_UNRECORDED, _OTHER_POINT, _WRONG_DIAMETER),
        check=gettext_noop(
            "Measure the lining at three places and compare it with the last record; check the gauge's unit and the "
            "drum's, line's and lever's measures on the drum itself; photograph the mark with the rule."
        ),
    ),
    (codes.STEP, TIGHTER): Words(
        seen=gettext_noop(
            "The mark moved to a tighter place and stayed there: corrected to the target it was {mark} in this test, "
            "expected {low} to {high}, and the next test agrees with it."
        ),
        causes=(
            _OTHER_POINT,
            _LINING_BREAKS,
            gettext_noop("work was done on band, spindle or linkage and not recorded"),
        ),
        check=gettext_noop(
            "Compare the photographs of the mark before and after, measure the lining at three places, and ask what "
            "was "
            "done to the brake between the two tests."
        ),
    ),
    (codes.STEP, SLACKER): Words(
        seen=gettext_noop(
            "The mark moved to a slacker place and stayed there: corrected to the target it was {mark} in this test, "
            "expected {low} to {high}, and the next test agrees with it."
        ),
        causes=(_NEW_LINING_UNRECORDED, _OTHER_POINT),
        check=gettext_noop(
            "Measure the lining at three places: thicker than last year means a new lining; otherwise compare the "
            "photographs of the mark."
        ),
    ),
    codes.WEAR_TOO_FAST: Words(
        seen=gettext_noop(
            "This brake wears faster than comparable ones, or than it did: the mark for the target now moves by "
            "{rate} a "
            "year."
        ),
        causes=(
            gettext_noop("the band drags on the drum when the brake is open"),
            gettext_noop("the drum's surface is scored, rusty or pitted"),
            gettext_noop("this drum is used far more than the others"),
        ),
        check=gettext_noop(
            "Open the brake and look for daylight all round the band, look at the drum's surface, and compare the "
            "moorings made with each drum."
        ),
    ),
    codes.TOO_GOOD: Words(
        seen=gettext_noop(
            "These figures agree better than any gauge and any hand can make them: the load as left is given as "
            "{load}, "
            "against a target of {target}."
        ),
        causes=(
            gettext_noop("the target was written down instead of what the gauge showed"),
            gettext_noop("the figures were worked out at a desk, not read on deck"),
        ),
        check=gettext_noop(
            "Ask for the readings as first noted, with photographs of the gauge at first movement; test this drum "
            "again "
            "with a witness."
        ),
    ),
    codes.FIGURES_REPEATED: Words(
        seen=gettext_noop("This test repeats the figures of {before} in every one that can be compared."),
        causes=(
            gettext_noop("last time's figures were copied"),
            gettext_noop("the form of the last test was sent again by mistake"),
        ),
        check=gettext_noop(
            "Ask for photographs of mark and gauge from this test, with their times; without them test the drum again."
        ),
    ),
    codes.EQUAL_MARKS: Words(
        seen=gettext_noop(
            "{drums} drums were left at one and the same mark, {mark}, though their earlier marks differ."
        ),
        causes=(
            gettext_noop("one drum's mark was written down for all"),
            gettext_noop("the brakes were set to one distance by rule, without a test"),
        ),
        check=gettext_noop("Ask for a photograph of each drum's mark with the rule; every drum has a mark of its own."),
    ),
    codes.LINING_GREW: Words(
        seen=gettext_noop(
            "The lining is {lining} at its thinnest place, thicker than it can be: expected {low} to {high}."
        ),
        causes=(
            _NEW_LINING_UNRECORDED,
            gettext_noop("it was measured at another place, or with its backing or rivets"),
            gettext_noop("the figure belongs to another drum"),
        ),
        check=gettext_noop(
            "Measure at the three named places again and look for a fresh lining edge; ask for the invoice."
        ),
    ),
    codes.LINING_UNEXPECTED: Words(
        seen=gettext_noop(
            "The lining is {lining} at its thinnest place, thinner than its wear explains: {low} to {high}."
        ),
        causes=(
            gettext_noop("a piece of lining is broken out or worn on one side"),
            gettext_noop("it was measured at another place"),
            gettext_noop("the figure belongs to another drum"),
        ),
        check=gettext_noop("Open the brake, look at the whole band, and measure at the three named places again."),
    ),
    (codes.SLOPE_UNEXPECTED, WEAKER): Words(
        seen=gettext_noop(
            "The load answers less to the setting than it did: {times} times as much as in earlier tests. The brake "
            "grips less than it seems set for, or is not measured as it was."
        ),
        causes=(_REEL, _WET, _WRONG_DIAMETER),
        check=gettext_noop(
            "Before anything else check which way the jack turned the drum against the marked pay-out direction; "
            "then "
            "the diameters and the lever; then test again dry."
        ),
    ),
    (codes.SLOPE_UNEXPECTED, STRONGER): Words(
        seen=gettext_noop(
            "The load answers more to the setting than it did: {times} times as much as in earlier tests. Perhaps "
            "it is "
            "not the load that was meant."
        ),
        causes=(
            gettext_noop("a radius was entered for a diameter, or another diameter or lever arm is wrong"),
            gettext_noop("readings were taken in another unit"),
            gettext_noop("the lining or its friction has changed"),
        ),
        check=gettext_noop(
            "Check drum, line and lever on the drum itself against the particulars, and the unit on the gauge's dial."
        ),
    ),
    codes.DRUMS_EXCHANGED: Words(
        seen=gettext_noop(
            "This test fits the history of {other} better than its own, and the test of {other} fits this drum."
        ),
        causes=(
            gettext_noop("the figures of the two drums were entered under each other's names"),
            gettext_noop("the drums are called differently aboard"),
        ),
        check=gettext_noop("Compare the photographs of both marks with the numbers on the winches."),
    ),
    codes.GAUGE_STEP: Words(
        seen=gettext_noop(
            "All drums tested with this gauge moved together, by {shift} points of the base load, since another "
            "gauge was "
            "used before. That has been taken off, so that each drum's line goes on; the drums themselves hardly "
            "changed."
        ),
        causes=(
            _GAUGE_OFF,
            _UNIT,
            gettext_noop("the jack was exchanged too, and its area differs from the one entered"),
        ),
        check=gettext_noop(
            "Have both gauges calibrated against one standard, or test one drum with both; until then trust neither "
            "set "
            "of loads."
        ),
    ),
    codes.MOVED_TOGETHER: Words(
        seen=gettext_noop(
            "All drums tested with this gauge moved together, by {shift} points of the base load, though the gauge "
            "is the "
            "one used before. That has been taken off each drum's line."
        ),
        causes=(
            gettext_noop("the gauge has drifted or was damaged since"),
            _UNIT,
            gettext_noop("all brakes were tested wet, or one wrong figure stands in all their particulars"),
        ),
        check=gettext_noop(
            "Have the gauge calibrated, and look at the weather and at the figures common to all drums: jack, "
            "lever, line."
        ),
    ),
    (codes.AS_FOUND_UNEXPECTED, WEAKER): Words(
        seen=gettext_noop(
            "The brake was found at {load}, weaker than its wear since the last test explains: expected {low} to "
            "{high}."
        ),
        causes=(_WET, _OTHER_POINT, _LINING_BREAKS),
        check=gettext_noop(
            "Test as found again after drying; look for lining that has come loose; compare the photographs of the "
            "mark."
        ),
    ),
    (codes.AS_FOUND_UNEXPECTED, STRONGER): Words(
        seen=gettext_noop(
            "The brake was found at {load}, stronger than it was left: expected {low} to {high}. With such a brake "
            "a line "
            "may part before the brake renders."
        ),
        causes=(
            gettext_noop("the brake was tightened after the last test"),
            _OTHER_POINT,
            gettext_noop("brake work was done and not recorded, or rust has bound the band"),
        ),
        check=gettext_noop(
            "Ask who set the brake since, compare the photographs of the mark, and look whether a line was overloaded."
        ),
    ),
    (codes.AS_FOUND_OUTSIDE, WEAKER): Words(
        seen=gettext_noop(
            "The brake was found at {load}, below the band of {lower} to {upper}: it would have slipped early."
        ),
        causes=(gettext_noop("wear since the last test"), _WET, _OTHER_POINT),
        check=gettext_noop("See whether the mark needed for the target is where its wear would have brought it."),
    ),
    (codes.AS_FOUND_OUTSIDE, STRONGER): Words(
        seen=gettext_noop(
            "The brake was found at {load} or more, above the band of {lower} to {upper}: the line could have been "
            "overloaded before it slipped."
        ),
        causes=(
            gettext_noop("the brake was tightened beyond its mark"),
            gettext_noop("the last test read too low a load"),
            _OTHER_POINT,
        ),
        check=gettext_noop("Find out whether this line was overloaded, and have it looked at."),
    ),
    codes.WRONG_UNIT: Words(
        seen=gettext_noop(
            "The figures of this test stand {times} times as high as they should: about the ratio of two units of "
            "measurement."
        ),
        causes=(
            gettext_noop("the gauge's unit is recorded wrongly"),
            gettext_noop("a decimal sign was lost or the mark was written in another unit"),
        ),
        check=gettext_noop("Read the unit on the gauge's dial and on the rule; photograph both."),
    ),
}

NO_INTERVAL = gettext_noop(
    "This figure does not go with the drum's earlier tests, nor does the one of the test before it: there is no "
    "line to "
    "hold it against."
)
WITHHELD_WORDS: dict[str, str] = {
    codes.NO_HISTORY: gettext_noop("There is no test yet to forecast from."),
    codes.LINE_BROKEN: gettext_noop(
        "Withheld: the newest test breaks the line of the earlier ones. The next test will tell whether it was the "
        "test "
        "or the brake."
    ),
    codes.NO_DATE: gettext_noop("No date is known to forecast for."),
    codes.NO_LIMIT: gettext_noop("No limit is known for this drum."),
}
BORROWED_WORDS: tuple[tuple[float, str], ...] = (
    (0.25, gettext_noop("Wear is judged almost wholly by this drum's own tests.")),
    (0.60, gettext_noop("Wear is judged by this drum's own tests and, in part, by {drums} comparable drums.")),
    (0.90, gettext_noop("Wear is judged mostly by {drums} comparable drums; this drum has few tests of its own.")),
    (1.01, gettext_noop("Wear is judged by {drums} comparable drums alone; this drum's own tests do not tell yet.")),
)
"""Up to which part of borrowing each sentence holds."""
EARLY_RETEST = gettext_noop(
    "The lining is new and has not been tested since it bedded in: test this brake again within the year, after some "
    "moorings, not only when it falls due."
)
