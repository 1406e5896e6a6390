"""The part of the public command that says how far the load can be trusted.

Input, all optional, next to the drum's figures (``q`` is ``{"value": 640, "unit": "mm"}``)::

    {"gauge": {"full_scale": q, "accuracy_class": 1.6, "smallest_division": q,
               "calibration": [{"reading": q, "reference": q, "U": q, "k": 2, "direction": "rising" | "falling"}]},
     "tolerances": {"lever_arm": q, "drum_diameter": q, "line_diameter": q, "piston_area_relative": 0.005,
                    "lever_angle": q, "jack_friction_relative": 0.02, "lever_weight_relative": 0.007, "pump_stroke": q},
     "slips": [q, q], "band": [0.55, 0.65], "rule": "simple" | "guarded"}

Any of them asks for ``uncertainty`` and ``conformity``, which need the gauge. Given, ``tolerances`` is the whole
statement: what it leaves out is not counted, and ``not_counted`` names it. Left out, the product's own assumptions
stand in, each marked ``assumed``. Slips always take the assumed spread along, for a few readings cannot carry one.
"""

from dataclasses import dataclass
from math import fsum, isfinite, radians
from typing import Any

from fleet.calculation import units
from fleet.calculation.advice import advise
from fleet.calculation.assumptions import Assumptions, Tolerances
from fleet.calculation.budget import LoadBudget, load_budget
from fleet.calculation.checks import InputError
from fleet.calculation.compute_reader import MISSING, ONE_OF, JsonObject, Reader
from fleet.calculation.conformity import DEFAULT_BAND, RULES, SIMPLE, VERDICTS, assess
from fleet.calculation.gauge import ACCURACY_CLASSES
from fleet.calculation.gauge_certificate import DIRECTIONS, RISING, CertificatePoint, GaugeCertificate
from fleet.calculation.measurement import GaugeInUse, Measurement
from fleet.calculation.slips import slip_spread
from fleet.calculation.tables import OutsideTable
from fleet.calculation.targets import GeometryTarget
from fleet.calculation.uncertainty import Contribution

TRUST_FIELDS = ("gauge", "tolerances", "slips", "band", "rule")
GAUGE_FIELDS = ("full_scale", "accuracy_class", "smallest_division", "calibration")
POINT_FIELDS = ("reading", "reference", "U", "k", "direction")

# Name in the input, kind of quantity (None: a fraction), name in Tolerances.
TOLERANCES: dict[str, tuple[str | None, str]] = {
    "lever_arm": ("length", "lever_arm_m"),
    "drum_diameter": ("length", "drum_diameter_m"),
    "line_diameter": ("length", "line_diameter_m"),
    "piston_area_relative": (None, "piston_area_relative"),
    "lever_angle": ("angle", "lever_angle_rad"),
    "jack_friction_relative": (None, "jack_friction_relative"),
    "lever_weight_relative": (None, "lever_weight_relative"),
    "pump_stroke": ("pressure", "pump_stroke_pa"),
}

GAUGE_NEEDED = "How far the load can be trusted depends on the gauge above all: give its full scale and accuracy class."
CLASS_NEEDED = "Give the accuracy class on the dial, or a calibration with its U at every rising point."
NOT_A_CERTIFICATE = (
    "A calibration needs at least two points taken with rising pressure, and the reference must rise with the reading."
)
ANGLE_RANGE = "A lever more than 45° from square is no lever: give how far it may stand from square to the jack."
FACTOR_RANGE = "The coverage factor k of a certificate is 1 or more, most often 2."
BAND_RANGE = "Give two fractions, the lower one first, for example [0.55, 0.65]."
OFF_SCALE = "A reading of {reading} does not fit on this gauge, which ends at {full_scale}."
SHOWN_UNITS = {"length": "mm", "area": "cm2", "angle": "deg", "share": "percent"}


class NotCovered(Exception):
    """The gauge or its certificate says nothing about a reading. ``field`` is where to tell it."""

    def __init__(self, field: str, message: str) -> None:
        super().__init__(message)
        self.field = field


@dataclass(frozen=True, kw_only=True)
class Trust:
    """What the input says about how far it can be trusted."""

    gauge: GaugeInUse
    tolerances: Tolerances | None
    slips_si: tuple[float, ...]
    band: tuple[float, float]
    rule: str


def read_trust(reader: Reader, given: JsonObject) -> Trust | None:
    """Read the optional names; None when none was given, or when an error was entered in the reader."""
    if not any(name in given for name in TRUST_FIELDS):
        return None
    before = len(reader.errors)
    if "gauge" not in given:
        reader.refuse("gauge", GAUGE_NEEDED)
        gauge = None
    else:
        gauge = _gauge(reader, given["gauge"])
    tolerances = _tolerances(reader, given["tolerances"]) if "tolerances" in given else None
    slips = _slips(reader, given["slips"]) if "slips" in given else ()
    band = _band(reader, given["band"]) if "band" in given else DEFAULT_BAND
    rule = reader.choice("rule", given.get("rule", SIMPLE), RULES)
    if len(reader.errors) > before or gauge is None or band is None or rule is None:
        return None
    return Trust(gauge=gauge, tolerances=tolerances, slips_si=slips, band=band, rule=rule)


def _gauge(reader: Reader, given: object) -> GaugeInUse | None:
    found = reader.nested("gauge", given, GAUGE_FIELDS)
    if found is None:
        return None
    before = len(reader.errors)
    full_scale_si = division_si = certificate = None
    if "full_scale" not in found:
        reader.refuse("gauge.full_scale", MISSING)
    else:
        full_scale_si = reader.quantity("gauge.full_scale", found["full_scale"], "pressure")
    if "smallest_division" in found:
        division_si = reader.quantity("gauge.smallest_division", found["smallest_division"], "pressure")
    if "calibration" in found:
        certificate = _certificate(reader, found["calibration"])
    accuracy_class = _accuracy_class(reader, found, certificate)
    if len(reader.errors) > before or full_scale_si is None:
        return None
    return GaugeInUse(
        full_scale_si=full_scale_si,
        accuracy_class=accuracy_class,
        smallest_division_si=division_si,
        certificate=certificate,
    )


def _accuracy_class(reader: Reader, found: JsonObject, certificate: GaugeCertificate | None) -> float | None:
    field = "gauge.accuracy_class"
    if "accuracy_class" not in found:
        if "calibration" not in found or (certificate is not None and not certificate.states_uncertainty):
            reader.refuse(field, CLASS_NEEDED)
        return None
    number = reader.number(field, found["accuracy_class"])
    if number is not None and number not in ACCURACY_CLASSES:
        reader.refuse(field, ONE_OF.format(choices=", ".join(f"{one:g}" for one in ACCURACY_CLASSES)))
        return None
    return number


def _certificate(reader: Reader, given: object) -> GaugeCertificate | None:
    items = reader.items("gauge.calibration", given, least=2)
    if items is None:
        return None
    before = len(reader.errors)
    points = [_point(reader, f"gauge.calibration.{index}", item) for index, item in enumerate(items)]
    if len(reader.errors) > before:
        return None
    try:
        return GaugeCertificate(points=[point for point in points if point is not None])
    except InputError:
        reader.refuse("gauge.calibration", NOT_A_CERTIFICATE)
        return None


def _point(reader: Reader, field: str, given: object) -> CertificatePoint | None:
    found = reader.nested(field, given, POINT_FIELDS)
    if found is None:
        return None
    for name in ("reading", "reference"):
        if name not in found:
            reader.refuse(f"{field}.{name}", MISSING)
    si = {
        name: reader.quantity(f"{field}.{name}", found[name], "pressure", zero_allowed=name != "U")
        for name in ("reading", "reference", "U")
        if name in found
    }
    factor = reader.number(f"{field}.k", found.get("k", 2))
    if factor is not None and factor < 1:
        reader.refuse(f"{field}.k", FACTOR_RANGE)
    direction = reader.choice(f"{field}.direction", found.get("direction", RISING), DIRECTIONS)
    reading_si, reference_si = si.get("reading"), si.get("reference")
    if reading_si is None or reference_si is None or factor is None or factor < 1 or direction is None:
        return None
    return CertificatePoint(
        reading_pa=reading_si,
        reference_pa=reference_si,
        expanded_uncertainty_pa=si.get("U"),
        coverage_factor=factor,
        direction=direction,
    )


def _tolerances(reader: Reader, given: object) -> Tolerances | None:
    found = reader.nested("tolerances", given, tuple(TOLERANCES))
    if found is None:
        return None
    before = len(reader.errors)
    known: dict[str, float | None] = {}
    for name, (kind, argument) in TOLERANCES.items():
        if name in found:
            field = f"tolerances.{name}"
            known[argument] = (
                reader.fraction(field, found[name]) if kind is None else reader.quantity(field, found[name], kind)
            )
    if (known.get("lever_angle_rad") or 0.0) > radians(45):
        reader.refuse("tolerances.lever_angle.value", ANGLE_RANGE)
    return Tolerances(**known) if len(reader.errors) == before else None


def _slips(reader: Reader, given: object) -> tuple[float, ...]:
    items = reader.items("slips", given, least=1) or []
    read = [reader.quantity(f"slips.{index}", item, "pressure") for index, item in enumerate(items)]
    return tuple(slip for slip in read if slip is not None)


def _band(reader: Reader, given: object) -> tuple[float, float] | None:
    if not isinstance(given, list) or len(given) != 2:
        reader.refuse("band", BAND_RANGE)
        return None
    low, high = (reader.fraction(f"band.{index}", item, BAND_RANGE) for index, item in enumerate(given))
    if low is None or high is None:
        return None
    if low >= high:
        reader.refuse("band", BAND_RANGE)
        return None
    return low, high


def trust_answer(
    trust: Trust,
    *,
    target: GeometryTarget,
    sdmbl_n: float,
    target_si: float,
    reading_si: float | None,
    gauge_unit: str,
) -> dict[str, Any]:
    """``uncertainty`` and ``conformity`` of the slips, else of the gauge reading, else of the target itself.

    Raises: NotCovered; InputError. Source: ``fleet.calculation.budget``, ``conformity`` and ``advice``.
    """
    certificate = trust.gauge.certificate
    try:
        target_on_gauge_si = target_si if certificate is None else certificate.reading_for(target_si)
        at, shown_si = _reading(trust, target_on_gauge_si, reading_si)
        found = load_budget(_measurement(trust, target, shown_si))
    except OutsideTable as error:
        if certificate is None:
            raise
        raise NotCovered("gauge.calibration", certificate.not_covered(gauge_unit).text) from error
    if shown_si > trust.gauge.full_scale_si * (1 + 1e-12):
        figures = {"reading": shown_si, "full_scale": trust.gauge.full_scale_si}
        told = {name: units.display(value_si, gauge_unit) for name, value_si in figures.items()}
        raise NotCovered("gauge.full_scale", OFF_SCALE.format(**told))
    uncertainty = {"at": at, "reading": _q(shown_si, gauge_unit), **_uncertainty(found, sdmbl_n, gauge_unit)}
    if certificate is not None:
        bare_n = float(found.uncorrected_n)
        uncertainty["gauge_correction"] = {
            **_correction(certificate, shown_si, target_on_gauge_si, gauge_unit),
            "load_at_reading": {
                "kN": units.from_si(bare_n, "kN"),
                "tf": units.from_si(bare_n, "tf"),
                "share_of_sdmbl": bare_n / sdmbl_n,
            },
        }
    return {"uncertainty": uncertainty, "conformity": _conformity(found, trust, sdmbl_n, gauge_unit)}


def _reading(trust: Trust, target_on_gauge_si: float, reading_si: float | None) -> tuple[str, float]:
    if trust.slips_si:
        return "slips", fsum(trust.slips_si) / len(trust.slips_si)
    if reading_si is not None:
        return "gauge_reading", reading_si
    return "target_reading", target_on_gauge_si


def _measurement(trust: Trust, target: GeometryTarget, shown_si: float) -> Measurement:
    return Measurement(
        reading_si=shown_si,
        target=target,
        gauge=trust.gauge,
        tolerances=trust.tolerances or Tolerances(),
        assumptions=Assumptions() if trust.tolerances is None else None,
        spread=slip_spread(trust.slips_si) if trust.slips_si else None,
    )


def _q(value_si: float, unit: str) -> dict[str, Any]:
    return {"value": units.from_si(float(value_si), unit), "unit": unit}


def _uncertainty(found: LoadBudget, sdmbl_n: float, gauge_unit: str) -> dict[str, Any]:
    total = found.combined
    load_n, expanded_n = float(found.load_n), float(total.expanded_uncertainty)
    return {
        "estimate": {
            "kN": units.from_si(load_n, "kN"),
            "tf": units.from_si(load_n, "tf"),
            "share_of_sdmbl": load_n / sdmbl_n,
        },
        "correction_kN": units.from_si(float(total.correction), "kN"),
        "budget": [_row(row, share, gauge_unit) for row, share in total.longest_first],
        "not_counted": list(found.not_counted),
        "u_kN": units.from_si(float(total.standard_uncertainty), "kN"),
        "U_kN": units.from_si(expanded_n, "kN"),
        "U_points": 100 * expanded_n / sdmbl_n,
        "k": float(total.coverage_factor),
        "dof": _degrees(total.degrees_of_freedom),
        "coverage": total.coverage,
    }


def _degrees(degrees: Any) -> float | None:
    return float(degrees) if isfinite(degrees) else None


def _row(row: Contribution, share: float, gauge_unit: str) -> dict[str, Any]:
    def unit_of(kind: str) -> str:
        return gauge_unit if kind == "pressure" else SHOWN_UNITS[kind]

    unit = unit_of(row.kind)
    value_unit, spread_unit = unit_of(row.value_kind or row.kind), unit_of(row.half_width_kind or row.kind)
    return {
        "key": row.key,
        "name": row.name,
        "value": None if row.value_si is None else _q(float(row.value_si), value_unit),
        "spread": None if row.half_width_si is None else _q(float(row.half_width_si), spread_unit),
        "distribution": row.distribution,
        "divisor": row.divisor,
        "standard_uncertainty": _q(float(row.standard_uncertainty), unit),
        "sensitivity": {
            "value": units.from_si(float(row.sensitivity), "kN") * units.to_si(1.0, unit),
            "unit": f"kN/{unit}",
        },
        "contribution_kN": units.from_si(float(row.contribution), "kN"),
        "share": share,
        "degrees_of_freedom": _degrees(row.degrees_of_freedom),
        "correction_kN": units.from_si(float(row.correction), "kN"),
        "assumed": row.assumed,
    }


def _correction(
    certificate: GaugeCertificate, shown_si: float, target_on_gauge_si: float, gauge_unit: str
) -> dict[str, Any]:
    here = certificate.correction_at(shown_si)
    return {
        "reference": _q(here.reference_pa, gauge_unit),
        "error": _q(here.error_pa, gauge_unit),
        "target_on_gauge": _q(target_on_gauge_si, gauge_unit),
        "hysteresis_noticed": any(part.noticed for part in certificate.hysteresis),
        "sentence": here.sentence(gauge_unit).text,
    }


def _conformity(found: LoadBudget, trust: Trust, sdmbl_n: float, gauge_unit: str) -> dict[str, Any]:
    lower, upper = trust.band
    judged = assess(
        estimate=float(found.load_n) / sdmbl_n,
        standard_uncertainty=float(found.combined.standard_uncertainty) / sdmbl_n,
        expanded_uncertainty=float(found.combined.expanded_uncertainty) / sdmbl_n,
        lower=lower,
        upper=upper,
        rule=trust.rule,
    )
    advice = advise(found, base_load_n=sdmbl_n, lower=lower, upper=upper, gauge_unit=gauge_unit)
    return {
        "probability": judged.probability,
        "probability_low": judged.probability_low,
        "probability_high": judged.probability_high,
        "verdict": VERDICTS[judged.verdict],
        "rule": judged.rule,
        "band": [lower, upper],
        "sentence": judged.sentence.text,
        "advice": None if advice is None else advice.sentence.text,
    }
