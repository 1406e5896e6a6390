"""What the line makes of a brake's setting, in words: on other layers, another line, reeled the wrong way round."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.utils.formats import date_format
from django.utils.functional import cached_property
from django.utils.translation import gettext as _

from fleet.calculation import layers, lines, units
from fleet.calculation.sentences import Sentence
from fleet.drums.models import BrakeKind, Drum, DrumKind, DrumParticulars, LineMaterial
from fleet.drums.proofs import Proof, last_proof
from fleet.vessels.models import Vessel, policy_for

LAYERS_SHOWN = 5


def sentence_said(sentence: Sentence) -> str:
    """A sentence of the calculation in the reader's language."""
    return _(sentence.template).format(**sentence.figures)


def base_word(vessel: Vessel) -> str:
    """What a share is a share of: SDMBL only where the document calls it so."""
    return _("SDMBL") if vessel.base_load_kind == "sdmbl" else _("the base load")


@dataclass(frozen=True)
class LayerSaid:
    layer: int
    on_line_load: str
    on_line_share: str
    nested_load: str
    nested_share: str
    is_set_layer: bool
    below_wll: bool
    above_design: bool


@dataclass(frozen=True)
class LayersSaid:
    """The brake rendering load on every layer, with what to warn of."""

    set_layer: int
    nested: bool
    wll_shown: str
    rows: tuple[LayerSaid, ...]
    warnings: tuple[str, ...]


def layer_table(row: DrumParticulars, *, load_n: float, base_n: float) -> layers.LayerTable | None:
    """The table of an undivided drum that renders at this load on its layer; None for a split one or without figures.

    Raises InputError for figures that cannot be.
    """
    drum_m, line_m = row.si("drum_diameter"), row.si("line_diameter")
    if row.drum.kind != DrumKind.UNDIVIDED or not drum_m or not line_m:
        return None
    return layers.over_layers(
        load_n=load_n,
        sdmbl_n=base_n,
        drum_diameter_m=drum_m,
        line_diameter_m=line_m,
        line_kind=layers.WIRE if row.line_material == LineMaterial.WIRE else layers.OTHER,
        set_layer=row.reference_layer,
        layers=range(1, max(LAYERS_SHOWN, row.reference_layer) + 1),
        wll_n=row.si("line_wll"),
        base_name=base_word(row.drum.vessel),
    )


def layers_said(row: DrumParticulars, table: layers.LayerTable) -> LayersSaid:
    """The table made ready for a page."""
    return LayersSaid(
        set_layer=row.reference_layer,
        nested=row.nesting == "nested",
        wll_shown=units.display(table.wll_share, "percent"),
        rows=tuple(
            LayerSaid(
                one.layer,
                units.digits(one.on_line.load_n, "kN"),
                units.digits(one.on_line.share, "percent"),
                units.digits(one.nested.load_n, "kN"),
                units.digits(one.nested.share, "percent"),
                one.layer == row.reference_layer,
                one.below_wll,
                one.above_design,
            )
            for one in table.rows
        ),
        warnings=tuple(sentence_said(warning) for warning in table.warnings),
    )


@dataclass(frozen=True)
class WrongWaySaid:
    """The estimate for the wrong reeling direction, and what of it was assumed."""

    sentence: str
    assumed: str


def wrong_way_said(row: DrumParticulars, *, load_n: float, base_n: float) -> WrongWaySaid | None:
    """None for a brake that is no band brake."""
    if row.drum.brake_kind != BrakeKind.BAND:
        return None
    wrap, friction = row.si("wrap_angle"), row.si("lining_friction")
    found = lines.wrong_way(
        load_n=load_n,
        sdmbl_n=base_n,
        wrap_rad=wrap or lines.USUAL_WRAP_RAD,
        friction=(friction, friction) if friction else lines.LINING_FRICTION,
        base_name=base_word(row.drum.vessel),
    )
    if wrap and friction:
        assumed = ""
    elif wrap:
        assumed = _("The lining's friction is assumed: ours, common practice, no published source.")
    elif friction:
        assumed = _("The wrap is assumed: ours, common practice, no published source.")
    else:
        assumed = _("Wrap and friction are assumed: ours, common practice, no published source.")
    return WrongWaySaid(sentence_said(found.sentence), assumed)


@dataclass(frozen=True)
class LineChangeSaid:
    """Another line than that of the last proof: what the old mark is worth, and that a test is due."""

    old: str
    new: str
    since: date
    load_n: float
    sentence: str


def line_change_said(proof: Proof | None, row: DrumParticulars) -> LineChangeSaid | None:
    """None where the line is the one of the last proof, or nothing is known of either."""
    if proof is None:
        return None
    then, now = proof.particulars.figure("line_diameter"), row.figure("line_diameter")
    drum_m = proof.particulars.si("drum_diameter")
    if then is None or now is None or not drum_m:
        return None
    if not lines.is_another_line(old_diameter_m=then.typed.si, new_diameter_m=now.typed.si):
        return None
    found = lines.line_change(
        load_n=proof.load_n,
        sdmbl_n=proof.base_load_n,
        drum_diameter_m=drum_m,
        old_diameter_m=then.typed.si,
        new_diameter_m=now.typed.si,
        layer=proof.particulars.reference_layer,
        nesting=proof.particulars.nesting,
        base_name=base_word(row.drum.vessel),
    )
    return LineChangeSaid(
        str(then.typed), str(now.typed), row.valid_from, found.load_after_n, sentence_said(found.sentence)
    )


@dataclass(frozen=True)
class LineOnDrum:
    """All of it for one row of particulars on one day."""

    row: DrumParticulars
    proof: Proof | None
    share: float

    @cached_property
    def change(self) -> LineChangeSaid | None:
        return line_change_said(self.proof, self.row)

    @property
    def base_n(self) -> float:
        return float(self.row.drum.vessel.base_load.si)

    @property
    def load_n(self) -> float:
        """What the mark is worth now, where a test left one; else what the brake is to be set to."""
        if self.change:
            return self.change.load_n
        return self.proof.load_n if self.proof else self.share * self.base_n

    @property
    def reckoned(self) -> str:
        """Which load the figures are for."""
        words = {
            "load": units.display(self.load_n, "kN"),
            "share": units.display(self.load_n / self.base_n, "percent"),
            "base": base_word(self.row.drum.vessel),
        }
        if self.proof is None:
            return _("Reckoned for what the brake is to be set to: {load}, {share} of {base}.").format(**words)
        words["day"] = date_format(self.proof.tested_on, "j F Y")
        if self.change:
            return _("Reckoned for the mark of {day} with the line now on the drum: {load}, {share} of {base}.").format(
                **words
            )
        return _("Reckoned for what the brake rendered at when tested on {day}: {load}, {share} of {base}.").format(
            **words
        )

    @cached_property
    def layers(self) -> LayersSaid | None:
        table = layer_table(self.row, load_n=self.load_n, base_n=self.base_n)
        return layers_said(self.row, table) if table else None

    @cached_property
    def worn(self) -> str:
        """The brake against what is left of a worn line; empty while nobody wrote down how much that is."""
        left, new_n = self.row.si("line_residual"), self.row.si("line_mbl") or self.base_n
        if not left:
            return ""
        found = lines.worn_line(
            load_n=self.load_n,
            sdmbl_n=self.base_n,
            residual_n=left * new_n,
            base_name=base_word(self.row.drum.vessel),
        )
        return sentence_said(found.sentence)

    @cached_property
    def wrong_way(self) -> WrongWaySaid | None:
        return wrong_way_said(self.row, load_n=self.load_n, base_n=self.base_n)


def lines_on_drum(drum: Drum, rows: Iterable[DrumParticulars], on: date) -> list[LineOnDrum]:
    """What the drum's page says of the line under each of these particulars."""
    proof, share = last_proof(drum, on), float(policy_for(drum.vessel, on).share)
    found = []
    for row in rows:
        row.drum = drum
        found.append(LineOnDrum(row, proof, share))
    return found
