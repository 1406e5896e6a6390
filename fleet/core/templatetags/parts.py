"""The parts that screens and papers share: states, pictures, figures, error summary."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django import template
from django.forms import BaseForm, BoundField
from django.forms.formsets import BaseFormSet

from fleet.calculation import units
from fleet.core.forms import asks_for_files, error_links, first_input_id
from fleet.core.pictures import jack_side as jack
from fleet.core.pictures import render_strip as strips
from fleet.core.pictures import ship_deck as decks
from fleet.core.pictures.budget_bars import BAR, budget_lines
from fleet.core.pictures.states import STATES

register = template.Library()


@register.inclusion_tag("core/_state.html")
def state(code: str | None, word: str = "") -> dict[str, Any]:
    """A state as word and shape; `word` says more than the plain word, such as "overdue 19 days"."""
    found = STATES[code] if code else None
    return {"state": found, "word": word or (found.word if found else "")}


@register.inclusion_tag("core/_shape.html")
def shape(code: str, size: int = 20) -> dict[str, Any]:
    """The shape of a state alone, for a legend or a figure that says the word itself."""
    return {"state": STATES[code], "word": STATES[code].word, "size": size}


@register.inclusion_tag("core/_render_strip.html")
def render_strip(
    as_found: float | None = None,
    as_left: float | None = None,
    band_low: float = 0.0,
    band_high: float = 0.0,
    target: float | None = None,
    whisker: Sequence[float] | None = None,
    labels: bool = True,
    compact: bool = False,
    truth: float | None = None,
) -> dict[str, Any]:
    """The render strip from shares as fractions; compact for lists, labels=False without figures at the marks.

    whisker: low and high end, or nothing where the uncertainty was not worked out.
    """
    strip = strips.render_strip(
        as_found=as_found,
        as_left=as_left,
        band_low=band_low,
        band_high=band_high,
        target=target,
        whisker=(whisker[0], whisker[1]) if whisker else None,
        compact=compact,
        truth=truth,
    )
    return {"strip": strip, "labels": labels and not compact}


@register.inclusion_tag("core/_strip_legend.html")
def strip_legend(
    band_low: float | None = None, band_high: float | None = None, whisker: object = None
) -> dict[str, Any]:
    """The words for the strip's marks, once per page; `whisker` is anything true where a strip has one."""
    band = ""
    if band_low is not None and band_high is not None:
        low, high = (units.digits(share, "percent").removesuffix(".0") for share in (band_low, band_high))
        band = f"{low}–{high}"
    return {"band": band, "whisker": bool(whisker)}


@register.inclusion_tag("core/_budget_table.html")
def budget_table(trust: Mapping[str, Any], caption: bool = True) -> dict[str, Any]:
    """The uncertainty budget of a record, longest bar first, with its total and what was not counted.

    Who assumed what nobody measured is said once below where it is one for all, else in each row.
    """
    by = sorted({row["assumed_by"] for row in trust["rows"] if row["assumed"]})
    return {
        "trust": trust,
        "lines": budget_lines(trust["rows"]),
        "bar": BAR,
        "caption": caption,
        "assumed_by": by[0] if len(by) == 1 else "",
    }


@register.inclusion_tag("core/_ship_deck.html")
def ship_deck(drums: Iterable[decks.DeckDrum | Mapping[str, object]]) -> dict[str, Any]:
    """The ship from above with every drum in its place, and the same as a list."""
    return {"deck": decks.ship_deck(drums)}


@register.inclusion_tag("core/_jack_side.html")
def jack_side(line_off: str, jack_acts: str, lead: str = "left") -> dict[str, Any]:
    """The drum from its side: pay-out direction and where the jack stands."""
    return {"picture": jack.jack_picture(line_off=line_off, jack_acts=jack_acts, lead=lead)}


@register.inclusion_tag("core/_errors.html")
def error_summary(*forms: BaseForm | BaseFormSet | None) -> dict[str, Any]:
    """All errors of a page's forms at its top, each leading to its input."""
    links = error_links(forms)
    return {"links": links, "files": bool(links) and asks_for_files(forms)}


@register.filter
def input_id(field: BoundField) -> str:
    """The id of a field's first input, for its label."""
    return first_input_id(field)


@register.filter
def input_type(field: BoundField) -> str:
    """The kind of a field's widget: checkbox, file, or "" where nothing special is needed."""
    return getattr(field.field.widget, "input_type", "") or ""


@register.filter
def quantity(value_si: float | None, unit: str) -> str:
    """An SI value with its unit as the product always shows it; empty for none."""
    return "" if value_si is None else units.display(value_si, unit)


@register.filter
def digits(value_si: float | None, unit: str) -> str:
    """An SI value's digits alone, for a column headed by the unit; empty for none."""
    return "" if value_si is None else units.digits(value_si, unit)


@register.filter
def unit_label(unit: str) -> str:
    """What people see for a unit code."""
    return units.label(unit)
