"""Everything that is written about winches and drums."""

from fleet.drums.services.drums import drum_add, drum_change, drum_remove
from fleet.drums.services.events import brake_event_report
from fleet.drums.services.particulars import drum_particulars_record
from fleet.drums.services.retests import retest_order_give, retest_order_take_back
from fleet.drums.services.winches import winch_add, winch_change

__all__ = [
    "brake_event_report",
    "drum_add",
    "drum_change",
    "drum_particulars_record",
    "drum_remove",
    "retest_order_give",
    "retest_order_take_back",
    "winch_add",
    "winch_change",
]
