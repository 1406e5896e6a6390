import uuid
from datetime import date
from decimal import Decimal
from typing import ClassVar

from django.db import models
from django.utils.translation import gettext_lazy as _

from fleet.accounts.models import User
from fleet.core.model_fields import TypedField
from fleet.vessels.models import Vessel, VesselOwnedQuerySet

# kN and t (tonne-force): the display of a load cell in the line.
GAUGE_UNIT_CHOICES = [
    ("bar", "bar"),
    ("MPa", "MPa"),
    ("kgf/cm2", "kgf/cm²"),
    ("psi", "psi"),
    ("kN", _("kN (load cell)")),
    ("tf", _("t, tonne-force (load cell)")),
]
ACCURACY_CLASSES = [(Decimal(text), text) for text in ("0.1", "0.25", "0.6", "1", "1.6", "2.5", "4")]


class GaugeQuerySet(VesselOwnedQuerySet["Gauge"]):
    def in_use(self) -> "GaugeQuerySet":
        return self.filter(retired_on__isnull=True)


class Gauge(models.Model):
    """A pressure gauge. Its unit belongs to it: readings never choose one."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    vessel = models.ForeignKey(Vessel, on_delete=models.PROTECT, related_name="gauges")
    name = models.CharField(_("name or tag"), max_length=40)
    serial_number = models.CharField(_("serial number"), max_length=60)
    unit = models.CharField(_("unit on its dial"), max_length=8, choices=GAUGE_UNIT_CHOICES)
    full_scale = TypedField(_("full scale"))
    smallest_division = TypedField(_("smallest division"))
    accuracy_class = models.DecimalField(
        _("accuracy class on the dial"), max_digits=4, decimal_places=2, choices=ACCURACY_CLASSES
    )
    retired_on = models.DateField(_("out of use since"), null=True, blank=True)

    objects = GaugeQuerySet.as_manager()

    class Meta:
        ordering = ["name"]
        constraints = [models.UniqueConstraint(fields=["vessel", "serial_number"], name="one_gauge_per_serial_number")]

    def __str__(self) -> str:
        return self.name

    def calibration_on(self, on: date) -> "GaugeCalibration | None":
        """The newest calibration not later than a day."""
        rows = [row for row in self.calibrations.all() if row.calibrated_on <= on]
        return max(rows, key=lambda row: (row.calibrated_on, row.created_at), default=None)


class GaugeCalibrationQuerySet(VesselOwnedQuerySet["GaugeCalibration"]):
    vessel_path: ClassVar[str] = "gauge__vessel"


class GaugeCalibration(models.Model):
    """One calibration certificate of a gauge; never changed, only followed."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    gauge = models.ForeignKey(Gauge, on_delete=models.PROTECT, related_name="calibrations")
    calibrated_on = models.DateField(_("calibrated on"))
    valid_until = models.DateField(
        _("valid until"), null=True, blank=True, help_text=_("Empty: the policy's interval counts.")
    )
    certificate_number = models.CharField(_("certificate number"), max_length=80)
    laboratory = models.CharField(_("laboratory or workshop"), max_length=120)
    # [{"reading": Typed, "reference": Typed, "U": Typed|None, "k": float|None}, ...] in the gauge's unit, rising
    points = models.JSONField(default=list, blank=True)
    document = models.FileField(_("certificate file"), upload_to="calibrations/", blank=True)
    author = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(auto_now_add=True)

    objects = GaugeCalibrationQuerySet.as_manager()

    class Meta:
        ordering = ["-calibrated_on"]

    def __str__(self) -> str:
        return f"{self.certificate_number}, {self.calibrated_on}"


class JackKind(models.TextChoices):
    PLAIN = "plain", _("plain jack: the oil pushes on the full bore")
    PULL = "pull", _("pulling cylinder: bore less rod")
    HOLLOW = "hollow", _("hollow plunger: bore less hole")
    RAM = "ram", _("displacement ram: seal in the gland, the plunger counts")


class AreaCounts(models.TextChoices):
    STATED = "stated", _("the maker's stated area")
    MEASURED = "measured", _("the area from the measured diameters: the piston was changed")


class Jack(models.Model):
    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    vessel = models.ForeignKey(Vessel, on_delete=models.PROTECT, related_name="jacks")
    name = models.CharField(_("name or tag"), max_length=40)
    serial_number = models.CharField(_("serial number"), max_length=60)
    kind = models.CharField(_("jack type"), max_length=8, choices=JackKind.choices)
    bore = TypedField(_("bore"), null=True, blank=True)
    rod_or_hole = TypedField(_("rod or hole diameter"), null=True, blank=True)
    plunger = TypedField(_("plunger diameter"), null=True, blank=True)
    stated_area = TypedField(_("effective piston area stated by the maker"), null=True, blank=True)
    stated_area_document = models.CharField(_("document of the stated area"), max_length=160, blank=True)
    area_counts = models.CharField(
        _("which area counts"), max_length=10, choices=AreaCounts.choices, default=AreaCounts.STATED
    )
    nominal_capacity = TypedField(_("nominal capacity"), null=True, blank=True)
    rated_pressure = TypedField(_("rated pressure"))
    # [{"reading": Typed (pressure), "force": Typed}, ...], rising; only for a jack calibrated as force
    force_table = models.JSONField(default=list, blank=True)
    force_table_document = models.CharField(_("certificate of the force calibration"), max_length=160, blank=True)
    inspected_on = models.DateField(_("last inspected on"), null=True, blank=True)
    retired_on = models.DateField(_("out of use since"), null=True, blank=True)

    objects = VesselOwnedQuerySet.as_manager()

    class Meta:
        ordering = ["name"]
        constraints = [models.UniqueConstraint(fields=["vessel", "serial_number"], name="one_jack_per_serial_number")]

    def __str__(self) -> str:
        return self.name

    @property
    def acts(self) -> str:
        """`pull` for a pulling cylinder, else `push`."""
        return "pull" if self.kind == JackKind.PULL else "push"


class Lever(models.Model):
    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    vessel = models.ForeignKey(Vessel, on_delete=models.PROTECT, related_name="levers")
    name = models.CharField(_("name or tag"), max_length=40)
    arm = TypedField(_("lever arm stamped on it"))
    weight = TypedField(_("weight of the lever"), null=True, blank=True)
    safe_load = TypedField(_("safe load"), null=True, blank=True)
    fits = models.CharField(_("which drums it fits"), max_length=200, blank=True)
    inspected_on = models.DateField(_("last inspected on"), null=True, blank=True)
    retired_on = models.DateField(_("out of use since"), null=True, blank=True)

    objects = VesselOwnedQuerySet.as_manager()

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Footing(models.Model):
    """Foundation plate or strong point under the jack."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    vessel = models.ForeignKey(Vessel, on_delete=models.PROTECT, related_name="footings")
    name = models.CharField(_("name or place"), max_length=60)
    allowed_load = TypedField(_("allowed load on the deck there"), null=True, blank=True)
    note = models.CharField(_("marked place and stiffening"), max_length=200, blank=True)
    retired_on = models.DateField(_("out of use since"), null=True, blank=True)

    objects = VesselOwnedQuerySet.as_manager()

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class KitQuerySet(VesselOwnedQuerySet["Kit"]):
    def whole(self) -> "KitQuerySet":
        """With all that a working needs, in a fixed number of queries."""
        return self.select_related("gauge", "lever", "footing").prefetch_related(
            "kit_jacks__jack", "gauge__calibrations"
        )


class Kit(models.Model):
    """What is used together: gauge, jacks, lever, footing."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    vessel = models.ForeignKey(Vessel, on_delete=models.PROTECT, related_name="kits")
    name = models.CharField(_("name"), max_length=60)
    gauge = models.ForeignKey(Gauge, on_delete=models.PROTECT, related_name="kits", verbose_name=_("gauge"))
    lever = models.ForeignKey(Lever, on_delete=models.PROTECT, related_name="kits", verbose_name=_("lever"))
    footing = models.ForeignKey(
        Footing, on_delete=models.PROTECT, related_name="kits", verbose_name=_("footing"), null=True, blank=True
    )
    note = models.CharField(_("hose, pump and pins"), max_length=200, blank=True)
    retired_on = models.DateField(_("out of use since"), null=True, blank=True)

    objects = KitQuerySet.as_manager()

    class Meta:
        ordering = ["name"]
        constraints = [models.UniqueConstraint(fields=["vessel", "name"], name="one_kit_per_name")]

    def __str__(self) -> str:
        return self.name


class KitJackQuerySet(VesselOwnedQuerySet["KitJack"]):
    vessel_path: ClassVar[str] = "kit__vessel"


class KitJack(models.Model):
    """A jack in a kit; with two unequal jacks each has its own arm."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    kit = models.ForeignKey(Kit, on_delete=models.CASCADE, related_name="kit_jacks")
    jack = models.ForeignKey(Jack, on_delete=models.PROTECT, related_name="kit_jacks")
    position = models.PositiveSmallIntegerField(default=1)
    arm = TypedField(_("arm of this jack, where it differs from the lever's"), null=True, blank=True)

    objects = KitJackQuerySet.as_manager()

    class Meta:
        ordering = ["position"]
        constraints = [models.UniqueConstraint(fields=["kit", "jack"], name="one_jack_once_in_a_kit")]

    def __str__(self) -> str:
        return f"{self.jack} in {self.kit}"
