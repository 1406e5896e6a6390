"""The effective piston area of a jack: the maker's figure, the one from its diameters, and the one that counts."""

from dataclasses import dataclass

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from fleet.calculation.checks import InputError
from fleet.calculation.geometry import effective_area
from fleet.core.typed import Typed
from fleet.gauges.models import AreaCounts, Jack, JackKind

# The diameters on which the area of each type of jack hangs; any other is never asked for.
DIAMETERS: dict[str, tuple[str, ...]] = {
    JackKind.PLAIN: ("bore",),
    JackKind.PULL: ("bore", "rod_or_hole"),
    JackKind.HOLLOW: ("bore", "rod_or_hole"),
    JackKind.RAM: ("plunger",),
}


@dataclass(frozen=True)
class JackArea:
    """Both areas of a jack in m², None where not known, and the one that counts with its document."""

    stated_m2: float | None
    measured_m2: float | None
    counts_m2: float | None
    document: str

    @property
    def difference(self) -> float | None:
        """How far the measured area lies from the stated one, as a fraction of the stated."""
        if self.stated_m2 is None or self.measured_m2 is None:
            return None
        return self.measured_m2 / self.stated_m2 - 1

    @property
    def origin(self) -> str | Promise:
        """Where the area that counts comes from, in words."""
        if self.counts_m2 is None:
            return _("no area known")
        return _("stated by the maker") if self.counts_m2 == self.stated_m2 else _("from the measured diameters")


def measured_area(
    *, kind: str, bore: Typed | None = None, rod_or_hole: Typed | None = None, plunger: Typed | None = None
) -> float | None:
    """The area in m² by geometry for this type of jack; None while a diameter it hangs on is missing or impossible."""
    given = {"bore": bore, "rod_or_hole": rod_or_hole, "plunger": plunger}
    names = {"bore": "bore_m", "rod_or_hole": "inner_m", "plunger": "plunger_m"}
    wanted = {names[name]: given[name] for name in DIAMETERS.get(kind, ())}
    if not wanted or any(value is None for value in wanted.values()):
        return None
    try:
        return effective_area(jack_type=kind, **{name: value.si for name, value in wanted.items() if value})
    except InputError:
        return None


def effective_area_of(jack: Jack) -> JackArea:
    """Both areas of a jack; the maker's counts unless the piston was changed, and never one in place of the other."""
    stated = jack.stated_area.si if jack.stated_area else None
    measured = measured_area(kind=jack.kind, bore=jack.bore, rod_or_hole=jack.rod_or_hole, plunger=jack.plunger)
    if jack.area_counts == AreaCounts.MEASURED:
        return JackArea(stated, measured, measured, str(_("measured aboard")) if measured else "")
    # Where the maker states nothing, the geometry of the jack is all there is.
    counts = stated if stated is not None else measured
    document = jack.stated_area_document if stated is not None else str(_("measured aboard"))
    return JackArea(stated, measured, counts, document if counts is not None else "")
