"""The next move as one sentence for the person at the handwheel, and what it rests on in small print."""

from dataclasses import dataclass

from django.utils.translation import gettext as _

from fleet.calculation import units
from fleet.calculation.sentences import Sentence
from fleet.calculation.setting import Move
from fleet.calculation.setting_reading import handy_turns
from fleet.calculation.setting_sentences import (
    CONTRADICTIONS,
    NEAR_EDGE,
    REPEAT,
    SLACKEN,
    SLOPE_ASSUMED,
    TEMPLATES,
    TIGHTEN,
    TOO_COARSE,
)
from fleet.drums.models import Drum, SettingKind
from fleet.records.setting_found import SettingFound, per_unit_shown


@dataclass(frozen=True)
class NextMove:
    """One sentence on what to do, empty where nothing is to be moved.

    ``why`` goes before it where the person will ask; ``rests_on`` is what it rests on, in small print; ``at_target``
    says where the setting for exactly the target lies, empty while nothing is known of it.
    """

    sentence: str
    rests_on: tuple[str, ...] = ()
    at_target: str = ""
    why: str = ""
    warns: bool = False

    @property
    def in_full(self) -> str:
        return f"{self.why} {self.sentence}".strip()


def next_move_words(found: SettingFound | None, drum: Drum) -> NextMove | None:
    """None where the last reading does not count, so that nothing can be said of the next move."""
    if found is None or not found.is_current:
        return None
    advice = found.advice
    if advice.code in (REPEAT, TOO_COARSE):
        return _first_the_readings(found)
    rests_on, at_target = _rests_on(found), setting_for_target(found, drum)
    if advice.code == TIGHTEN and advice.move is not None:
        told = _("Release fully and tighten {move}: {setting}, coming from the slack side. Raise again.").format(
            move=_by(advice.move, found.unit), setting=_from_to(advice.move, found.unit, drum)
        )
        return NextMove(told, rests_on, at_target, _why_go_on(found, drum))
    if advice.code == SLACKEN and advice.move is not None:
        told = _("Release fully and slacken {move}: {setting}, then come to it from the slack side.").format(
            move=_by(advice.move, found.unit), setting=_from_to(advice.move, found.unit, drum)
        )
        return NextMove(told, rests_on, at_target, warns=True)
    return NextMove("", rests_on, at_target)


def setting_for_target(found: SettingFound | None, drum: Drum) -> str:
    """Where the setting for exactly the target lies, with its interval; empty while nothing is known of it."""
    if found is None or found.advice.target_setting_si is None:
        return ""
    setting, unit = found.advice.target_setting_si, found.unit
    return _(
        "By these readings the {kind} for exactly the target is {setting}, between {low} and {high} (19 times in 20)."
    ).format(
        kind=kind_of_setting(drum),
        setting=units.display(setting.estimate, unit),
        low=units.digits(setting.low, unit),
        high=units.digits(setting.high, unit),
    )


def kind_of_setting(drum: Drum) -> str:
    """What the setting is called in a sentence: the mark, or what else the drum keeps its setting as."""
    return _("mark") if drum.setting_kind == SettingKind.MARKER_DISTANCE else str(drum.get_setting_kind_display())


def said(sentence: Sentence) -> str:
    """A sentence of the calculation in the person's language."""
    return _(sentence.template).format(**sentence.figures)


def turns_in_words(turns: float) -> str:
    """Turns of the handwheel as a hand makes them: about a third of a turn."""
    whole, part = handy_turns(turns)
    alone = {
        3: _("about an eighth of a turn"),
        6: _("about a quarter of a turn"),
        8: _("about a third of a turn"),
        12: _("about half a turn"),
        16: _("about two thirds of a turn"),
        18: _("about three quarters of a turn"),
    }
    if not whole:
        return alone[part]
    if not part:
        return _("about one turn") if whole == 1 else _("about {whole} turns").format(whole=whole)
    sign = {3: "⅛", 6: "¼", 8: "⅓", 12: "½", 16: "⅔", 18: "¾"}[part]
    return _("about {whole} turns").format(whole=f"{whole} {sign}")


def _first_the_readings(found: SettingFound) -> NextMove:
    """Contradictions, or a mark too coarse: no slope and no setting is drawn from readings that disagree."""
    first, *others = reversed([one for one in found.advice.sentences if one.template in _FIRST])
    return NextMove(said(first), why=" ".join(said(one) for one in reversed(others)), warns=True)


_FIRST = {TEMPLATES[name] for name in (*CONTRADICTIONS, REPEAT, TOO_COARSE)}


def _why_go_on(found: SettingFound, drum: Drum) -> str:
    if not found.advice.refines:
        return ""
    share = units.display(found.advice.best_load_n / drum.vessel.base_load.si, "percent")
    return _("It reads in the band, but the brake itself probably holds only {share}, too near its lower edge.").format(
        share=share
    )


def _by(move: Move, unit: str) -> str:
    by = units.display(abs(move.by_si), unit)
    return by if move.turns is None else f"{by}, {turns_in_words(move.turns)}"


def _from_to(move: Move, unit: str, drum: Drum) -> str:
    return _("{kind} from {before} to {after}").format(
        kind=kind_of_setting(drum), before=units.digits(move.from_si, unit), after=units.display(move.to_si, unit)
    )


def _rests_on(found: SettingFound) -> tuple[str, ...]:
    advice, told = found.advice, []
    by_template = {one.template: one for one in advice.sentences}
    near_edge = by_template.get(TEMPLATES[NEAR_EDGE])
    if near_edge is not None:
        told.append(said(near_edge))
    if TEMPLATES[SLOPE_ASSUMED] in by_template:
        told.append(_(TEMPLATES[SLOPE_ASSUMED]))
    if advice.slope is not None:
        told.append(
            _(
                "Near the target {one} changes the load by {slope} ({low} to {high}, 19 times in 20), as this gauge "
                "reads."
            ).format(
                one=f"1 {units.label(found.unit)}".strip(),
                slope=per_unit_shown(advice.slope.estimate, found.unit),
                low=per_unit_shown(advice.slope.low, found.unit),
                high=per_unit_shown(advice.slope.high, found.unit),
            )
        )
    if advice.code == TIGHTEN:
        told.append(_("The step stays short of the target on purpose."))
    return tuple(told)
