"""A vessel with a deck, a kit and the cast's people, for tests of the ship's pages."""

from dataclasses import dataclass, field
from typing import Any

from fleet.core.typed import Typed
from fleet.drums.models import Drum
from fleet.gauges.models import Kit
from fleet.records.models import Round
from fleet.vessels.models import Vessel
from tests.factories import (
    DrumFactory,
    DrumParticularsFactory,
    GaugeFactory,
    JackFactory,
    KitFactory,
    RoundFactory,
    WinchFactory,
    figure,
)


@dataclass
class Ship:
    vessel: Vessel
    kit: Kit
    round: Round
    drums: list[Drum] = field(default_factory=list)


def make_ship(vessel: Vessel, drums: int = 1, **drum_columns: Any) -> Ship:
    """A vessel with so many drums, all with the particulars of case C4, one kit and an open round."""
    kit = KitFactory(vessel=vessel, name="Kit A", gauge=GaugeFactory(vessel=vessel, name="PG-3"))
    ship = Ship(vessel, kit, RoundFactory(vessel=vessel, kit=kit))
    for number in range(1, drums + 1):
        winch = WinchFactory(vessel=vessel, name=f"W{number}")
        drum = DrumFactory(winch=winch, name=f"F{number}", order=number, **drum_columns)
        DrumParticularsFactory(drum=drum)
        ship.drums.append(drum)
    return ship


def point(reading: str, load: str) -> dict[str, Any]:
    return {"pressure": Typed.read(reading, "bar").to_dict(), "load": Typed.read(load, "kN").to_dict()}


def force_point(reading: str, force: str) -> dict[str, Any]:
    return {"reading": Typed.read(reading, "bar").to_dict(), "force": Typed.read(force, "kN").to_dict()}


def on_basis(vessel: Vessel, basis: str) -> tuple[Drum, Kit]:
    """A drum whose target is found in one of the four ways, and a kit that fits it. Invented tables."""
    if basis == "makers_table":
        jack = JackFactory(vessel=vessel, serial_number=f"T-{vessel.name}")
        kit = KitFactory(vessel=vessel, jacks=[jack])
        particulars = DrumParticularsFactory(
            drum__winch__vessel=vessel,
            target_basis=basis,
            figures={"line_diameter": figure("36", "mm")},
            maker_table=[point("80", "180"), point("160", "360"), point("240", "540")],
            maker_table_jack=jack.serial_number,
            maker_table_document="winch manual, page 31",
        )
        return particulars.drum, kit
    if basis == "force_calibrated_jack":
        jack = JackFactory(
            vessel=vessel,
            stated_area=None,
            bore=None,
            force_table=[force_point("50", "35"), force_point("150", "106"), force_point("250", "176")],
            force_table_document="force calibration 14",
        )
        kit = KitFactory(vessel=vessel, jacks=[jack])
    elif basis == "load_cell":
        gauge = GaugeFactory(
            vessel=vessel, unit="kN", full_scale=Typed.read("600", "kN"), smallest_division=Typed.read("2", "kN")
        )
        kit = KitFactory(vessel=vessel, gauge=gauge)
    else:
        kit = KitFactory(vessel=vessel)
    return DrumParticularsFactory(drum__winch__vessel=vessel, target_basis=basis).drum, kit
