"""Rules on jack and gauge: an area measured at the wrong place, a gauge out of date, changed or out of its scale."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from itertools import zip_longest

from fleet.calculation.checks import InputError
from fleet.calculation.geometry import effective_area
from fleet.calculation.plausibility.case import Case, near, shown_date
from fleet.calculation.plausibility.facts import JackFacts
from fleet.calculation.plausibility.finding import Seen, gettext_noop, rule
from fleet.calculation.units import display, from_si, label

CALIBRATION_INTERVAL = timedelta(days=366)
"""Used only where the gauge carries no due date: 12 months, common practice, no published source."""


def _compared_areas(case: Case) -> Iterator[tuple[float, float]]:
    """Area in use and the area to be expected of each jack: the maker's, else rated force over rated pressure."""
    for jack in case.drum.jacks:
        if not jack.area_m2:
            continue
        if jack.stated_area_m2:
            yield jack.area_m2, jack.stated_area_m2
        elif jack.nominal_capacity_n and jack.rated_pressure_pa:
            yield jack.area_m2, jack.nominal_capacity_n / jack.rated_pressure_pa


def _seen_areas(area_m2: float, expected_m2: float) -> Seen:
    return Seen({"area": display(area_m2, "cm2"), "expected": display(expected_m2, "cm2")})


@rule(
    "ring_for_bore",
    level="ask",
    field="piston_area",
    particulars=True,
    title=gettext_noop("Piston area too small for the jack"),
    template=gettext_noop(
        "An effective piston area of {area} is too small for this jack; about {expected} was expected. Probably the "
        "ring was taken where the whole bore pushes, or the plunger was measured for the bore. The brake would be set "
        "too tight. Use the figure of the maker or the jack's certificate."
    ),
)
def ring_for_bore(case: Case) -> Seen | None:
    return next(
        (_seen_areas(area, expected) for area, expected in _compared_areas(case) if area < 0.85 * expected), None
    )


@rule(
    "body_for_bore",
    level="ask",
    field="piston_area",
    particulars=True,
    title=gettext_noop("Piston area too large for the jack"),
    template=gettext_noop(
        "An effective piston area of {area} is too large for this jack; about {expected} was expected. Probably its "
        "base, cap or body was measured, or the full bore of a jack that works on the ring. The brake would be set too "
        "low. Use the figure of the maker or the jack's certificate."
    ),
)
def body_for_bore(case: Case) -> Seen | None:
    return next(
        (_seen_areas(area, expected) for area, expected in _compared_areas(case) if area > 1.15 * expected), None
    )


@rule(
    "area_not_as_stated",
    level="ask",
    field="piston_area",
    particulars=True,
    general=True,
    title=gettext_noop("Piston area differs from the maker's"),
    template=gettext_noop(
        "The effective piston area in use is {area}; the maker states {expected}. The maker's figure goes first unless "
        "the piston was changed. Use it, or record the change."
    ),
)
def area_not_as_stated(case: Case) -> Seen | None:
    if case.happened_since(["piston_renewed"]):
        return None
    for jack in case.drum.jacks:
        if jack.area_m2 and jack.stated_area_m2 and not near(jack.area_m2, jack.stated_area_m2, 0.02):
            return _seen_areas(jack.area_m2, jack.stated_area_m2)
    return None


@rule(
    "area_not_by_type",
    level="ask",
    field="piston_area",
    particulars=True,
    general=True,
    title=gettext_noop("Piston area does not follow from the jack's measures"),
    template=gettext_noop(
        "The measures and type of this jack give an effective piston area of {expected}, not {area}. Check the type "
        "(a plain jack pushes on its bore, a pull or hollow jack on the ring, a ram on its plunger) and the measures."
    ),
)
def area_not_by_type(case: Case) -> Seen | None:
    for jack in case.drum.jacks:
        measured = _area_by_type(jack)
        if jack.area_m2 and measured and not near(jack.area_m2, measured, 0.04):
            return _seen_areas(jack.area_m2, measured)
    return None


def _area_by_type(jack: JackFacts) -> float | None:
    """Area from the measures that this type of jack pushes on; None while one is missing or impossible."""
    if jack.kind is None:
        return None
    wanted = {"plain": ("bore_m",), "ram": ("plunger_m",)}.get(jack.kind, ("bore_m", "inner_m"))
    measures = {name: getattr(jack, name) for name in wanted}
    try:
        return effective_area(jack_type=jack.kind, **measures)
    except InputError:
        return None


@rule(
    "area_changed",
    level="ask",
    field="piston_area",
    general=True,
    title=gettext_noop("Piston area differs from the last test"),
    template=gettext_noop(
        "The effective piston area is {area}; with the same jack it was {expected} at the last test. Check which is "
        "right, or record that the piston was renewed."
    ),
)
def area_changed(case: Case) -> Seen | None:
    area, last = case.area_m2, case.last
    if not area or not last or not last.area_m2 or case.happened_since(["piston_renewed"]):
        return None
    if not last.jack_ids or tuple(jack.id for jack in case.drum.jacks) != last.jack_ids:
        return None
    return None if near(area, last.area_m2, 0.01) else _seen_areas(area, last.area_m2)


@rule(
    "gauge_out_of_date",
    level="ask",
    field="gauge",
    title=gettext_noop("Gauge out of calibration date"),
    template=gettext_noop(
        "The gauge's calibration ran out on {due}, before the test on {tested_on}. Have it calibrated now, and repeat "
        "the test if it proves wrong; or read with another gauge."
    ),
)
def gauge_out_of_date(case: Case) -> Seen | None:
    gauge, day = case.test.gauge, case.test.tested_on
    if gauge is None or day is None:
        return None
    due = gauge.calibration_due or (gauge.calibrated_on + CALIBRATION_INTERVAL if gauge.calibrated_on else None)
    if due is None or day <= due:
        return None
    return Seen({"due": shown_date(due), "tested_on": shown_date(day)})


@rule(
    "gauge_never_calibrated",
    level="ask",
    field="gauge",
    title=gettext_noop("No calibration on record"),
    template=gettext_noop(
        "No calibration of gauge {gauge} is on record, so nobody can say what its readings are worth. Enter its "
        "calibration certificate; if there is none, have it calibrated, or read with another gauge."
    ),
)
def gauge_never_calibrated(case: Case) -> Seen | None:
    gauge = case.test.gauge
    return Seen({"gauge": gauge.id}) if gauge and gauge.never_calibrated and case.test.tested_on else None


@rule(
    "gauge_calibrated_after_test",
    level="ask",
    field="gauge",
    title=gettext_noop("Gauge calibrated only after the test"),
    template=gettext_noop(
        "The calibration shown for this gauge, of {calibrated_on}, is later than the test on {tested_on}. Enter the "
        "calibration that was in force on the day, or correct the date."
    ),
)
def gauge_calibrated_after_test(case: Case) -> Seen | None:
    gauge, day = case.test.gauge, case.test.tested_on
    if gauge is None or day is None or gauge.calibrated_on is None or gauge.calibrated_on <= day:
        return None
    return Seen({"calibrated_on": shown_date(gauge.calibrated_on), "tested_on": shown_date(day)})


@rule(
    "gauge_exchanged",
    level="note",
    field="gauge",
    title=gettext_noop("Another gauge than last time"),
    template=gettext_noop(
        "This test was read on gauge {gauge}, the last one on gauge {before}. Make sure that the gauge entered is the "
        "one that was on the jack."
    ),
)
def gauge_exchanged(case: Case) -> Seen | None:
    gauge, last = case.test.gauge, case.last
    if gauge is None or last is None or last.gauge_id is None or last.gauge_id == gauge.id:
        return None
    if case.happened_since(["gauge_changed"]):
        return None
    return Seen({"gauge": gauge.id, "before": last.gauge_id})


@rule(
    "gauge_unit_changed",
    level="ask",
    field="gauge",
    title=gettext_noop("The same gauge now has another unit"),
    template=gettext_noop(
        "Gauge {gauge} was recorded in {before} at the last test and in {unit} now. A dial does not change its unit: "
        "between bar and kgf/cm² every load would be 2 % off unseen. Read the unit on the dial and correct the gauge's "
        "record."
    ),
)
def gauge_unit_changed(case: Case) -> Seen | None:
    gauge, last = case.test.gauge, case.last
    if gauge is None or last is None or last.gauge_unit in (None, gauge.unit) or last.gauge_id != gauge.id:
        return None
    return Seen({"gauge": gauge.id, "unit": label(gauge.unit), "before": label(str(last.gauge_unit))})


@rule(
    "same_figures_other_unit",
    level="note",
    field="gauge",
    title=gettext_noop("The same figures in another unit"),
    template=gettext_noop(
        "The gauge is recorded in {unit}, the last one in {before}, yet both showed the same figures. Make sure of the "
        "unit on this dial."
    ),
)
def same_figures_other_unit(case: Case) -> Seen | None:
    gauge, last = case.test.gauge, case.last
    if gauge is None or last is None or last.gauge_unit in (None, gauge.unit) or last.gauge_id == gauge.id:
        return None
    before = [reading.reading_pa for reading in last.readings if reading.phase == "verification" and reading.reading_pa]
    pairs = list(zip_longest(case.pressures("verification"), before))
    if not pairs or any(now is None or then is None for now, then in pairs):
        return None
    same = all(
        near(from_si(now, gauge.unit), from_si(then, str(last.gauge_unit)), 1e-6) for now, then in pairs if now and then
    )
    return Seen({"unit": label(gauge.unit), "before": label(str(last.gauge_unit))}) if same else None


def _part_of_scale(case: Case) -> float | None:
    gauge = case.test.gauge
    reading = case.verification_pa or case.target_pa
    return reading / gauge.full_scale_pa if gauge and gauge.full_scale_pa and reading else None


@rule(
    "gauge_upper_part",
    level="note",
    field="gauge",
    title=gettext_noop("Reading in the upper quarter of the scale"),
    template=gettext_noop("The brake slipped at {part} of the gauge's scale. Steady pressure is best kept below 75 %."),
)
def gauge_upper_part(case: Case) -> Seen | None:
    part = _part_of_scale(case)
    return Seen({"part": display(part, "percent")}) if part is not None and 0.75 < part <= 1 else None


@rule(
    "gauge_lower_part",
    level="note",
    field="gauge",
    title=gettext_noop("Reading in the lower quarter of the scale"),
    template=gettext_noop(
        "The brake slipped at {part} of the gauge's scale. Below 25 % a gauge says little: one with a smaller full "
        "scale would decide better."
    ),
)
def gauge_lower_part(case: Case) -> Seen | None:
    part = _part_of_scale(case)
    return Seen({"part": display(part, "percent")}) if part is not None and 0.1 <= part < 0.25 else None


@rule(
    "gauge_bottom_of_scale",
    level="ask",
    field="gauge",
    title=gettext_noop("Reading at the bottom of the scale"),
    template=gettext_noop(
        "The brake slipped at only {part} of the gauge's scale, where its error may be as large as the whole band. "
        "Test again with a gauge of a smaller full scale."
    ),
)
def gauge_bottom_of_scale(case: Case) -> Seen | None:
    part = _part_of_scale(case)
    return Seen({"part": display(part, "percent")}) if part is not None and part < 0.1 else None


@rule(
    "gauge_coarser_than_band",
    level="note",
    field="gauge",
    title=gettext_noop("Gauge too coarse for the band"),
    template=gettext_noop(
        "A gauge of class {accuracy} ending at {full_scale} may be {error} out, which is {points} of the base load: "
        "more than half of what the band allows to either side. A finer gauge would decide better."
    ),
)
def gauge_coarser_than_band(case: Case) -> Seen | None:
    gauge, low, high = case.test.gauge, case.test.band_low, case.test.band_high
    if gauge is None or not gauge.accuracy_class or not gauge.full_scale_pa or low is None or high is None:
        return None
    if gauge.certificate and gauge.certificate.states_uncertainty:
        return None  # its own certificate takes the place of the class
    # Class per EN 837-1: the largest permissible error in % of the span.
    error_pa = gauge.accuracy_class / 100 * gauge.full_scale_pa
    points = case.share_at(error_pa)
    if points is None or points <= (high - low) / 4:
        return None
    return Seen(
        {
            "accuracy": f"{gauge.accuracy_class:g}",
            "full_scale": case.shown_pa(gauge.full_scale_pa),
            "error": case.shown_pa(error_pa),
            "points": display(points, "percent"),
        }
    )


@rule(
    "reading_above_full_scale",
    level="stop",
    field="reading",
    title=gettext_noop("Reading above the gauge's full scale"),
    template=gettext_noop(
        "A reading of {reading} cannot be seen on a gauge that ends at {full_scale}. Check the figure, the decimal "
        "comma, and which gauge was on the jack."
    ),
)
def reading_above_full_scale(case: Case) -> Seen | None:
    gauge = case.test.gauge
    limit = gauge.full_scale_pa if gauge else None
    return _above(case, limit, "full_scale")


@rule(
    "reading_above_jack_rating",
    level="stop",
    field="reading",
    title=gettext_noop("Reading above the jack's rated pressure"),
    template=gettext_noop(
        "A reading of {reading} is above the jack's rated pressure ({rated}). If it is true the jack, hose and gauge "
        "are to be taken out of use and inspected; if not, correct the figure."
    ),
)
def reading_above_jack_rating(case: Case) -> Seen | None:
    rated = [jack.rated_pressure_pa for jack in case.drum.jacks if jack.rated_pressure_pa]
    return _above(case, min(rated), "rated") if rated and case.test.target_basis != "load_cell" else None


def _above(case: Case, limit_pa: float | None, name: str) -> Seen | None:
    rows = [(row, reading.reading_pa) for row, reading in case.rows() if limit_pa and reading.reading_pa]
    over = [(row, pressure) for row, pressure in rows if limit_pa and pressure and pressure > limit_pa * (1 + 1e-9)]
    if not over or limit_pa is None:
        return None
    worst = max(pressure for _, pressure in over if pressure)
    return Seen({"reading": case.shown_pa(worst), name: case.shown_pa(limit_pa)}, tuple(row for row, _ in over))
