"""The figures kept of a drum: typed text and unit beside the SI value, each with where it comes from."""

from dataclasses import dataclass
from typing import Any

from django.db import models
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from fleet.calculation import units
from fleet.core.typed import Typed


class Origin(models.TextChoices):
    MAKER = "maker", _("maker's manual or plate")
    DRAWING = "drawing", _("drawing")
    MEASURED = "measured", _("measured aboard")
    CERTIFICATE = "certificate", _("certificate")


@dataclass(frozen=True)
class FigureKind:
    """What a figure is called, its kind of quantity, and whether a test can do without it."""

    name: str
    label: str | Promise
    quantity: str
    required: bool = False
    hint: str | Promise = ""


FIGURES: tuple[FigureKind, ...] = (
    FigureKind(
        "drum_diameter",
        _("drum diameter (bare barrel)"),
        "length",
        True,
        _("The barrel the line lies on, from edge to edge. Not the flange, not the radius."),
    ),
    FigureKind("flange_diameter", _("flange diameter"), "length"),
    FigureKind(
        "line_diameter", _("line diameter"), "length", True, _("From the line's certificate. Leave the tail out.")
    ),
    FigureKind(
        "line_mbl",
        _("breaking load of the fitted line"),
        "force",
        False,
        _("From the line's certificate: its own breaking load (line design break force) when new."),
    ),
    FigureKind(
        "line_wll",
        _("working load limit of the fitted line"),
        "force",
        False,
        _("Only where its certificate states one; else 55 % of the base load counts for wire, 50 % for other lines."),
    ),
    FigureKind(
        "line_residual",
        _("strength left in the line, % of new"),
        "share",
        False,
        _("Only for a worn line: as the line's inspection or a residual strength test gives it."),
    ),
    FigureKind(
        "lever_arm",
        _("lever arm at this drum"),
        "length",
        False,
        _("Only where it differs from the arm stamped on the lever: drum centre to the jack's line of action."),
    ),
    FigureKind("lining_new", _("lining thickness when new"), "length"),
    FigureKind("lining_minimum", _("least lining thickness"), "length"),
    FigureKind(
        "movement_per_turn",
        _("movement of the mark per handwheel turn"),
        "length",
        False,
        _("Measured on the drum: ten turns, divided by ten."),
    ),
    FigureKind(
        "mark_per_band_travel",
        _("movement of the mark per mm the band's end moves"),
        "ratio",
        False,
        _("A plain number: turn the handwheel, measure how far the mark and the band's end move, divide."),
    ),
    FigureKind(
        "wrap_angle",
        _("wrap of the band on the drum"),
        "angle",
        False,
        _("From the drawing; about 270° is usual. For the estimate of a wrong reeling direction and of wear."),
    ),
    FigureKind(
        "lining_friction",
        _("friction of the lining"),
        "ratio",
        False,
        _("A plain number from the lining maker, such as 0.3. For the estimate of a wrong reeling direction only."),
    ),
    FigureKind("mark_least", _("least setting the spindle allows"), "setting"),
    FigureKind("mark_most", _("greatest setting the spindle allows"), "setting"),
)
FIGURE_BY_NAME = {figure.name: figure for figure in FIGURES}


def setting_typed(text: str, unit: str) -> Typed:
    """Read a typed setting; a number of shims has no unit (`count`). Raises NumberError or UnitError."""
    if unit == "count":
        return Typed(text=text.strip(), unit=unit, si=units.parse_number(text))
    return Typed.read(text, unit)


@dataclass(frozen=True)
class Figure:
    """One figure with its origin and document."""

    typed: Typed
    origin: str
    document: str = ""

    def to_dict(self) -> dict[str, Any]:
        return {**self.typed.to_dict(), "origin": self.origin, "document": self.document}

    @classmethod
    def from_dict(cls, stored: dict[str, Any]) -> "Figure":
        return cls(Typed.from_dict(stored), stored["origin"], stored.get("document", ""))

    @property
    def origin_label(self) -> str | Promise:
        return Origin(self.origin).label
