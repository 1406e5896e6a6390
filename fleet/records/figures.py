"""From the rows to the calculation: every figure of one drum with one kit under one policy."""

from dataclasses import dataclass, replace
from datetime import date

from django.utils.functional import Promise
from django.utils.translation import gettext as _

from fleet.calculation import brake, gauge, units
from fleet.calculation.checks import InputError
from fleet.calculation.gauge_certificate import Correction, GaugeCertificate
from fleet.drums.models import Drum, DrumParticulars, TargetBasis
from fleet.gauges.areas import JackArea, effective_area_of
from fleet.gauges.calibration import certificate_of
from fleet.gauges.models import Jack, Kit
from fleet.vessels.models import Policy, Vessel


class FiguresMissing(ValueError):
    """What is still needed before a target can be worked out: sentences for the person who enters it."""

    def __init__(self, sentences: list[str]) -> None:
        super().__init__(" ".join(sentences))
        self.sentences = sentences


@dataclass(frozen=True)
class JackInUse:
    """One jack of the kit as it acts on this drum."""

    jack: Jack
    area: JackArea
    lever_arm_m: float
    lever_arm_shown: str


@dataclass(frozen=True)
class MarkOnGauge:
    """A division mark of the gauge and what the brake would render at there."""

    reading: float
    reading_si: float
    shown: str
    load_n: float
    share: float


@dataclass(frozen=True)
class Figures:
    """All that a page, a worksheet, a submission and a certificate show of one drum's working.

    Every reading is what the kit's gauge shows: where its certificate counts, `target` corrects it. `uncovered` says in
    a sentence why a certificate that is there does not count; readings then stand as they are, with the class's limit.
    """

    vessel: Vessel
    drum: Drum
    particulars: DrumParticulars
    kit: Kit
    policy: Policy
    target: brake.Target
    aim: brake.RenderingTarget
    stop: brake.StopReading
    jacks: tuple[JackInUse, ...]
    gauge_unit: str
    mark: MarkOnGauge
    stop_mark: MarkOnGauge
    ladder: tuple[brake.Rung, ...]
    uncovered: str = ""
    covered: tuple[float, float] | None = None
    """From which to which reading a certificate with points speaks, counted or not."""

    @property
    def certificate(self) -> GaugeCertificate | None:
        """The gauge's certificate where it counts."""
        return self.target.certificate if isinstance(self.target, brake.TargetOnGauge) else None

    @property
    def true_target(self) -> brake.Target:
        """The basis in true pressures, whatever the gauge shows."""
        return self.target.target if isinstance(self.target, brake.TargetOnGauge) else self.target

    def true_si(self, reading_si: float) -> float:
        """What a reading means; of one outside the certificate nothing better is known than itself."""
        correction = self.correction_at(reading_si)
        return reading_si if correction is None else correction.reference_pa

    def correction_at(self, reading_si: float) -> Correction | None:
        """What the certificate makes of a reading; None where it says nothing."""
        if self.certificate is None:
            return None
        try:
            return self.certificate.correction_at(reading_si)
        except brake.OutsideTable:
            return None

    @property
    def share(self) -> float:
        return float(self.policy.share)

    @property
    def band(self) -> tuple[float, float]:
        return float(self.policy.band_low), float(self.policy.band_high)

    @property
    def aim_lies_above_stop(self) -> bool:
        """True where the crew, who read division marks, would meet STOP before the target."""
        return self.aim.reading_si > self.stop_mark.reading_si

    def at(self, reading_si: float) -> brake.ReadingLoad:
        """Line load and share of the base load at a reading; OutsideTable where a table does not cover it.

        Of a reading outside the gauge's certificate nothing is known but the class: it stands uncorrected.
        """
        try:
            return brake.load_at_reading(reading_si=reading_si, sdmbl_n=self.aim.sdmbl_n, target=self.target)
        except brake.OutsideCertificate:
            return brake.load_at_reading(reading_si=reading_si, sdmbl_n=self.aim.sdmbl_n, target=self.true_target)


def figures_for(
    *, drum: Drum, particulars: DrumParticulars | None, kit: Kit, policy: Policy, on: date | None = None
) -> Figures:
    """Work everything out; raise FiguresMissing with what to enter where that is not possible.

    ``on``: the day of the test, whose calibration of the gauge counts; None counts none.
    """
    if particulars is None:
        raise FiguresMissing([_("No particulars of this drum are recorded: enter drum and line diameter first.")])
    jacks = _jacks_in_use(particulars, kit)
    try:
        target = _target(particulars, kit, jacks)
        if units.kind_of(kit.gauge.unit) != target.reading_kind:
            raise FiguresMissing([_("The kit's gauge does not fit: choose a kit whose gauge shows what is read here.")])
        certificate = certificate_of(kit.gauge.calibration_on(on)) if on else None
        # A jack calibrated as force was calibrated against its gauge's own readings.
        if certificate is None or target.basis == brake.FORCE_CALIBRATED_JACK:
            return _worked_out(drum, particulars, kit, policy, target, jacks)
        covered = certificate.rising[0].reading_pa, certificate.rising[-1].reading_pa
        try:
            shown = brake.TargetOnGauge(target=target, certificate=certificate)
            return replace(_worked_out(drum, particulars, kit, policy, shown, jacks), covered=covered)
        except brake.OutsideCertificate:
            figures = _worked_out(drum, particulars, kit, policy, target, jacks)
            return replace(figures, uncovered=_uncovered(certificate, kit.gauge.unit), covered=covered)
    except brake.OutsideTable as error:
        raise FiguresMissing(
            [
                _("The table does not reach the load that is wanted: {what}. It is not extended by guessing.").format(
                    what=error.what
                )
            ]
        ) from error
    except brake.JackMismatch as error:
        raise FiguresMissing(
            [
                _(
                    "The maker's table of this drum was drawn up for jack {serial}: use a kit with that jack, "
                    "or enter the drum's geometry."
                ).format(serial=particulars.maker_table_jack or "?")
            ]
        ) from error
    except InputError as error:
        raise FiguresMissing([_("These figures do not fit together: {why}.").format(why=error)]) from error


def _worked_out(
    drum: Drum,
    particulars: DrumParticulars,
    kit: Kit,
    policy: Policy,
    target: brake.Target,
    jacks: tuple[JackInUse, ...],
) -> Figures:
    sdmbl_n = drum.vessel.base_load.si
    share = float(policy.share)
    unit = kit.gauge.unit
    aim = brake.rendering_target(
        sdmbl_n=sdmbl_n,
        share=share,
        target=target,
        gauge_unit=unit,
        base_name=str(drum.vessel.get_base_load_kind_display()),
    )
    stop = brake.stop_reading(
        target=target,
        sdmbl_n=sdmbl_n,
        gauge_full_scale_si=kit.gauge.full_scale.si,
        ceiling_share=float(policy.ceiling),
        jack_rated_pressure_pa=min((row.jack.rated_pressure.si for row in jacks), default=None),
        lever_safe_load_n=kit.lever.safe_load.si if kit.lever.safe_load else None,
        deck_allowed_load_n=kit.footing.allowed_load.si if kit.footing and kit.footing.allowed_load else None,
        target_share=share,
    )
    ladder = brake.pressure_ladder(
        target=target, sdmbl_n=sdmbl_n, share=share, gauge_unit=unit, stop_si=stop.reading_si
    )
    division = units.from_si(kit.gauge.smallest_division.si, unit)
    stop_mark = gauge.division_at_or_below(units.from_si(stop.reading_si, unit), division)
    # On a coarse gauge the mark nearest to the target may lie beyond STOP: it is never named.
    mark = min(gauge.nearest_division(units.from_si(aim.reading_si, unit), division), stop_mark)
    return Figures(
        vessel=drum.vessel,
        drum=drum,
        particulars=particulars,
        kit=kit,
        policy=policy,
        target=target,
        aim=aim,
        stop=stop,
        jacks=jacks,
        gauge_unit=unit,
        mark=_mark_on_gauge(mark, unit, target, sdmbl_n),
        stop_mark=_mark_on_gauge(stop_mark, unit, target, sdmbl_n),
        ladder=ladder,
    )


def _uncovered(certificate: GaugeCertificate, unit: str) -> str:
    said = certificate.not_covered(unit)
    return " ".join(
        [
            _(said.template).format(**said.figures),
            _("Until then its readings stand as they are, with the largest error that its class permits."),
        ]
    )


def particulars_on(drum: Drum, on: date) -> DrumParticulars | None:
    """The particulars in force on a day, from prefetched rows where there are any."""
    rows = [row for row in drum.particulars.all() if row.valid_from <= on]
    return max(rows, key=lambda row: (row.valid_from, row.created_at), default=None)


def _jacks_in_use(particulars: DrumParticulars, kit: Kit) -> tuple[JackInUse, ...]:
    own_arm = particulars.figure("lever_arm")
    rows = []
    for row in kit.kit_jacks.all():
        arm = row.arm or (own_arm.typed if own_arm else kit.lever.arm)
        rows.append(JackInUse(row.jack, effective_area_of(row.jack), arm.si, str(arm)))
    return tuple(rows)


def _target(particulars: DrumParticulars, kit: Kit, jacks: tuple[JackInUse, ...]) -> brake.Target:
    if particulars.target_basis == TargetBasis.LOAD_CELL:
        return brake.LoadCellTarget()
    missing = _missing(particulars, jacks)
    if missing:
        raise FiguresMissing(missing)
    if particulars.target_basis == TargetBasis.MAKERS_TABLE:
        areas = [row.area.counts_m2 for row in jacks]
        return brake.MakersTableTarget(
            pressures_pa=tuple(float(row["pressure"]["si"]) for row in particulars.maker_table),
            loads_n=tuple(float(row["load"]["si"]) for row in particulars.maker_table),
            table_jack=particulars.maker_table_jack,
            jack=jacks[0].jack.serial_number if len(jacks) == 1 else "",
            total_area_m2=areas[0],
        )
    drum_diameter_m = particulars.si("drum_diameter") or 0.0
    line_diameter_m = particulars.si("line_diameter") or 0.0
    layer, nesting = particulars.reference_layer, particulars.nesting
    if particulars.target_basis == TargetBasis.FORCE_CALIBRATED_JACK:
        table = jacks[0].jack.force_table
        return brake.ForceCalibratedTarget(
            readings_pa=tuple(float(row["reading"]["si"]) for row in table),
            forces_n=tuple(float(row["force"]["si"]) for row in table),
            lever_arm_m=jacks[0].lever_arm_m,
            drum_diameter_m=drum_diameter_m,
            line_diameter_m=line_diameter_m,
            layer=layer,
            nesting=nesting,
        )
    arms = tuple(brake.JackArm(area_m2=row.area.counts_m2 or 0.0, lever_arm_m=row.lever_arm_m) for row in jacks)
    return brake.GeometryTarget(
        arms=arms,
        drum_diameter_m=drum_diameter_m,
        line_diameter_m=line_diameter_m,
        layer=layer,
        nesting=nesting,
    )


def _missing(particulars: DrumParticulars, jacks: tuple[JackInUse, ...]) -> list[str]:
    sentences: list[str | Promise] = []
    by_shape = particulars.target_basis in {TargetBasis.GEOMETRY, TargetBasis.FORCE_CALIBRATED_JACK}
    if not jacks:
        sentences.append(_("The kit has no jack: add one to the kit."))
    if by_shape and particulars.si("drum_diameter") is None:
        sentences.append(_("The drum diameter is missing: enter it in the drum's particulars."))
    if by_shape and particulars.si("line_diameter") is None:
        sentences.append(_("The line diameter is missing: enter it in the drum's particulars."))
    if particulars.target_basis == TargetBasis.GEOMETRY:
        sentences.extend(
            _("The effective piston area of jack {jack} is not known: enter the maker's figure.").format(jack=row.jack)
            for row in jacks
            if row.area.counts_m2 is None
        )
    if particulars.target_basis == TargetBasis.MAKERS_TABLE and not particulars.maker_table:
        sentences.append(_("The maker's table is empty: enter its rows in the drum's particulars."))
    one_calibrated = len(jacks) == 1 and bool(jacks[0].jack.force_table)
    if particulars.target_basis == TargetBasis.FORCE_CALIBRATED_JACK and not one_calibrated:
        sentences.append(_("The kit needs exactly one jack, with its force calibration entered."))
    return [str(sentence) for sentence in sentences]


def _mark_on_gauge(reading: float, unit: str, target: brake.Target, sdmbl_n: float) -> MarkOnGauge:
    reading_si = units.to_si(reading, unit)
    found = brake.load_at_reading(reading_si=reading_si, sdmbl_n=sdmbl_n, target=target)
    return MarkOnGauge(reading, reading_si, f"{reading:g} {units.label(unit)}", found.load_n, found.share)
