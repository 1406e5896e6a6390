"""Every figure behind a target, as typed, with where it comes from: for Prepare and the worksheet."""

from collections.abc import Iterator
from dataclasses import dataclass

from django.utils.formats import date_format
from django.utils.functional import Promise
from django.utils.text import capfirst
from django.utils.translation import gettext as _

from fleet.calculation import units
from fleet.drums.figures import FIGURES
from fleet.drums.models import DrumKind, DrumParticulars, TargetBasis
from fleet.gauges.models import AreaCounts
from fleet.records.figures import Figures, JackInUse
from fleet.records.preparation import Preparation
from fleet.vessels.models import Policy, Vessel

# What explains the brake, but is read off or set by nobody during a test.
NOT_ON_DECK = frozenset({"wrap_angle", "lining_friction", "mark_per_band_travel", "line_wll", "line_residual"})


@dataclass(frozen=True)
class FigureRow:
    """One figure: its name in words, what was typed, where from, which document."""

    label: str | Promise
    shown: str
    origin: str | Promise = ""
    document: str = ""
    on_worksheet: bool = True


def ship_rows(preparation: Preparation) -> list[FigureRow]:
    """The base load and the operator's policy."""
    return list(_ship_rows(preparation.drum.vessel, preparation.policy))


def drum_rows(preparation: Preparation) -> list[FigureRow]:
    """The drum's own figures that somebody gave."""
    row = preparation.particulars
    return list(_drum_rows(row, preparation)) if row else []


def kit_rows(preparation: Preparation) -> list[FigureRow]:
    """Gauge, jacks, lever and footing."""
    return list(_kit_rows(preparation)) if preparation.kit else []


def worksheet_rows(preparation: Preparation) -> list[FigureRow]:
    """The figures one wants at hand on deck; what the sheet says elsewhere is left out."""
    rows = [*ship_rows(preparation), *drum_rows(preparation), *kit_rows(preparation)]
    return [row for row in rows if row.on_worksheet]


def _ship_rows(vessel: Vessel, policy: Policy) -> Iterator[FigureRow]:
    yield FigureRow(
        capfirst(str(vessel.get_base_load_kind_display())), str(vessel.base_load), "", vessel.base_load_document
    )
    source = (
        _("common practice; the operator has set no policy")
        if policy.is_common_practice
        else _("operator's policy from {day}").format(day=date_format(policy.valid_from, "j M Y"))
    )
    yield FigureRow(_("Share at which the brake is to render"), units.display(float(policy.share), "percent"), source)
    band = f"{_bare(policy.band_low)}–{_bare(policy.band_high)} %"
    yield FigureRow(_("Acceptance band"), band, _("operator's setting, not from a standard"))


def _bare(share: object) -> str:
    return units.digits(float(str(share)), "percent").removesuffix(".0")


def _drum_rows(row: DrumParticulars, preparation: Preparation) -> Iterator[FigureRow]:
    drum = preparation.drum
    for kind in FIGURES:
        figure = row.figure(kind.name)
        if figure:
            yield FigureRow(
                capfirst(str(kind.label)),
                str(figure.typed),
                figure.origin_label,
                figure.document,
                on_worksheet=kind.name not in NOT_ON_DECK,
            )
    yield FigureRow(_("Line material"), str(row.get_line_material_display()), on_worksheet=False)
    layer = _("layer {layer}").format(layer=row.reference_layer)
    if drum.kind == DrumKind.UNDIVIDED:
        layer += f", {row.get_nesting_display()}"
    yield FigureRow(_("The setting is for"), layer, str(drum.get_kind_display()))
    table = row.maker_table if row.target_basis == TargetBasis.MAKERS_TABLE else []
    document = row.maker_table_document if table else ""
    yield FigureRow(_("How the target is found"), str(row.get_target_basis_display()), "", document, on_worksheet=False)
    if table:
        yield FigureRow(_("The maker's table is for jack"), row.maker_table_jack, "", document)


def _kit_rows(preparation: Preparation) -> Iterator[FigureRow]:
    kit, figures = preparation.kit, preparation.figures
    assert kit is not None
    dial = kit.gauge
    words = _("{scale} full scale, marks every {division}, class {accuracy}").format(
        scale=dial.full_scale, division=dial.smallest_division, accuracy=f"{dial.accuracy_class.normalize():f}"
    )
    number = _("number {number}").format(number=dial.serial_number)
    yield FigureRow(_("Gauge {gauge}").format(gauge=dial), words, number, on_worksheet=False)
    if figures:
        for jack in figures.jacks:
            yield from _jack_rows(jack, figures)
    safe = (
        _("safe load {load}").format(load=kit.lever.safe_load) if kit.lever.safe_load else _("safe load not recorded")
    )
    yield FigureRow(_("Lever {lever}, stamped arm").format(lever=kit.lever), str(kit.lever.arm), safe)
    if kit.footing:
        allowed = str(kit.footing.allowed_load) if kit.footing.allowed_load else _("not recorded")
        yield FigureRow(
            _("Load allowed on footing {footing}").format(footing=kit.footing), allowed, "", kit.footing.note
        )


def _jack_rows(row: JackInUse, figures: Figures) -> Iterator[FigureRow]:
    jack, area = row.jack, row.area
    if figures.target.reading_kind == "pressure":
        if area.counts_m2 is None:
            yield FigureRow(_("Jack {jack}, effective piston area").format(jack=jack), _("not known"))
        else:
            stated = jack.area_counts == AreaCounts.STATED and jack.stated_area is not None
            shown = str(jack.stated_area) if stated else units.display(area.counts_m2, "cm2")
            yield FigureRow(
                _("Jack {jack}, effective piston area").format(jack=jack), shown, area.origin, area.document
            )
    if figures.target.basis == TargetBasis.FORCE_CALIBRATED_JACK:
        yield FigureRow(
            _("Jack {jack}, force against reading").format(jack=jack),
            _("{n} points").format(n=len(jack.force_table)),
            _("calibration"),
            jack.force_table_document,
        )
    yield FigureRow(
        _("Jack {jack}, rated pressure").format(jack=jack),
        str(jack.rated_pressure),
        str(jack.get_kind_display()),
        on_worksheet=False,
    )
    if figures.target.basis in {TargetBasis.GEOMETRY, TargetBasis.FORCE_CALIBRATED_JACK}:
        yield FigureRow(
            _("Jack {jack}, lever arm in use").format(jack=jack),
            row.lever_arm_shown,
            _("drum centre to the jack's line of action"),
        )
