"""The STOP reading: the lowest of every limit of brake, jack, lever, deck and gauge. Readings in Pa, N for a cell."""

from collections.abc import Callable
from dataclasses import dataclass

from fleet.calculation.checks import InputError, require_positive
from fleet.calculation.gauge import USABLE_TO
from fleet.calculation.on_gauge import TargetOnGauge
from fleet.calculation.tables import OutsideTable
from fleet.calculation.targets import JackForceUnknown, Target

OPERATORS_CEILING = "operators_ceiling"
BRAKE_DESIGN_LOAD = "brake_design_load"
JACK_RATING = "jack_rating"
LEVER_SAFE_LOAD = "lever_safe_load"
DECK_ALLOWED_LOAD = "deck_allowed_load"
GAUGE_USABLE_PART = "gauge_usable_part"
GAUGE_FULL_SCALE = "gauge_full_scale"
END_OF_TABLE = "end_of_table"
END_OF_CERTIFICATE = "end_of_certificate"
STOP_LIMITS = (
    OPERATORS_CEILING,
    BRAKE_DESIGN_LOAD,
    JACK_RATING,
    LEVER_SAFE_LOAD,
    DECK_ALLOWED_LOAD,
    GAUGE_USABLE_PART,
    GAUGE_FULL_SCALE,
    END_OF_TABLE,
    END_OF_CERTIFICATE,
)

DEFAULT_CEILING_SHARE = 0.65
BRAKE_DESIGN_SHARE = 0.80
JACK_RATING_SHARE = 0.80

NOT_GIVEN = "not_given"
JACK_FORCE_UNKNOWN = "jack_force_unknown"
ABOVE_TABLE = "above_table"
NOT_FOR_LOAD_CELL = "not_for_load_cell"


@dataclass(frozen=True, kw_only=True)
class StopCandidate:
    """One limit: its reading in Pa (N for a cell), or None with the reason why it could not be worked out."""

    limit: str
    reading_si: float | None
    reason: str = ""


@dataclass(frozen=True, kw_only=True)
class StopReading:
    """The STOP reading, the limit that sets it, and all candidates in the order of STOP_LIMITS.

    ``not_known`` names the limits that took no part for want of a figure: to be said beside the STOP reading.
    ``target_is_above_stop`` asks for another gauge, jack, lever or footing before the test.
    """

    limit: str
    reading_si: float
    load_n: float
    share: float
    target_is_above_stop: bool | None
    candidates: tuple[StopCandidate, ...]
    not_known: tuple[StopCandidate, ...]


def stop_reading(
    *,
    target: Target,
    sdmbl_n: float,
    gauge_full_scale_si: float,
    ceiling_share: float = DEFAULT_CEILING_SHARE,
    jack_rated_pressure_pa: float | None = None,
    lever_safe_load_n: float | None = None,
    deck_allowed_load_n: float | None = None,
    target_share: float | None = None,
) -> StopReading:
    """The reading that the test may not pass: the lowest of all limits that are known.

    Args:
        target: any basis; turns loads into readings.
        sdmbl_n: ship design MBL, N.
        gauge_full_scale_si: end of the gauge's scale, Pa (N for a load cell); 75 % of it is the usable end.
        ceiling_share: the operator's ceiling as a fraction of SDMBL, by default the top of the default band.
        jack_rated_pressure_pa: 80 % of it counts.
        lever_safe_load_n: greatest force of the jacks together on the lever, N.
        deck_allowed_load_n: greatest reaction on the footing, N.
        target_share: when given, tells whether the target lies above STOP.

    A limit beyond the end of a table takes no part, but then the table's end is a limit itself.
    Raises: InputError; OutsideTable when a limit lies below the table's first point, so that no reading is safe to
    name. Source: moment balance; 80 % of SDMBL is the brake's design holding load (ISO 3730, MEG 7.5.6); the other
    shares are common practice, no published source.

    >>> from fleet.calculation.targets import equal_jacks
    >>> jack = equal_jacks(area_m2=71.26e-4, lever_arm_m=1.0, drum_diameter_m=0.610, line_diameter_m=0.036)
    >>> stop = stop_reading(target=jack, sdmbl_n=637e3, gauge_full_scale_si=40e6, jack_rated_pressure_pa=70e6)
    >>> stop.limit, round(stop.reading_si / 1e5, 2), [candidate.limit for candidate in stop.not_known]
    ('operators_ceiling', 187.68, ['lever_safe_load', 'deck_allowed_load'])
    """
    require_positive(sdmbl_n=sdmbl_n, gauge_full_scale_si=gauge_full_scale_si, ceiling_share=ceiling_share)
    given = {
        "jack_rated_pressure_pa": jack_rated_pressure_pa,
        "lever_safe_load_n": lever_safe_load_n,
        "deck_allowed_load_n": deck_allowed_load_n,
        "target_share": target_share,
    }
    require_positive(**{name: value for name, value in given.items() if value is not None})
    if ceiling_share >= 1:
        raise InputError("ceiling_share", "must be below 1")
    candidates = [
        _read_back(OPERATORS_CEILING, ceiling_share * sdmbl_n, target.pressure_for),
        _read_back(BRAKE_DESIGN_LOAD, BRAKE_DESIGN_SHARE * sdmbl_n, target.pressure_for),
        _jack_rating(jack_rated_pressure_pa, target),
        _read_back(LEVER_SAFE_LOAD, lever_safe_load_n, target.pressure_for_jack_force),
        _read_back(DECK_ALLOWED_LOAD, deck_allowed_load_n, target.pressure_for_jack_force),
        StopCandidate(limit=GAUGE_USABLE_PART, reading_si=USABLE_TO * gauge_full_scale_si),
        StopCandidate(limit=GAUGE_FULL_SCALE, reading_si=gauge_full_scale_si),
    ]
    candidates += _ends(target)
    known = [(candidate.reading_si, candidate) for candidate in candidates if candidate.reading_si is not None]
    reading_si, lowest = min(known, key=lambda pair: pair[0])
    load_n = target.load_at(reading_si)
    return StopReading(
        limit=lowest.limit,
        reading_si=reading_si,
        load_n=load_n,
        share=load_n / sdmbl_n,
        target_is_above_stop=None if target_share is None else target_share * sdmbl_n > load_n,
        candidates=tuple(candidates),
        not_known=tuple(c for c in candidates if c.reason not in ("", ABOVE_TABLE)),
    )


def _ends(target: Target) -> list[StopCandidate]:
    """The end of the basis' table and of the gauge's certificate, where there are any."""
    if not isinstance(target, TargetOnGauge):
        end_si = target.highest_reading_si
        return [] if end_si is None else [StopCandidate(limit=END_OF_TABLE, reading_si=end_si)]
    of_certificate = StopCandidate(limit=END_OF_CERTIFICATE, reading_si=target.highest_reading_si)
    end_si = target.target.highest_reading_si
    return [of_certificate] if end_si is None else [_read_back(END_OF_TABLE, end_si, target.on_dial), of_certificate]


def _jack_rating(jack_rated_pressure_pa: float | None, target: Target) -> StopCandidate:
    if target.reading_kind == "force":
        return StopCandidate(limit=JACK_RATING, reading_si=None, reason=NOT_FOR_LOAD_CELL)
    if jack_rated_pressure_pa is None:
        return StopCandidate(limit=JACK_RATING, reading_si=None, reason=NOT_GIVEN)
    most_pa = JACK_RATING_SHARE * jack_rated_pressure_pa
    if isinstance(target, TargetOnGauge):
        return _read_back(JACK_RATING, most_pa, target.on_dial)
    return StopCandidate(limit=JACK_RATING, reading_si=most_pa)


def _read_back(limit: str, value_si: float | None, reading_for: Callable[[float], float]) -> StopCandidate:
    if value_si is None:
        return StopCandidate(limit=limit, reading_si=None, reason=NOT_GIVEN)
    try:
        return StopCandidate(limit=limit, reading_si=reading_for(value_si))
    except JackForceUnknown:
        return StopCandidate(limit=limit, reading_si=None, reason=JACK_FORCE_UNKNOWN)
    except OutsideTable as error:
        if error.is_below:
            raise
        return StopCandidate(limit=limit, reading_si=None, reason=ABOVE_TABLE)
