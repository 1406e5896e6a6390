from typing import ClassVar

from django.db import models

from fleet.drums.models import Drum
from fleet.gauges.models import Gauge
from fleet.records.models import DrumTest, Round, Submission
from fleet.vessels.models import VesselOwnedQuerySet


class HistoryPointQuerySet(VesselOwnedQuerySet["HistoryPoint"]):
    vessel_path: ClassVar[str] = "drum__winch__vessel"


class HistoryPoint(models.Model):
    """One approved test as the analysis over the years needs it: taken out of the submission, which alone is evidence.

    Narrow, because a fleet's whole history is read at once and a submission is thousands of bytes. It can be thrown
    away and made again from the submissions at any time.
    """

    test = models.OneToOneField(DrumTest, on_delete=models.CASCADE, related_name="history_point")
    submission = models.ForeignKey(Submission, on_delete=models.CASCADE, related_name="+")
    drum = models.ForeignKey(Drum, on_delete=models.CASCADE, related_name="history_points")
    round = models.ForeignKey(Round, on_delete=models.CASCADE, related_name="+")
    gauge = models.ForeignKey(Gauge, on_delete=models.CASCADE, related_name="+")
    tested_on = models.DateField()
    set_in_band = models.BooleanField()
    setting_kind = models.CharField(max_length=18, blank=True)
    setting_unit = models.CharField(max_length=8, blank=True)
    setting_si = models.FloatField(null=True)
    as_left_share = models.FloatField(null=True)
    # None where this test does not tell it.
    slope_share_per_si = models.FloatField(null=True)
    gauge_share = models.FloatField(null=True)
    lining_m = models.FloatField(null=True)
    as_found_phase = models.CharField(max_length=20, blank=True)
    as_found_share = models.FloatField(null=True)
    as_found_held = models.BooleanField(default=False)
    target_share = models.FloatField()
    band_low = models.FloatField()
    band_high = models.FloatField()

    objects = HistoryPointQuerySet.as_manager()

    class Meta:
        ordering = ["tested_on", "pk"]
        indexes = [models.Index(fields=["drum", "tested_on"], name="history_of_a_drum")]

    def __str__(self) -> str:
        return f"{self.drum}, {self.tested_on}"
