"""What shore notes about a drum for itself."""

import uuid
from typing import ClassVar

from django.db import models
from django.utils.translation import gettext_lazy as _

from fleet.accounts.models import User
from fleet.drums.models import Drum
from fleet.vessels.models import VesselOwnedQuerySet


class DrumFlagQuerySet(VesselOwnedQuerySet["DrumFlag"]):
    vessel_path: ClassVar[str] = "drum__winch__vessel"

    def standing(self) -> "DrumFlagQuerySet":
        return self.filter(cleared_at__isnull=True)


class DrumFlag(models.Model):
    """A superintendent's own mark on a drum, with a word, until it is cleared with a word."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    drum = models.ForeignKey(Drum, on_delete=models.PROTECT, related_name="shore_flags")
    word = models.CharField(_("what to watch"), max_length=200)
    raised_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    raised_at = models.DateTimeField()
    cleared_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    cleared_at = models.DateTimeField(null=True, blank=True)
    cleared_word = models.CharField(_("why it is cleared"), max_length=200, blank=True)

    objects = DrumFlagQuerySet.as_manager()

    class Meta:
        ordering = ["raised_at", "pk"]
        verbose_name = "flag on a drum"
        verbose_name_plural = "flags on drums"

    def __str__(self) -> str:
        return f"{self.drum}: {self.word}"
