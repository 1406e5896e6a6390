import uuid
from datetime import date
from typing import ClassVar

from django.db import models
from django.utils.translation import gettext_lazy as _

from fleet.accounts.models import User
from fleet.drums.figures import Figure
from fleet.vessels.models import Vessel, VesselOwnedQuerySet


class Area(models.TextChoices):
    FORECASTLE = "forecastle", _("forecastle")
    MAIN_FORWARD = "main_forward", _("main deck forward")
    MAIN_AFT = "main_aft", _("main deck aft")
    AFT = "aft", _("aft deck")


class Side(models.TextChoices):
    PORT = "port", _("port")
    CENTRE = "centre", _("centre")
    STARBOARD = "starboard", _("starboard")


class DrumKind(models.TextChoices):
    SPLIT = "split", _("split drum: the tension part holds one layer")
    UNDIVIDED = "undivided", _("undivided drum: the line lies in layers")


class BrakeKind(models.TextChoices):
    BAND = "band", _("band brake with screw spindle")
    DISC = "disc", _("disc brake")
    SPRING = "spring_applied", _("spring-applied, released by oil")


class SettingKind(models.TextChoices):
    MARKER_DISTANCE = "marker_distance", _("marker distance")
    SPINDLE_TORQUE = "spindle_torque", _("spindle torque")
    SPRING_LENGTH = "spring_length", _("spring length")
    APPLIED_PRESSURE = "applied_pressure", _("applied pressure")
    SHIMS = "shims", _("number of shims")


SETTING_UNITS: dict[str, tuple[str, ...]] = {
    SettingKind.MARKER_DISTANCE: ("mm", "cm", "in"),
    SettingKind.SPINDLE_TORQUE: ("N_m",),
    SettingKind.SPRING_LENGTH: ("mm", "cm", "in"),
    SettingKind.APPLIED_PRESSURE: ("bar", "MPa", "kgf/cm2", "psi", "kPa"),
    SettingKind.SHIMS: ("count",),
}


class Tighter(models.TextChoices):
    SHORTER = "shorter", _("the figure gets smaller")
    LONGER = "longer", _("the figure gets larger")


class LineOff(models.TextChoices):
    TOP = "top", _("over the top of the drum")
    BOTTOM = "bottom", _("from under the drum")


class TargetBasis(models.TextChoices):
    GEOMETRY = "geometry", _("computed from drum, line, lever and jack")
    MAKERS_TABLE = "makers_table", _("maker's table of jack pressure")
    FORCE_CALIBRATED_JACK = "force_calibrated_jack", _("jack calibrated as force against reading")
    LOAD_CELL = "load_cell", _("load cell in the line")


class Nesting(models.TextChoices):
    LINE_ON_LINE = "line_on_line", _("line on line")
    NESTED = "nested", _("nested in the grooves of the layer below")


class LiningHeld(models.TextChoices):
    BONDED = "bonded", _("bonded")
    RIVETED = "riveted", _("riveted")
    UNKNOWN = "unknown", _("not known")


class LineMaterial(models.TextChoices):
    WIRE = "wire", _("wire")
    HMPE = "hmpe", _("high-modulus fibre")
    FIBRE = "fibre", _("other fibre")


class Winch(models.Model):
    """A winch frame; its drums may share a shaft."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    vessel = models.ForeignKey(Vessel, on_delete=models.PROTECT, related_name="winches")
    name = models.CharField(_("name"), max_length=60)
    shared_shaft = models.BooleanField(_("its drums share a shaft"), default=True)
    note = models.CharField(_("note"), max_length=200, blank=True)

    objects = VesselOwnedQuerySet.as_manager()

    class Meta:
        ordering = ["name"]
        verbose_name_plural = "winches"
        constraints = [models.UniqueConstraint(fields=["vessel", "name"], name="one_winch_per_name")]

    def __str__(self) -> str:
        return self.name


class DrumQuerySet(VesselOwnedQuerySet["Drum"]):
    vessel_path: ClassVar[str] = "winch__vessel"

    def fitted(self) -> "DrumQuerySet":
        """Drums still aboard, in the order one walks the deck."""
        return self.filter(removed_on__isnull=True).order_by("area_order", "order", "name")


AREA_ORDER = {Area.FORECASTLE: 0, Area.MAIN_FORWARD: 1, Area.MAIN_AFT: 2, Area.AFT: 3}


class Drum(models.Model):
    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    winch = models.ForeignKey(Winch, on_delete=models.PROTECT, related_name="drums")
    name = models.CharField(_("the ship's own name"), max_length=60)
    number_on_winch = models.PositiveSmallIntegerField(_("number on the winch"), default=1)
    area = models.CharField(_("area"), max_length=14, choices=Area.choices)
    area_order = models.PositiveSmallIntegerField(default=0, editable=False)
    side = models.CharField(_("side"), max_length=10, choices=Side.choices)
    order = models.PositiveSmallIntegerField(_("order on the deck, from forward"), default=1)
    kind = models.CharField(_("drum kind"), max_length=10, choices=DrumKind.choices)
    brake_kind = models.CharField(_("brake kind"), max_length=16, choices=BrakeKind.choices, default=BrakeKind.BAND)
    setting_kind = models.CharField(
        _("setting kept as"), max_length=18, choices=SettingKind.choices, default=SettingKind.MARKER_DISTANCE
    )
    tighter_is = models.CharField(_("when tightened"), max_length=8, choices=Tighter.choices, default=Tighter.SHORTER)
    mark_from = models.CharField(
        _("measured from"), max_length=120, help_text=_("Such as: machined edge of the stop plate.")
    )
    mark_to = models.CharField(_("measured to"), max_length=120, help_text=_("Such as: end face of the spindle nut."))
    mark_picture = models.FileField(_("picture of the measuring points"), upload_to="marks/", blank=True)
    line_off = models.CharField(_("line leaves the drum"), max_length=8, choices=LineOff.choices, default=LineOff.TOP)
    lead = models.CharField(
        _("seen from the lever, the line leads to the"),
        max_length=6,
        choices=[("left", _("left")), ("right", _("right"))],
        default="left",
    )
    removed_on = models.DateField(_("removed on"), null=True, blank=True)

    objects = DrumQuerySet.as_manager()

    class Meta:
        ordering = ["area_order", "order", "name"]
        constraints = [models.UniqueConstraint(fields=["winch", "name"], name="one_drum_per_name_on_a_winch")]

    def __str__(self) -> str:
        return self.name

    @property
    def vessel(self) -> Vessel:
        return self.winch.vessel

    @property
    def tightening_sign(self) -> int:
        """+1 where tightening makes the figure of the setting larger, else -1."""
        return 1 if self.tighter_is == Tighter.LONGER else -1

    @property
    def place(self) -> str:
        """Where on deck, in words."""
        return f"{self.get_area_display()}, {self.get_side_display()}"


class ParticularsQuerySet(VesselOwnedQuerySet["DrumParticulars"]):
    vessel_path: ClassVar[str] = "drum__winch__vessel"

    def in_force(self, drum: Drum, on: date) -> "DrumParticulars | None":
        return self.filter(drum=drum, valid_from__lte=on).order_by("-valid_from", "-created_at").first()


class DrumParticulars(models.Model):
    """What was known of a drum from a day on. A row is never changed: new knowledge is a new row with its reason."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    drum = models.ForeignKey(Drum, on_delete=models.PROTECT, related_name="particulars")
    valid_from = models.DateField(_("valid from"))
    # {figure name: {"text", "unit", "si", "origin", "document"}}, names from figures.FIGURES
    figures = models.JSONField(default=dict, blank=True)
    line_material = models.CharField(_("line material"), max_length=6, choices=LineMaterial.choices)
    reference_layer = models.PositiveSmallIntegerField(
        _("layer the setting is for"), default=1, help_text=_("Split drum: 1. Undivided drum: commonly 3.")
    )
    nesting = models.CharField(
        _("how layers lie"), max_length=14, choices=Nesting.choices, default=Nesting.LINE_ON_LINE
    )
    lining_held = models.CharField(
        _("lining is"), max_length=10, choices=LiningHeld.choices, default=LiningHeld.UNKNOWN
    )
    target_basis = models.CharField(
        _("how the target is found"), max_length=24, choices=TargetBasis.choices, default=TargetBasis.GEOMETRY
    )
    # [{"pressure": Typed, "load": Typed}, ...], rising; only with the maker's table
    maker_table = models.JSONField(default=list, blank=True)
    maker_table_jack = models.CharField(
        _("serial number of the jack the maker's table is for"), max_length=60, blank=True
    )
    maker_table_document = models.CharField(_("document of the maker's table"), max_length=160, blank=True)
    reason = models.CharField(_("reason"), max_length=300)
    author = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(auto_now_add=True)

    objects = ParticularsQuerySet.as_manager()

    class Meta:
        ordering = ["-valid_from", "-created_at"]
        verbose_name_plural = "drum particulars"

    def __str__(self) -> str:
        return f"{self.drum} from {self.valid_from}"

    def figure(self, name: str) -> Figure | None:
        stored = self.figures.get(name)
        return Figure.from_dict(stored) if stored else None

    def si(self, name: str) -> float | None:
        """The SI value of a figure, None where nobody gave it."""
        stored = self.figures.get(name)
        return float(stored["si"]) if stored else None


class EventKind(models.TextChoices):
    LINING_RENEWED = "lining_renewed", _("new lining")
    BRAKE_OVERHAULED = "brake_overhauled", _("brake overhauled")
    SPINDLE_RENEWED = "spindle_renewed", _("spindle repaired or renewed")
    PISTON_RENEWED = "piston_renewed", _("brake cylinder or piston renewed")
    LINE_CHANGED = "line_changed", _("line changed")
    UNINTENDED_SLIP = "unintended_slip", _("brake slipped unintended")
    WRONG_MARK = "wrong_mark", _("mark found wrong or shifted")
    MOORINGS = "moorings", _("moorings made")
    LAID_UP = "laid_up", _("laid up")


BRAKE_WORK = frozenset(
    {EventKind.LINING_RENEWED, EventKind.BRAKE_OVERHAULED, EventKind.SPINDLE_RENEWED, EventKind.PISTON_RENEWED}
)
ASKS_RETEST = BRAKE_WORK | {EventKind.LINE_CHANGED, EventKind.UNINTENDED_SLIP, EventKind.WRONG_MARK}


class BrakeEventQuerySet(VesselOwnedQuerySet["BrakeEvent"]):
    vessel_path: ClassVar[str] = "drum__winch__vessel"

    def asking_retest(self) -> "BrakeEventQuerySet":
        return self.filter(kind__in=ASKS_RETEST)


class BrakeEvent(models.Model):
    """Something that happened to a brake and may change what its mark means."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    drum = models.ForeignKey(Drum, on_delete=models.PROTECT, related_name="events")
    happened_on = models.DateField(_("date"))
    kind = models.CharField(_("what happened"), max_length=18, choices=EventKind.choices)
    note = models.CharField(_("what was done or seen"), max_length=400, blank=True)
    berth = models.CharField(_("berth"), max_length=120, blank=True)
    wind = models.CharField(_("wind and sea"), max_length=120, blank=True)
    moorings_made = models.PositiveIntegerField(_("moorings made since the last entry"), null=True, blank=True)
    document = models.CharField(_("report or work order"), max_length=160, blank=True)
    author = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(auto_now_add=True)

    objects = BrakeEventQuerySet.as_manager()

    class Meta:
        ordering = ["-happened_on", "-created_at"]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}, {self.happened_on}"


class RetestOrderQuerySet(VesselOwnedQuerySet["RetestOrder"]):
    vessel_path: ClassVar[str] = "drum__winch__vessel"


class RetestOrder(models.Model):
    """Shore asks for a test before its time; done when a later test is recorded, or taken back with a reason."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    drum = models.ForeignKey(Drum, on_delete=models.PROTECT, related_name="retest_orders")
    ordered_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    ordered_at = models.DateTimeField()
    due_on = models.DateField(_("to be done by"))
    reason = models.CharField(_("reason"), max_length=300)
    taken_back_at = models.DateTimeField(null=True, blank=True)
    taken_back_reason = models.CharField(max_length=300, blank=True)

    objects = RetestOrderQuerySet.as_manager()

    class Meta:
        ordering = ["-ordered_at"]

    def __str__(self) -> str:
        return f"{self.drum}: {self.reason}"
