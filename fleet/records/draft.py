"""The draft of a test: what was typed, by field; parsed when read, so that nothing typed is lost."""

from dataclasses import dataclass, field
from datetime import date, time
from typing import Any

from django.db import models
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

from fleet.calculation import units
from fleet.calculation.plausibility import outside_hard
from fleet.core.typed import Typed
from fleet.drums.figures import setting_typed
from fleet.drums.models import SETTING_UNITS, BrakeKind, Drum, SettingKind
from fleet.records.models import DrumTest, Outcome, State

TICKED = "on"


@dataclass(frozen=True)
class Check:
    """One thing to be seen to before the pump is touched."""

    name: str
    label: str | Promise
    hint: str | Promise = ""
    blocks_readings: bool = True


CHECKS: tuple[Check, ...] = (
    Check("permit_seen", lazy("The permit is valid; everyone on deck has read it")),
    Check("line_slack", lazy("The line is off this drum, or slack and carries nothing")),
    Check("clutched_out", lazy("The drum is clutched out")),
    Check(
        "sister_clear",
        lazy("No other drum on this winch holds a mooring line"),
        lazy("Drums on one frame or shaft move together."),
    ),
    Check(
        "pay_out_side",
        lazy("The jack turns the drum the way the line pays out, as drawn"),
        lazy("Turned the other way the brake seems several times weaker and would be set far too tight."),
    ),
    Check("area_clear", lazy("Nobody stands in the lever's arc or over the jack")),
    Check("gauge_checked", lazy("The gauge stands at zero and its label is in date")),
    Check("reeled_as_marked", lazy("The line is reeled in the direction marked on the winch"), "", False),
    Check(
        "run_in",
        lazy("The drum was run briefly with the brake lightly on, and is dry"),
        lazy("A wet, oily or rusty brake holds far less until it has been run dry."),
        False,
    ),
)


class BrakeState(models.TextChoices):
    DRY = "dry", lazy("dry")
    WET = "wet", lazy("wet or damp")


class LiningCondition(models.TextChoices):
    SOUND = "sound", lazy("sound")
    CRACKED = "cracked", lazy("cracked or breaking up")
    OILY = "oily", lazy("oily or glazed")
    LOOSE = "loose", lazy("loose")


class DrumSurface(models.TextChoices):
    SMOOTH = "smooth", lazy("smooth")
    RUSTY = "rusty", lazy("rusty")
    PITTED = "pitted", lazy("pitted or scored")


class BandRest(models.TextChoices):
    CLEAR = "clear", lazy("the band stands clear of the drum when open")
    TOUCHING = "touching", lazy("the band touches the drum when open")


CHOICES: dict[str, type[models.TextChoices]] = {
    "brake_state": BrakeState,
    "lining_condition": LiningCondition,
    "drum_surface": DrumSurface,
    "band_rest": BandRest,
    "outcome": Outcome,
}
LININGS = ("lining_1", "lining_2", "lining_3")
LENGTH_UNITS = ("mm", "cm", "in")
LEVER_ANGLE_UNIT = "deg"
MOST_OFF_SQUARE_DEG = 45
MARKS = ("old_mark", "final_mark")
TEXTS = ("mark_fixed", "defect_reference", "who_was_told", "remarks", "answer_to_shore")
UNITS_OF = ("lining_unit", "band_rest_clearance_unit", "setting_unit")
FIELDS: tuple[str, ...] = (
    *(check.name for check in CHECKS),
    "tested_on",
    "tested_at",
    *CHOICES,
    *LININGS,
    "band_rest_clearance",
    "lever_angle",
    *UNITS_OF,
    *MARKS,
    *TEXTS,
)
REPLY = "reply_"
TEXT_LIMIT = 400
LABELS: dict[str, str | Promise] = {
    "tested_on": lazy("date of the test"),
    "tested_at": lazy("time, ship's time"),
    "brake_state": lazy("brake"),
    "lining_condition": lazy("lining condition"),
    "drum_surface": lazy("drum surface"),
    "band_rest": lazy("band when open"),
    "lining_1": lazy("lining thickness, first place"),
    "lining_2": lazy("lining thickness, second place"),
    "lining_3": lazy("lining thickness, third place"),
    "band_rest_clearance": lazy("clearance of the open band"),
    "lever_angle": lazy("lever off square to the jack"),
    "old_mark": lazy("setting as found"),
    "final_mark": lazy("setting as left"),
    "mark_fixed": lazy("how the mark is fixed"),
    "outcome": lazy("outcome"),
    "defect_reference": lazy("defect reference"),
    "who_was_told": lazy("who was told"),
    "remarks": lazy("remarks"),
    "answer_to_shore": lazy("answer to shore"),
    **{check.name: check.label for check in CHECKS},
}


@dataclass(frozen=True)
class Missing:
    """Something still to be given, with the field to go to."""

    field: str
    sentence: str


@dataclass(frozen=True)
class ParsedDraft:
    """The draft as read: values where they could be, an error beside each field that could not."""

    values: dict[str, Any]
    errors: dict[str, str] = field(default_factory=dict)
    missing: tuple[Missing, ...] = ()

    def typed(self, name: str) -> Typed | None:
        value = self.values.get(name)
        return value if isinstance(value, Typed) else None

    def ticked(self, name: str) -> bool:
        return bool(self.values.get(name))

    @property
    def was_dry(self) -> bool:
        return self.values.get("brake_state") == BrakeState.DRY

    @property
    def linings_m(self) -> tuple[float, ...]:
        """The three thicknesses in m, only when all are known: always in the same order."""
        found = [value.si for name in LININGS if (value := self.typed(name))]
        return tuple(found) if len(found) == len(LININGS) else ()


def clean_values(posted: dict[str, str]) -> dict[str, str]:
    """Only the draft's own fields out of what a form sent, cut at a sane length."""
    return {
        name: str(value)[:TEXT_LIMIT]
        for name, value in posted.items()
        if name in FIELDS or (name.startswith(REPLY) and len(name) <= 80)
    }


def setting_units(drum: Drum) -> tuple[str, ...]:
    return SETTING_UNITS[drum.setting_kind]


def setting_unit(test: DrumTest) -> str:
    """The unit the setting is written in: as chosen in this draft, else the first of its kind."""
    offered = setting_units(test.drum)
    chosen = test.draft.get("setting_unit", "")
    return chosen if chosen in offered else offered[0]


def parse_draft(test: DrumTest) -> ParsedDraft:
    """Read every field; nothing is corrected and nothing is thrown away."""
    draft = test.draft
    values: dict[str, Any] = {check.name: draft.get(check.name) == TICKED for check in CHECKS}
    errors: dict[str, str] = {}
    for name, options in CHOICES.items():
        text = draft.get(name, "")
        if text and text not in options.values:
            errors[name] = _("Choose one of the list.")
        values[name] = text if text in options.values else ""
    for name in TEXTS:
        values[name] = draft.get(name, "").strip()
    _read_date_and_time(draft, values, errors)
    unit = setting_unit(test)
    for name in MARKS:
        _read_quantity(name, draft.get(name, ""), unit, values, errors, _hard_range_of_setting(test.drum))
    lining_unit = _one_of(draft.get("lining_unit", ""), LENGTH_UNITS)
    for name in LININGS:
        _read_quantity(name, draft.get(name, ""), lining_unit, values, errors, "lining")
    clearance_unit = _one_of(draft.get("band_rest_clearance_unit", ""), LENGTH_UNITS)
    _read_quantity("band_rest_clearance", draft.get("band_rest_clearance", ""), clearance_unit, values, errors, None)
    _read_quantity("lever_angle", draft.get("lever_angle", ""), LEVER_ANGLE_UNIT, values, errors, None)
    angle = values["lever_angle"]
    if angle and units.from_si(angle.si, LEVER_ANGLE_UNIT) > MOST_OFF_SQUARE_DEG:
        values["lever_angle"] = None
        errors["lever_angle"] = _(
            "More than 45° from square is no lever. Write the angle between square and the lever."
        )
    return ParsedDraft(values, errors, tuple(_missing(values, errors, test)))


def readings_open(test: DrumTest) -> bool:
    """True when every check that guards the pump is ticked."""
    return not readings_wait_for(test)


def readings_wait_for(test: DrumTest) -> list[Check]:
    """The checks still open that keep readings shut."""
    return [check for check in CHECKS if check.blocks_readings and test.draft.get(check.name) != TICKED]


def _one_of(text: str, offered: tuple[str, ...]) -> str:
    return text if text in offered else offered[0]


def _hard_range_of_setting(drum: Drum) -> str | None:
    return "marker_distance" if drum.setting_kind == SettingKind.MARKER_DISTANCE else None


def read_quantity(text: str, unit: str, hard_range: str | None = None) -> Typed:
    """Read one typed figure; NumberError or ValueError with a sentence for the person who typed it."""
    typed = setting_typed(text, unit)
    if typed.si < 0:
        raise ValueError(_("This cannot be below zero."))
    if unit == "count" and not typed.si.is_integer():
        raise ValueError(_("Count them: write a whole number."))
    refusal = outside_hard(hard_range, typed.si) if hard_range else None
    if refusal:
        raise ValueError(_(refusal.template).format(**refusal.figures))
    return typed


def _read_quantity(
    name: str, text: str, unit: str, values: dict[str, Any], errors: dict[str, str], hard_range: str | None
) -> None:
    values[name] = None
    if not text.strip():
        return
    try:
        values[name] = read_quantity(text, unit, hard_range)
    except units.NumberError as error:
        errors[name] = _(units.NUMBER_ERRORS[error.code])
    except ValueError as error:
        errors[name] = str(error)


def _read_date_and_time(draft: dict[str, str], values: dict[str, Any], errors: dict[str, str]) -> None:
    values["tested_on"] = values["tested_at"] = None
    if text := draft.get("tested_on", "").strip():
        try:
            values["tested_on"] = date.fromisoformat(text)
        except ValueError:
            errors["tested_on"] = _("Write the date as year-month-day, such as 2026-11-20.")
    if text := draft.get("tested_at", "").strip():
        try:
            values["tested_at"] = time.fromisoformat(text)
        except ValueError:
            errors["tested_at"] = _("Write the time as hours:minutes, such as 10:40.")


def has_band(drum: Drum) -> bool:
    """False for a disc brake: nobody is asked how its band rests."""
    return drum.brake_kind != BrakeKind.DISC


def waits_for_an_answer(test: DrumTest) -> bool:
    """Shore gave it back, or opened it again: the ship says what it did about that before it sends the next version."""
    return test.state == State.RETURNED


def _missing(values: dict[str, Any], errors: dict[str, str], test: DrumTest) -> list[Missing]:
    found: list[Missing] = []

    def need(name: str, sentence: str) -> None:
        if not values.get(name) and name not in errors:
            found.append(Missing(name, sentence))

    if waits_for_an_answer(test):
        need("answer_to_shore", _("Shore sent it back: answer in one line what was done about it."))
    need("tested_on", _("Give the date of the test."))
    need("tested_at", _("Give the time of the test, ship's time."))
    need("outcome", _("Choose the outcome."))
    need("brake_state", _("Say whether the brake was dry."))
    need("lining_condition", _("Say what the lining looks like."))
    need("drum_surface", _("Say what the drum surface looks like."))
    if has_band(test.drum):
        need("band_rest", _("Say whether the band stands clear when open."))
    for name in LININGS:
        need(name, _("Measure the lining at three places."))
    outcome = values.get("outcome")
    if outcome == Outcome.SET_IN_BAND:
        need("final_mark", _("Measure the setting as left."))
        need("mark_fixed", _("Say how the mark is fixed so that it cannot shift."))
        found.extend(
            Missing(check.name, _("Not confirmed: {check}.").format(check=check.label))
            for check in CHECKS
            if not values[check.name]
        )
    elif outcome:
        need("who_was_told", _("Say who was told."))
        if outcome in {Outcome.OUT_OF_USE, Outcome.RESTRICTED, Outcome.COULD_NOT_BE_SET}:
            need("defect_reference", _("Give the defect reference."))
        if outcome == Outcome.STOPPED:
            need("remarks", _("Say why the test was stopped."))
    return found
