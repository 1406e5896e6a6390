"""What an instrument's figures cannot be, and what is asked about: one place for the forms and for the services."""

from collections import defaultdict
from collections.abc import Collection, Sequence
from typing import Any, cast

from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from fleet.calculation import units
from fleet.calculation.gauge_certificate import FALLING, RISING
from fleet.calculation.plausibility import (
    DrumFacts,
    Finding,
    GaugeFacts,
    JackFacts,
    check_particulars,
    outside_hard,
)
from fleet.core.findings import said
from fleet.core.typed import Typed
from fleet.gauges.areas import DIAMETERS, effective_area_of
from fleet.gauges.models import AreaCounts, Gauge, Jack, JackKind, Lever
from fleet.gauges.points import ForceRow, Point, first_not_rising

Problems = dict[str, list[ValidationError]]

NOT_ABOVE_ZERO = _("Type a figure above zero.")
WRONG_KIND = _("This unit does not measure this figure. Choose one of: %(units)s.")
NOT_THE_GAUGES_UNIT = _("Full scale and smallest division are in the unit on the gauge's own dial.")
DIVISION_TOO_LARGE = _(
    "The smallest division must be at most a tenth of the full scale. Count the marks between two figures on the dial."
)
NOT_RISING = _("Row %(row)s: both figures must be above those of the row before it.")
TWO_ROWS = _("Type at least two rows, or leave all rows empty.")
POINT_NOT_IN_UNIT = _("The points are in the gauge's own unit.")
POINT_ABOVE_SCALE = _("Row %(row)s: the reading is above the gauge's full scale.")
RISING_NEEDED = _("Type the points taken with rising pressure too: a test is read while the pressure rises.")
DIRECTION_UNKNOWN = _("A point is taken with rising or with falling pressure.")
BELOW_ZERO = _("Row %(row)s: a figure cannot be below zero.")
U_NEEDS_K = _("Type the coverage factor k that belongs to the uncertainties; certificates usually say k = 2.")
K_RANGE = _("A coverage factor lies between 1 and 4.")
DIAMETER_NEEDED = _("This type of jack works on this diameter: type it, or leave all diameters empty.")
DIAMETER_NOT_HERE = _("This type of jack does not work on this diameter. Leave it empty, or choose another type.")
RING_ORDER = _("The rod or hole must be smaller than the bore.")
AREA_NEEDED = _(
    "Type the effective piston area from the maker's plate or the jack's certificate, or the diameters it follows from."
)
MEASURED_NEEDED = _("Type the measured diameters: the area they give is the one that is to count.")
AREA_DOCUMENT_NEEDED = _("Name the plate, manual or certificate that states this area.")
FORCE_DOCUMENT_NEEDED = _("Name the certificate of the force calibration.")

DIAMETER_FIELDS = ("bore", "rod_or_hole", "plunger")
FORCE_UNITS_FOR_PEOPLE = ("tf", "kN", "kgf", "lbf")


def _wrong_kind(value: Typed | None, kind: str) -> ValidationError | None:
    if value is None or value.unit in units.KINDS[kind]:
        return None
    names = ", ".join(units.label(code) for code in units.KINDS[kind])
    return ValidationError(WRONG_KIND, code="unit", params={"units": names})


def figure_problem(value: Typed | None, kind: str, limits: str | None = None) -> ValidationError | None:
    """What is wrong with one figure: its kind of unit, its sign, its hard range."""
    wrong = _wrong_kind(value, kind)
    if wrong or value is None:
        return wrong
    if value.si <= 0:
        return ValidationError(NOT_ABOVE_ZERO, code="above_zero")
    refused = outside_hard(limits, value.si) if limits else None
    return ValidationError(said(refused), code="hard_range") if refused else None


def gauge_problems(gauge: Gauge) -> Problems:
    """What is refused in a gauge's figures."""
    problems: Problems = defaultdict(list)
    if gauge.unit not in dict(Gauge._meta.get_field("unit").flatchoices):
        return problems  # the model's own words
    kind = units.kind_of(gauge.unit)
    for name in ("full_scale", "smallest_division"):
        value: Typed | None = getattr(gauge, name)
        limits = "gauge_full_scale" if name == "full_scale" and kind == "pressure" else None
        problem = figure_problem(value, kind, limits)
        if value is not None and value.unit != gauge.unit:
            problem = ValidationError(NOT_THE_GAUGES_UNIT, code="unit")
        if problem:
            problems[name].append(problem)
    full, division = gauge.full_scale, gauge.smallest_division
    if not problems and full and division and division.si > full.si / 10:
        problems["smallest_division"].append(ValidationError(DIVISION_TOO_LARGE, code="order"))
    return problems


def gauge_findings(gauge: Gauge) -> list[Finding]:
    """What the catalogue says of a gauge alone."""
    if gauge.unit not in units.KINDS["pressure"]:
        return []
    facts = GaugeFacts(
        id=str(gauge.pk),
        unit=gauge.unit,
        full_scale_pa=gauge.full_scale.si,
        division_pa=gauge.smallest_division.si,
    )
    return [found for found in check_particulars(DrumFacts(id=""), facts) if found.field == "gauge"]


def points_problem(gauge: Gauge, points: Sequence[Point]) -> ValidationError | None:
    """What is wrong with the points of a calibration as a whole."""
    if not points:
        return None
    if any(
        part is not None and part.unit != gauge.unit for row in points for part in (row.reading, row.reference, row.U)
    ):
        return ValidationError(POINT_NOT_IN_UNIT, code="unit")
    for number, row in enumerate(points, start=1):
        if row.reading.si < 0 or row.reference.si < 0 or (row.U is not None and row.U.si < 0):
            return ValidationError(BELOW_ZERO, code="below_zero", params={"row": number})
        if row.reading.si > gauge.full_scale.si * (1 + 1e-9):
            return ValidationError(POINT_ABOVE_SCALE, code="scale", params={"row": number})
        if row.U is not None and row.k is None:
            return ValidationError(U_NEEDS_K, code="k")
        if row.k is not None and not 1 <= row.k <= 4:
            return ValidationError(K_RANGE, code="k")
    rising, falling = (
        [(row.reading.si, row.reference.si) for row in points if row.direction == direction]
        for direction in (RISING, FALLING)
    )
    if len(rising) + len(falling) < len(points):
        return ValidationError(DIRECTION_UNKNOWN, code="direction")
    if not rising:
        return ValidationError(RISING_NEEDED, code="rising_needed")
    return rising_problem(rising) or (rising_problem(falling) if falling else None)


def rising_problem(rows: Sequence[tuple[float, float]]) -> ValidationError | None:
    """Two rows at least, and both columns rise."""
    if len(rows) < 2:
        return ValidationError(TWO_ROWS, code="two_rows")
    number = first_not_rising(rows)
    return ValidationError(NOT_RISING, code="rising", params={"row": number}) if number else None


def jack_problems(jack: Jack) -> Problems:
    """What is refused in a jack's figures."""
    problems: Problems = defaultdict(list)
    for name in DIAMETER_FIELDS:
        _note(problems, name, figure_problem(getattr(jack, name), "length"))
    _note(problems, "stated_area", figure_problem(jack.stated_area, "area", "piston_area"))
    _note(problems, "nominal_capacity", figure_problem(jack.nominal_capacity, "force"))
    _note(problems, "rated_pressure", figure_problem(jack.rated_pressure, "pressure"))
    if jack.kind in JackKind.values:
        _diameter_problems(jack, problems)
    if jack.stated_area and not jack.stated_area_document.strip():
        problems["stated_area_document"].append(ValidationError(AREA_DOCUMENT_NEEDED, code="required"))
    if jack.force_table:
        rows = [ForceRow.from_dict(row) for row in jack.force_table]
        _note(problems, "force_table", _force_problem(rows))
        if not jack.force_table_document.strip():
            problems["force_table_document"].append(ValidationError(FORCE_DOCUMENT_NEEDED, code="required"))
    if not problems:
        _area_problems(jack, problems)
    return problems


def _note(problems: Problems, name: str, problem: ValidationError | None) -> None:
    if problem is not None:
        problems[name].append(problem)


def _diameter_problems(jack: Jack, problems: Problems) -> None:
    wanted = DIAMETERS[jack.kind]
    given = [name for name in DIAMETER_FIELDS if getattr(jack, name) is not None]
    for name in DIAMETER_FIELDS:
        if name in given and name not in wanted:
            problems[name].append(ValidationError(DIAMETER_NOT_HERE, code="not_here"))
        elif name in wanted and name not in given and set(given) & set(wanted):
            problems[name].append(ValidationError(DIAMETER_NEEDED, code="required"))
    if jack.bore and jack.rod_or_hole and "rod_or_hole" in wanted and jack.rod_or_hole.si >= jack.bore.si:
        problems["rod_or_hole"].append(ValidationError(RING_ORDER, code="order"))


def _area_problems(jack: Jack, problems: Problems) -> None:
    area = effective_area_of(jack)
    if jack.area_counts == AreaCounts.MEASURED and area.measured_m2 is None:
        problems["area_counts"].append(ValidationError(MEASURED_NEEDED, code="required"))
    elif area.counts_m2 is None and not jack.force_table:
        problems["stated_area"].append(ValidationError(AREA_NEEDED, code="required"))
    elif area.measured_m2 is not None and (refused := outside_hard("piston_area", area.measured_m2)):
        problems[DIAMETERS[jack.kind][0]].append(ValidationError(said(refused), code="hard_range"))


def _force_problem(rows: Sequence[ForceRow]) -> ValidationError | None:
    for number, row in enumerate(rows, start=1):
        wrong = _wrong_kind(row.reading, "pressure") or _wrong_kind(row.force, "force")
        if wrong:
            return wrong
        if row.reading.si < 0 or row.force.si < 0:
            return ValidationError(BELOW_ZERO, code="below_zero", params={"row": number})
    return rising_problem([(row.reading.si, row.force.si) for row in rows])


def jack_findings(jack: Jack) -> list[Finding]:
    """What the catalogue says of a jack: its area beside its capacity and rating, and beside the maker's figure."""
    area = effective_area_of(jack)
    if area.counts_m2 is None:
        return []
    by_rating = JackFacts(
        kind=cast(Any, jack.kind),
        area_m2=area.counts_m2,
        bore_m=jack.bore.si if jack.bore else None,
        inner_m=jack.rod_or_hole.si if jack.rod_or_hole else None,
        plunger_m=jack.plunger.si if jack.plunger else None,
        nominal_capacity_n=jack.nominal_capacity.si if jack.nominal_capacity else None,
        rated_pressure_pa=jack.rated_pressure.si if jack.rated_pressure else None,
    )
    beside_stated = JackFacts(area_m2=area.counts_m2, stated_area_m2=area.stated_m2)
    found = check_particulars(DrumFacts(id="", jacks=(by_rating, beside_stated)))
    return [finding for finding in found if finding.field == "piston_area"]


def lever_problems(lever: Lever) -> Problems:
    """What is refused in a lever's figures."""
    problems: Problems = defaultdict(list)
    _note(problems, "arm", figure_problem(lever.arm, "length", "lever_arm"))
    _note(problems, "weight", figure_problem(lever.weight, "force"))
    _note(problems, "safe_load", figure_problem(lever.safe_load, "force"))
    return problems


def lever_findings(lever: Lever) -> list[Finding]:
    """What the catalogue says of a lever's arm alone."""
    found = check_particulars(DrumFacts(id="", lever_arm_m=lever.arm.si))
    return [finding for finding in found if finding.field == "lever_arm"]


def refuse(problems: Problems) -> None:
    """Raise what was found, if anything."""
    if problems:
        raise ValidationError({name: list(found) for name, found in problems.items()})


def refuse_unanswered(findings: Sequence[Finding], checked: Collection[str], field: str) -> None:
    """Raise the findings that stop, and those that ask and were not answered, beside the field they are about."""
    open_ones: list[ValidationError] = [
        ValidationError(said(found), code=f"{found.level}:{found.code}")
        for found in findings
        if found.level == "stop" or (found.level == "ask" and found.code not in checked)
    ]
    if open_ones:
        raise ValidationError({field: open_ones})
