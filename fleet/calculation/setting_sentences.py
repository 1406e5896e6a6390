"""What the next move of a brake is called, and the sentences that tell a crew of it."""

from fleet.calculation.sentences import gettext_noop

IN_BAND = "in_band"
TIGHTEN = "tighten"
SLACKEN = "slacken"
PUMP_ON = "pump_on"
REPEAT = "repeat"
TOO_COARSE = "too_coarse"
CODES = (IN_BAND, TIGHTEN, SLACKEN, PUMP_ON, REPEAT, TOO_COARSE)

LOAD_FALLS = "load_falls"
SPREAD = "spread_larger_than_step"
CONTRADICTIONS = (LOAD_FALLS, SPREAD)

SLOPE = "slope"
SLOPE_ASSUMED = "slope_assumed"
TARGET_SETTING = "target_setting"
TURNS = "turns"
NEAR_EDGE = "near_edge"
REFINE = "refine"

TEMPLATES = {
    IN_BAND: gettext_noop(
        "The brake rendered at {load}, in the band of {lower} to {upper}. Stop adjusting. Release the brake fully, "
        "re-apply it to {setting} and verify."
    ),
    NEAR_EDGE: gettext_noop(
        "One stroke of the pump leaves open whether that was {load} or as little as {at_least}, below the band: pump "
        "more slowly when you verify."
    ),
    TIGHTEN: gettext_noop(
        "The brake rendered at {load}, below the band of {lower} to {upper}. Release it, then tighten by {move}, from "
        "{setting} to {new_setting}, coming from the slack side. The step stays short of the target of {target} on "
        "purpose: at most {part} of the way, in whole steps of {smallest_move}, or one such step."
    ),
    REFINE: gettext_noop(
        "The brake rendered at {load} as read, in the band of {lower} to {upper}, but it probably holds only {best}, "
        "too near the lower edge: jack and lever take some of the force, and the slip came somewhere within the last "
        "stroke of the pump. Release it, then tighten by {move}, from {setting} to {new_setting}, coming from the "
        "slack side."
    ),
    SLACKEN: gettext_noop(
        "The brake rendered at {load}, above the band of {lower} to {upper}. Release it, slacken by {move}, from "
        "{setting} to {new_setting}, and come to it from the slack side."
    ),
    (SLACKEN, "held"): gettext_noop(
        "The brake held {load}: it holds more than the band of {lower} to {upper} allows, or more than STOP lets you "
        "show. Do not pump further. Release it, slacken by {move}, from {setting} to {new_setting}, and come to it "
        "from the slack side."
    ),
    PUMP_ON: gettext_noop(
        "The brake held {load}: that is at least so much, not yet a result. Leave it at {setting} and pump on, slowly, "
        "to first movement or to the STOP reading."
    ),
    REPEAT: gettext_noop(
        "Do not adjust now. Release the brake fully, re-apply it to {setting} and test it there again."
    ),
    TOO_COARSE: gettext_noop(
        "The brake rendered at {load}, below the band of {lower} to {upper}, but the smallest move a hand can make, "
        "{smallest_move}, would go past the target of {target}. This mark is too coarse for this band: set it by the "
        "handwheel's turn, or have the marking looked at."
    ),
    LOAD_FALLS: gettext_noop(
        "These readings contradict each other: at {slacker} the brake held {higher}, yet tighter, at {tighter}, it "
        "rendered at {lower_load}. Look for water, oil or rust on the brake, a mark that shifted, or a band that does "
        "not bear all round."
    ),
    SPREAD: gettext_noop(
        "At {setting} the slips differ by {spread}, more than the next step of {move} would change. First find out "
        "why: water, oil, a brake not released in between, pumping too fast."
    ),
    SLOPE: gettext_noop(
        "Near the target {per_unit} of setting changes the load by {slope} ({low} to {high}, 19 times in 20)."
    ),
    SLOPE_ASSUMED: gettext_noop(
        "How much the load changes with the setting is not known for this brake yet, so this first step is a small one."
    ),
    TARGET_SETTING: gettext_noop(
        "For exactly {target} the setting would be {estimate} ({low} to {high}, 19 times in 20)."
    ),
    TURNS: gettext_noop(
        "That is about {turns} turns of the handwheel, by the movement per turn measured on this drum."
    ),
}
