"""What a person needs before a drum is tested: every figure with its origin, the working, the limits, the gauge."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import Any, cast

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

from fleet.calculation import brake, units
from fleet.calculation.plausibility import Finding, check_particulars
from fleet.core.findings import said
from fleet.drums.checks import drum_facts as sister_facts
from fleet.drums.checks import sister_rows
from fleet.drums.line_on_drum import WrongWaySaid, base_word
from fleet.drums.models import (
    BRAKE_WORK,
    SETTING_UNITS,
    BrakeKind,
    Drum,
    DrumKind,
    DrumParticulars,
)
from fleet.gauges.models import Kit
from fleet.records.answers import stop_words
from fleet.records.draft import ParsedDraft
from fleet.records.due import DrumState, drum_states
from fleet.records.figures import Figures, FiguresMissing, figures_for, particulars_on
from fleet.records.findings import drum_facts, gauge_facts
from fleet.records.gauge_fitness import GaugeFitness, gauge_fitness
from fleet.records.layers import Layers, layers_of, wrong_way_of
from fleet.records.models import Round
from fleet.vessels.models import Policy, policy_for

STOP_WORDS: dict[str, str | Promise] = {
    "operators_ceiling": lazy("the operator's ceiling"),
    "brake_design_load": lazy("80 % of the base load, the brake's design holding load"),
    "jack_rating": lazy("80 % of the jack's rated pressure"),
    "lever_safe_load": lazy("the lever's safe load"),
    "deck_allowed_load": lazy("the load allowed on the footing"),
    "gauge_usable_part": lazy("the usable part of the gauge, 75 % of full scale"),
    "gauge_full_scale": lazy("the end of the gauge's scale"),
    "end_of_table": lazy("the end of the table"),
    "end_of_certificate": lazy("the end of the gauge's calibration certificate"),
}
REASON_WORDS: dict[str, str | Promise] = {
    "not_given": lazy("not recorded, takes no part"),
    "jack_force_unknown": lazy("the jack's force is not known here, takes no part"),
    "above_table": lazy("beyond the end of the table or of the certificate, which is a limit itself"),
    "not_for_load_cell": lazy("does not apply to a load cell"),
}


@dataclass(frozen=True)
class StopRow:
    """One limit on the reading; the lowest one sets STOP."""

    label: str | Promise
    shown: str
    sets: bool
    reason: str | Promise


@dataclass(frozen=True)
class ForceRow:
    """What a part of the kit carries at the target and at STOP, against what it may carry."""

    label: str
    at_target: str
    at_stop: str
    limit: str
    verdict: str
    within: bool


@dataclass(frozen=True)
class LadderRow:
    reading: str
    load_kn: str
    load_tf: str
    share: str
    in_band: bool


@dataclass(frozen=True)
class Preparation:
    """One drum with one kit on one day; `figures` is None while `missing` says what is still needed."""

    drum: Drum
    particulars: DrumParticulars | None
    kit: Kit | None
    round: Round | None
    policy: Policy
    on: date
    figures: Figures | None
    missing: tuple[str, ...]
    state: DrumState

    @property
    def base_load_word(self) -> str:
        """What a share is a share of: SDMBL only where the document calls it so."""
        return base_word(self.drum.vessel)

    @property
    def unit_label(self) -> str:
        return units.label(self.kit.gauge.unit) if self.kit else ""

    @property
    def target_shown(self) -> str:
        return units.display(self.figures.aim.reading_si, self.figures.gauge_unit) if self.figures else ""

    @property
    def stop_shown(self) -> str:
        """The exact STOP reading; what one reads on the dial is the mark at or below it."""
        return units.display(self.figures.stop.reading_si, self.figures.gauge_unit) if self.figures else ""

    @property
    def stop_sentence(self) -> str:
        return stop_words(self.figures) if self.figures else ""

    @property
    def stop_word(self) -> str | Promise:
        return STOP_WORDS[self.figures.stop.limit] if self.figures else ""

    @property
    def target_above_stop(self) -> bool:
        return bool(self.figures and self.figures.aim_lies_above_stop)

    @property
    def setting_heading(self) -> str:
        """The setting with its unit where its kind has one only; else the unit is written with the figure."""
        offered = SETTING_UNITS[self.drum.setting_kind]
        unit = units.label(offered[0]) if len(offered) == 1 else ""
        return f"{self.drum.get_setting_kind_display()}, {unit}" if unit else str(self.drum.get_setting_kind_display())

    @property
    def is_spring_applied(self) -> bool:
        return self.drum.brake_kind == BrakeKind.SPRING

    @property
    def is_undivided(self) -> bool:
        return self.drum.kind == DrumKind.UNDIVIDED

    @cached_property
    def start_slack(self) -> Any:
        """The work on this brake since its last proven test, after which no as-found reading may be taken."""
        event = self.state.event
        if event and event.kind in BRAKE_WORK:
            return event
        rows = [row for row in self.drum.events.all() if row.kind in BRAKE_WORK and row.happened_on <= self.on]
        return rows[0] if rows and self.state.proven is None else None

    @cached_property
    def findings(self) -> list[tuple[Finding, str]]:
        """What the catalogue notices in these figures, worst first, each with its sentence."""
        if self.figures is None:
            return []
        found = check_particulars(
            drum_facts(self.figures),
            gauge=gauge_facts(self.figures, ParsedDraft({"tested_on": self.on})),
            sister_drums=[sister_facts(row) for row in sister_rows(self.drum, self.on)],
            target_basis=cast(Any, self.figures.target.basis),
            share=self.figures.share,
        )
        return [(finding, said(finding)) for finding in found]

    @cached_property
    def stop_rows(self) -> list[StopRow]:
        if self.figures is None:
            return []
        figures, stop = self.figures, self.figures.stop
        return [
            StopRow(
                STOP_WORDS[row.limit],
                "" if row.reading_si is None else units.display(row.reading_si, figures.gauge_unit),
                row.limit == stop.limit,
                REASON_WORDS[row.reason] if row.reason else "",
            )
            for row in stop.candidates
        ]

    @cached_property
    def force_rows(self) -> list[ForceRow]:
        return list(_force_rows(self.figures)) if self.figures else []

    @cached_property
    def ladder(self) -> list[LadderRow]:
        if self.figures is None:
            return []
        low, high = self.figures.band
        return [
            LadderRow(
                f"{rung.reading:g}",
                units.digits(rung.load_n, "kN"),
                units.digits(rung.load_n, "tf"),
                units.digits(rung.share, "percent"),
                low <= rung.share <= high,
            )
            for rung in self.figures.ladder
        ]

    @cached_property
    def layers(self) -> Layers | None:
        """What the brake holds on every layer of an undivided drum once it is set; None for a split drum."""
        return layers_of(self.figures) if self.figures else None

    @cached_property
    def wrong_way(self) -> WrongWaySaid | None:
        """The estimate for the wrong reeling direction; None for a brake that is no band brake."""
        return wrong_way_of(self.figures) if self.figures else None

    @cached_property
    def gauge_fitness(self) -> GaugeFitness | None:
        return gauge_fitness(self.figures, self.on) if self.figures else None


def prepare_drum(*, drum: Drum, kit: Kit | None, round: Round | None, on: date) -> Preparation:
    """Gather everything; with no kit, or with figures lacking, say what is missing instead."""
    policy = policy_for(drum.vessel, on)
    particulars = particulars_on(drum, on)
    figures: Figures | None = None
    missing: tuple[str, ...] = ()
    if kit is None:
        missing = (_("No kit is chosen: choose the gauge, jack and lever that are used together."),)
    else:
        try:
            figures = figures_for(drum=drum, particulars=particulars, kit=kit, policy=policy, on=on)
        except FiguresMissing as error:
            missing = tuple(error.sentences)
    if figures and len({row.jack.acts for row in figures.jacks}) > 1:
        # Kits put together before this was refused: the drawing of the jack's side can show one way only.
        figures, missing = None, (_("One jack of this kit pushes and the other pulls: use a kit whose jacks agree."),)
    state = drum_states([drum], on)[drum.pk]
    return Preparation(drum, particulars, kit, round, policy, on, figures, missing, state)


def _force_rows(figures: Figures) -> Iterator[ForceRow]:
    unit = figures.gauge_unit
    at_stop = figures.at(figures.stop.reading_si)
    if figures.target.reading_kind == "pressure":
        for row in figures.jacks:
            rated = row.jack.rated_pressure
            yield _force_row(
                _("pressure, against the rated pressure of jack {jack}").format(jack=row.jack),
                figures.true_si(figures.aim.reading_si),
                figures.true_si(figures.stop.reading_si),
                rated.si,
                unit,
                str(rated),
            )
    forces, stop_forces = figures.aim.jack_forces_n, at_stop.jack_forces_n
    if forces and stop_forces and figures.target.basis != brake.FORCE_CALIBRATED_JACK:
        for row, force, most in zip(figures.jacks, forces, stop_forces, strict=False):
            if row.area.counts_m2:
                rated_n = brake.jack_force(pressure_pa=row.jack.rated_pressure.si, area_m2=row.area.counts_m2)
                yield _force_row(
                    _("force of jack {jack}, against its rated force").format(jack=row.jack), force, most, rated_n, "kN"
                )
    total, total_stop = figures.aim.deck_reaction_n, at_stop.deck_reaction_n
    lever, footing = figures.kit.lever, figures.kit.footing
    if total is None or total_stop is None:
        return
    if lever.safe_load:
        name = _("force on lever {lever}, against its safe load").format(lever=lever)
        yield _force_row(name, total, total_stop, lever.safe_load.si, "kN", str(lever.safe_load))
    if footing and footing.allowed_load:
        name = _("force on footing {footing}, against the load allowed there").format(footing=footing)
        yield _force_row(name, total, total_stop, footing.allowed_load.si, "kN", str(footing.allowed_load))


def _force_row(
    label: str, target_si: float, stop_si: float, limit_si: float, unit: str, as_typed: str = ""
) -> ForceRow:
    share = units.display(target_si / limit_si, "percent")
    within = target_si <= limit_si
    verdict = _("{share} of it at the target").format(share=share)
    return ForceRow(
        label,
        units.display(target_si, unit),
        units.display(stop_si, unit),
        as_typed or units.display(limit_si, unit),
        verdict if within else _("above the limit: {share} of it").format(share=share),
        within,
    )
