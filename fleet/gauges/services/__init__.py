"""Everything that is written about a vessel's instruments and test gear."""

from fleet.gauges.services.gauges import gauge_add, gauge_calibration_record, gauge_change, gauge_retire
from fleet.gauges.services.gear import (
    footing_add,
    footing_change,
    footing_retire,
    lever_add,
    lever_change,
    lever_retire,
)
from fleet.gauges.services.jacks import jack_add, jack_change, jack_retire
from fleet.gauges.services.kits import kit_change, kit_put_together, kit_retire

__all__ = [
    "footing_add",
    "footing_change",
    "footing_retire",
    "gauge_add",
    "gauge_calibration_record",
    "gauge_change",
    "gauge_retire",
    "jack_add",
    "jack_change",
    "jack_retire",
    "kit_change",
    "kit_put_together",
    "kit_retire",
    "lever_add",
    "lever_change",
    "lever_retire",
]
