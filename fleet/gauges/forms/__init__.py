"""Forms of gauges, jacks, levers, footings and kits: they check shape, the services decide."""

from fleet.gauges.forms.gauges import CalibrationForm, GaugeForm
from fleet.gauges.forms.gear import FootingForm, LeverForm, RetireForm
from fleet.gauges.forms.jacks import JackForm
from fleet.gauges.forms.kits import KitForm

__all__ = ["CalibrationForm", "FootingForm", "GaugeForm", "JackForm", "KitForm", "LeverForm", "RetireForm"]
