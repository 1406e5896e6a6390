"""The line on other layers and reeled the wrong way, for Prepare, the worksheet and the record."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from fleet.calculation import layers, units
from fleet.drums.line_on_drum import (
    LayersSaid,
    WrongWaySaid,
    base_word,
    layer_table,
    layers_said,
    sentence_said,
    wrong_way_said,
)
from fleet.records.figures import Figures
from fleet.records.results import Results


@dataclass(frozen=True)
class Layers:
    """The brake once it is set, on every layer; and what STOP on the layer of the test means on a lower one."""

    said: LayersSaid
    at_stop: str


def layers_of(figures: Figures, load_n: float | None = None) -> Layers | None:
    """For an undivided drum that renders at this load, by default at the target; None for a split one."""
    row = figures.particulars
    table = layer_table(row, load_n=figures.aim.load_n if load_n is None else load_n, base_n=figures.aim.sdmbl_n)
    if table is None:
        return None
    warning = layers.warning_at_stop(
        table,
        stop_share=figures.stop.share,
        set_layer=row.reference_layer,
        base_name=base_word(figures.vessel),
    )
    return Layers(layers_said(row, table), sentence_said(warning) if warning else "")


def wrong_way_of(figures: Figures) -> WrongWaySaid | None:
    """For a band brake set to the target."""
    return wrong_way_said(figures.particulars, load_n=figures.aim.load_n, base_n=figures.aim.sdmbl_n)


def layers_content(figures: Figures, results: Results) -> dict[str, Any]:
    """The part of a submission's content on layers: empty for a split drum, which has one."""
    left_n = results.as_left_load_n
    found = layers_of(figures, left_n)
    if found is None:
        return {}
    rows = [
        {
            "layer": row.layer,
            "on_line_load_shown": f"{row.on_line_load} kN",
            "on_line_share_shown": f"{row.on_line_share} %",
            "nested_load_shown": f"{row.nested_load} kN",
            "nested_share_shown": f"{row.nested_share} %",
        }
        for row in found.said.rows
    ]
    return {
        "layers": {
            "load_of": "as_left" if left_n is not None else "target",
            "load_shown": units.display(figures.aim.load_n if left_n is None else left_n, "kN"),
            "set_layer": found.said.set_layer,
            "rows": rows,
            "warnings": list(found.said.warnings),
            "at_stop": found.at_stop,
        }
    }


def layer_lines(content: dict[str, Any]) -> Iterator[tuple[str, str, str]]:
    """Key, label and words of what a record says of layers; nothing in a record without them."""
    part = content.get("layers")
    if part is None:
        return
    for row in part["rows"]:
        words = _("{load}, {share} line on line; {nested_load}, {nested_share} nested").format(
            load=row["on_line_load_shown"],
            share=row["on_line_share_shown"],
            nested_load=row["nested_load_shown"],
            nested_share=row["nested_share_shown"],
        )
        if row["layer"] == part["set_layer"]:
            words = _("{words} (the layer of the test)").format(words=words)
        yield f"layer_{row['layer']}", _("Layer {layer}").format(layer=row["layer"]), words
    if part["at_stop"]:
        yield "layers_at_stop", _("At STOP"), part["at_stop"]
    for number, sentence in enumerate(part["warnings"], start=1):
        yield f"layers_warning_{number}", _("Warning"), sentence
