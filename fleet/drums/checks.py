"""What a drum's particulars cannot be, and what is asked about: one place for the form and for the service."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from itertools import pairwise
from typing import Any, Literal, cast

from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from fleet.calculation import units
from fleet.calculation.plausibility import DrumFacts, Finding, check_particulars, outside_hard
from fleet.core.findings import said
from fleet.core.typed import Typed
from fleet.drums.figures import FIGURE_BY_NAME, FIGURES, Figure, FigureKind, Origin
from fleet.drums.models import (
    SETTING_UNITS,
    BrakeKind,
    Drum,
    DrumKind,
    DrumParticulars,
    LineMaterial,
    SettingKind,
    TargetBasis,
)

Problems = dict[str, list[ValidationError]]

NAME_THE_LAYER = _(
    "This drum is undivided: name the layer the setting is for. Commonly it is the third; the line load changes with "
    "every layer."
)
SPLIT_IS_LAYER_ONE = _("The tension part of a split drum holds one layer: the setting is for layer 1.")
LAYER_RANGE = _("Name a layer between 1 and 12.")
FIGURE_NEEDED = _("This figure is needed to compute the target. Type it, or choose another way to find the target.")
NOT_A_FIGURE = _("This figure is not kept of this drum.")
WRONG_UNIT = _("This unit does not measure this figure. Choose one of: %(units)s.")
NOT_ABOVE_ZERO = _("Type a figure above zero.")
LIMIT_NOT_BELOW_BREAKING = _("The working load limit must be below the line's breaking load.")
MORE_THAN_NEW = _("A line has at most 100 % of its new strength left. Give what is left, not what is lost.")
DOCUMENT_NEEDED = _("Name the document this figure is from, with its page or sheet.")
ORIGIN_NEEDED = _("Say where this figure comes from.")
LINE_NOT_BELOW_DRUM = _("The line must be thinner than the drum it lies on. Check that the two are not exchanged.")
FLANGE_NOT_ABOVE_DRUM = _("The flange must be larger than the barrel. Check that the two are not exchanged.")
LINING_ORDER = _("The least thickness must be below the thickness when new.")
MARK_ORDER = _("The greatest setting must be above the least.")
RATIO = _(
    "The barrel is %(ratio)s times as thick as the line; between %(low)s and %(high)s is possible. Check both figures "
    "and their units; the flange or the radius may have been measured."
)
ARM_RATIO = _(
    "The line's arm is %(ratio)s of the lever arm; between %(low)s and %(high)s is possible. Check the lever arm, and "
    "that it is measured from the drum's centre."
)
TABLE_NEEDED = _("Type the maker's table: at least two rows of jack pressure and line load.")
TABLE_NOT_RISING = _("Row %(row)s: pressure and load must both be above those of the row before it.")
TABLE_NEGATIVE = _("Row %(row)s: a pressure or load cannot be below zero.")
TABLE_JACK_NEEDED = _("Give the serial number of the jack this table was made for: it holds for that jack only.")
TABLE_DOCUMENT_NEEDED = _("Name the document the table is from.")
TABLE_NOT_USED = _("A maker's table belongs to the choice “maker's table of jack pressure” only.")

# What of a figure's hard range is stated for another name; None: only above zero.
HARD_NAME: dict[str, str | None] = {
    "drum_diameter": "drum_diameter",
    "line_diameter": "line_diameter",
    "lever_arm": "lever_arm",
    "line_mbl": "base_load",
    "mark_per_band_travel": "mark_per_band_travel",
    "wrap_angle": "wrap_angle",
    "lining_friction": "lining_friction",
    "lining_new": "lining",
    "lining_minimum": "lining",
}
# Fields of the catalogue that are columns of the particulars, not figures.
FIELD_OF_FINDING = {"layer": "reference_layer"}


def figures_kept(drum: Drum) -> tuple[FigureKind, ...]:
    """The figures that make sense for this drum's kind of setting and of brake."""
    unfit: set[str] = set()
    if drum.setting_kind not in {SettingKind.MARKER_DISTANCE, SettingKind.SPRING_LENGTH}:
        unfit.add("movement_per_turn")
    if drum.brake_kind != BrakeKind.BAND:
        unfit |= {"wrap_angle", "lining_friction", "mark_per_band_travel"}
    if drum.setting_kind != SettingKind.MARKER_DISTANCE:
        unfit.add("mark_per_band_travel")
    return tuple(kind for kind in FIGURES if kind.name not in unfit)


def figure_units(drum: Drum, name: str) -> tuple[str, ...]:
    """The unit codes a figure may be typed in."""
    quantity = FIGURE_BY_NAME[name].quantity
    if quantity == "ratio":
        return ("ratio",)
    return SETTING_UNITS[drum.setting_kind] if quantity == "setting" else units.KINDS[quantity]


def figure_needed(name: str, target_basis: str) -> bool:
    """Whether the target cannot be found without this figure."""
    by_geometry = target_basis in {TargetBasis.GEOMETRY, TargetBasis.FORCE_CALIBRATED_JACK}
    return FIGURE_BY_NAME[name].required and by_geometry


def particulars_row(
    *,
    drum: Drum,
    figures: Mapping[str, Figure],
    reference_layer: int | None,
    maker_table: Sequence[tuple[Typed, Typed]] = (),
    **columns: Any,
) -> DrumParticulars:
    """The row as it would be saved; an undivided drum's layer stays empty until somebody names it."""
    return DrumParticulars(
        drum=drum,
        figures={name: figure.to_dict() for name, figure in figures.items()},
        reference_layer=cast(int, 1 if reference_layer is None and drum.kind == DrumKind.SPLIT else reference_layer),
        maker_table=[{"pressure": pressure.to_dict(), "load": load.to_dict()} for pressure, load in maker_table],
        **columns,
    )


def hard_problems(row: DrumParticulars) -> Problems:
    """Everything that is refused in a row not yet saved, by the name of the figure or column."""
    problems: Problems = defaultdict(list)
    for name, stored in row.figures.items():
        for message in _figure_problems(row.drum, name, Figure.from_dict(stored)):
            problems[name].append(message)
    for name in FIGURE_BY_NAME:
        if name not in row.figures and figure_needed(name, row.target_basis):
            problems[name].append(ValidationError(FIGURE_NEEDED, code="required"))
    for name, problem in (*_layer_problems(row), *_pair_problems(row), *table_problems(row)):
        if not problems[name]:
            problems[name].append(problem)
    return {name: found for name, found in problems.items() if found}


def _figure_problems(drum: Drum, name: str, figure: Figure) -> Iterable[ValidationError]:
    if name not in FIGURE_BY_NAME:
        yield ValidationError(NOT_A_FIGURE, code="unknown")
        return
    offered = figure_units(drum, name)
    if figure.typed.unit not in offered:
        names = ", ".join(units.label(code) or "–" for code in offered)
        yield ValidationError(WRONG_UNIT, code="unit", params={"units": names})
        return
    is_mark = FIGURE_BY_NAME[name].quantity == "setting"
    limits = "marker_distance" if is_mark and drum.setting_kind == SettingKind.MARKER_DISTANCE else HARD_NAME.get(name)
    refused = outside_hard(limits, figure.typed.si) if limits else None
    if refused:
        yield ValidationError(said(refused), code="hard_range")
    elif figure.typed.si < 0 or (figure.typed.si == 0 and not is_mark):
        yield ValidationError(NOT_ABOVE_ZERO, code="above_zero")
    elif name == "line_residual" and figure.typed.si > 1:
        yield ValidationError(MORE_THAN_NEW, code="hard_range")
    if figure.origin not in Origin.values:
        yield ValidationError(ORIGIN_NEEDED, code="origin")
    elif figure.origin != Origin.MEASURED and not figure.document.strip():
        yield ValidationError(DOCUMENT_NEEDED, code="document")


def _layer_problems(row: DrumParticulars) -> Iterable[tuple[str, ValidationError]]:
    if row.drum.kind == DrumKind.SPLIT and row.reference_layer != 1:
        yield "reference_layer", ValidationError(SPLIT_IS_LAYER_ONE, code="layer")
    elif row.reference_layer is None:
        yield "reference_layer", ValidationError(NAME_THE_LAYER, code="required")
    elif not 1 <= row.reference_layer <= 12:
        yield "reference_layer", ValidationError(LAYER_RANGE, code="layer")


def _pair_problems(row: DrumParticulars) -> Iterable[tuple[str, ValidationError]]:
    drum, line, arm = row.si("drum_diameter"), row.si("line_diameter"), row.si("lever_arm")
    flange, least, most = row.si("flange_diameter"), row.si("mark_least"), row.si("mark_most")
    new, minimum = row.si("lining_new"), row.si("lining_minimum")
    if drum and line and line >= drum:
        yield "line_diameter", ValidationError(LINE_NOT_BELOW_DRUM, code="order")
    elif drum and line and line > 0 and (ratio := _ratio_refused("diameter_ratio", drum / line)):
        yield "drum_diameter", ValidationError(RATIO, code="hard_range", params=ratio)
    if drum and flange and flange <= drum:
        yield "flange_diameter", ValidationError(FLANGE_NOT_ABOVE_DRUM, code="order")
    if drum and line and arm and arm > 0 and (ratio := _ratio_refused("arm_ratio", (drum + line) / 2 / arm)):
        yield "lever_arm", ValidationError(ARM_RATIO, code="hard_range", params=ratio)
    limit, breaking = row.si("line_wll"), row.si("line_mbl")
    if limit and breaking and limit >= breaking:
        yield "line_wll", ValidationError(LIMIT_NOT_BELOW_BREAKING, code="order")
    if new is not None and minimum is not None and minimum >= new:
        yield "lining_minimum", ValidationError(LINING_ORDER, code="order")
    if least is not None and most is not None and least >= most:
        yield "mark_most", ValidationError(MARK_ORDER, code="order")


def _ratio_refused(name: str, ratio: float) -> dict[str, str] | None:
    refused = outside_hard(name, ratio)
    if refused is None:
        return None
    words = {"ratio": ratio, "low": float(refused.figures["low"]), "high": float(refused.figures["high"])}
    return {key: units.shown(value, 2) for key, value in words.items()}


def table_problems(row: DrumParticulars) -> Iterable[tuple[str, ValidationError]]:
    """What is wrong with the maker's table as a whole."""
    if row.target_basis != TargetBasis.MAKERS_TABLE:
        if row.maker_table:
            yield "maker_table", ValidationError(TABLE_NOT_USED, code="table")
        return
    pairs = [(float(line["pressure"]["si"]), float(line["load"]["si"])) for line in row.maker_table]
    if len(pairs) < 2:
        yield "maker_table", ValidationError(TABLE_NEEDED, code="required")
    if pairs and min(pairs[0]) < 0:
        yield "maker_table", ValidationError(TABLE_NEGATIVE, code="table", params={"row": 1})
    for number, (above, below) in enumerate(pairwise(pairs), start=2):
        if below[0] <= above[0] or below[1] <= above[1]:
            yield "maker_table", ValidationError(TABLE_NOT_RISING, code="rising", params={"row": number})
            break
    if not row.maker_table_jack.strip():
        yield "maker_table_jack", ValidationError(TABLE_JACK_NEEDED, code="required")
    if not row.maker_table_document.strip():
        yield "maker_table_document", ValidationError(TABLE_DOCUMENT_NEEDED, code="required")


def drum_facts(row: DrumParticulars) -> DrumFacts:
    """A drum's figures as the catalogue of findings reads them."""
    vessel, drum = row.drum.winch.vessel, row.drum
    base_kind = "from_fittings" if vessel.base_load_kind == "fittings" else vessel.base_load_kind
    return DrumFacts(
        id=str(drum.pk),
        name=drum.name,
        kind=cast(Any, drum.kind),
        brake_kind=cast(Any, drum.brake_kind),
        drum_diameter_m=row.si("drum_diameter"),
        flange_diameter_m=row.si("flange_diameter"),
        line_diameter_m=row.si("line_diameter"),
        line_material="wire" if row.line_material == LineMaterial.WIRE else "fibre",
        layer=row.reference_layer,
        nested=row.nesting == "nested",
        base_load_n=vessel.base_load.si,
        base_kind=base_kind,
        line_mbl_n=row.si("line_mbl"),
        line_residual_share=row.si("line_residual"),
        lever_arm_m=row.si("lever_arm"),
        setting_kind=cast(Any, drum.setting_kind),
        mark_low_si=row.si("mark_least"),
        mark_high_si=row.si("mark_most"),
        tighter_direction=cast(Literal[1, -1], drum.tightening_sign),
        setting_per_turn_si=row.si("movement_per_turn"),
        wrap_rad=row.si("wrap_angle"),
        mark_per_band_travel=row.si("mark_per_band_travel"),
        lining_new_m=row.si("lining_new"),
        lining_minimum_m=row.si("lining_minimum"),
    )


def particulars_findings(
    row: DrumParticulars, sisters: Iterable[DrumParticulars] = (), share: float | None = None
) -> list[Finding]:
    """Findings on a row's own figures, seen beside the vessel's other drums; none on the vessel itself.

    `share` is that of the base load at which the brake is to render.
    """
    own = {*FIGURE_BY_NAME, *FIELD_OF_FINDING}
    found = check_particulars(
        drum_facts(row),
        sister_drums=[drum_facts(other) for other in sisters],
        target_basis=cast(Any, row.target_basis),
        share=share,
    )
    return [finding for finding in found if finding.field in own]


def field_of(finding: Finding) -> str:
    """The figure or column that a finding is about."""
    return FIELD_OF_FINDING.get(finding.field, finding.field)


def sister_rows(drum: Drum, on: date) -> list[DrumParticulars]:
    """The particulars in force of the vessel's other fitted drums, in one query."""
    rows = DrumParticulars.objects.filter(
        drum__winch__vessel=drum.winch.vessel_id, drum__removed_on__isnull=True, valid_from__lte=on
    )
    rows = rows.exclude(drum=drum).select_related("drum__winch__vessel").order_by("valid_from", "created_at")
    return list({row.drum_id: row for row in rows}.values())
