"""The effective piston area of a jack: the maker's figure and the measured one, and which of them counts."""

from dataclasses import dataclass

from fleet.calculation import geometry
from fleet.calculation.checks import InputError
from fleet.gauges.models import AreaCounts, Jack


@dataclass(frozen=True)
class JackArea:
    """Both areas in m² where known, and the one that counts (None: not known yet)."""

    stated_m2: float | None
    measured_m2: float | None
    counts_m2: float | None
    document: str


def effective_area_of(jack: Jack) -> JackArea:
    """The maker's stated area wins over a measured one unless the piston was changed."""
    measured = _measured(jack)
    stated = jack.stated_area.si if jack.stated_area else None
    prefers_measured = jack.area_counts == AreaCounts.MEASURED
    counts = (measured if measured is not None else None) if prefers_measured else stated
    if counts is None and not prefers_measured:
        counts = measured
    return JackArea(stated, measured, counts, jack.stated_area_document)


def _measured(jack: Jack) -> float | None:
    is_ram = jack.kind == "ram"
    has_inner = jack.kind in {"pull", "hollow"}
    try:
        return geometry.effective_area(
            jack_type=jack.kind,
            bore_m=jack.bore.si if jack.bore and not is_ram else None,
            inner_m=jack.rod_or_hole.si if jack.rod_or_hole and has_inner else None,
            plunger_m=jack.plunger.si if jack.plunger and is_ram else None,
        )
    except InputError:
        return None
