"""Forms of winches and drums: they check shape, the services decide."""

from fleet.drums.forms.events import BrakeEventForm, RetestOrderForm, TakeBackForm
from fleet.drums.forms.particulars import ParticularsForm
from fleet.drums.forms.register import DrumForm, DrumRemoveForm, WinchForm
from fleet.drums.forms.setting_fields import setting_field

__all__ = [
    "BrakeEventForm",
    "DrumForm",
    "DrumRemoveForm",
    "ParticularsForm",
    "RetestOrderForm",
    "TakeBackForm",
    "WinchForm",
    "setting_field",
]
