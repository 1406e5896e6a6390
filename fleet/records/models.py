import uuid
from typing import ClassVar

from django.db import models
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from fleet.accounts.models import User
from fleet.drums.models import Drum, DrumParticulars
from fleet.gauges.models import Gauge, Kit
from fleet.vessels.models import Vessel, VesselOwnedQuerySet


class RoundKind(models.TextChoices):
    YEARLY = "yearly", _("yearly round")
    RETEST = "retest", _("retest after work, an event or an order")


class DoneBy(models.TextChoices):
    CREW = "crew", _("ship's crew")
    YARD = "yard", _("yard")
    MAKER_SERVICE = "maker_service", _("maker's service")
    CLASS_WITNESSED = "class_witnessed", _("crew, under class witness")


class RoundQuerySet(VesselOwnedQuerySet["Round"]):
    def open(self) -> "RoundQuerySet":
        return self.filter(closed_on__isnull=True)


class Round(models.Model):
    """One vessel's campaign of tests: what all its drums share is written once."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    vessel = models.ForeignKey(Vessel, on_delete=models.PROTECT, related_name="rounds")
    kind = models.CharField(_("kind"), max_length=8, choices=RoundKind.choices, default=RoundKind.YEARLY)
    started_on = models.DateField(_("started on"))
    closed_on = models.DateField(_("closed on"), null=True, blank=True)
    kit = models.ForeignKey(Kit, on_delete=models.PROTECT, related_name="rounds", verbose_name=_("kit"))
    place = models.CharField(_("place"), max_length=120, help_text=_("Such as: at anchor, inner roads."))
    permit = models.CharField(_("permit to work"), max_length=120)
    # [{"name", "rank"}, ...] those on deck
    people = models.JSONField(_("people present"), default=list, blank=True)
    weather = models.CharField(_("weather"), max_length=160)
    done_by = models.CharField(_("done by"), max_length=16, choices=DoneBy.choices, default=DoneBy.CREW)
    done_by_name = models.CharField(_("yard, service or surveyor"), max_length=160, blank=True)
    report = models.FileField(_("their report"), upload_to="reports/", blank=True)
    report_name = models.CharField(max_length=160, blank=True)
    report_sha256 = models.CharField(max_length=64, blank=True)
    utc_offset_minutes = models.SmallIntegerField(_("ship's time, minutes from UTC"), default=0)
    opened_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(auto_now_add=True)

    objects = RoundQuerySet.as_manager()

    class Meta:
        ordering = ["-started_on", "-created_at"]

    def __str__(self) -> str:
        return f"{self.vessel}, {self.get_kind_display()} {self.started_on:%Y}"


class State(models.TextChoices):
    DRAFT = "draft", _("draft")
    SUBMITTED = "submitted", _("accepted aboard, shore review pending")
    RETURNED = "returned", _("returned to the ship")
    APPROVED = "approved", _("approved")
    SUPERSEDED = "superseded", _("superseded")
    WITHDRAWN = "withdrawn", _("withdrawn")


class Outcome(models.TextChoices):
    SET_IN_BAND = "set_in_band", _("set in band")
    COULD_NOT_BE_SET = "could_not_be_set", _("could not be set")
    STOPPED = "stopped", _("stopped before the end")
    OUT_OF_USE = "out_of_use", _("brake defective, drum out of use")
    RESTRICTED = "restricted", _("restricted by the master until repaired")


class DrumTestQuerySet(VesselOwnedQuerySet["DrumTest"]):
    vessel_path: ClassVar[str] = "round__vessel"

    def in_hand(self) -> "DrumTestQuerySet":
        """Tests the ship can still write to."""
        return self.filter(state__in=[State.DRAFT, State.RETURNED])

    def whole(self) -> "DrumTestQuerySet":
        """With all that an assessment needs, in a fixed number of queries."""
        return self.select_related(
            "round__vessel__company",
            "round__kit__gauge",
            "round__kit__lever",
            "round__kit__footing",
            "drum__winch__vessel__company",
            "draft_saved_by",
        ).prefetch_related(
            "readings",
            "photos",
            "confirmations",
            "submissions",
            "drum__particulars",
            "drum__events",
            "round__kit__kit_jacks__jack",
            "round__kit__gauge__calibrations",
        )


class DrumTest(models.Model):
    """The identity of one drum's test, and its draft while the ship works on it."""

    # Made by the client, so that a form sent twice is one test.
    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    round = models.ForeignKey(Round, on_delete=models.PROTECT, related_name="tests")
    drum = models.ForeignKey(Drum, on_delete=models.PROTECT, related_name="tests")
    state = models.CharField(max_length=12, choices=State.choices, default=State.DRAFT)
    # {field name: what was typed}; parsed when read, so that 18,2,3 survives
    draft = models.JSONField(default=dict, blank=True)
    draft_revision = models.PositiveIntegerField(default=0)
    draft_saved_at = models.DateTimeField(null=True, blank=True)
    draft_saved_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    state_reason = models.CharField(max_length=400, blank=True)
    created_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(auto_now_add=True)

    objects = DrumTestQuerySet.as_manager()

    class Meta:
        ordering = ["-created_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["drum"],
                condition=models.Q(state__in=["draft", "returned"]),
                name="one_test_in_hand_per_drum",
            ),
            models.CheckConstraint(
                condition=models.Q(state__in=[state.value for state in State]), name="drum_test_state_is_known"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.drum}, {self.round}"

    @property
    def is_in_hand(self) -> bool:
        return self.state in {State.DRAFT, State.RETURNED}


class Phase(models.TextChoices):
    AS_FOUND_UNTOUCHED = "as_found_untouched", _("as found, untouched")
    AS_FOUND_REAPPLIED = "as_found_reapplied", _("as found, re-applied at the old mark")
    ADJUSTING = "adjusting", _("adjusting")
    VERIFICATION = "verification", _("verification")


AS_FOUND = frozenset({Phase.AS_FOUND_UNTOUCHED, Phase.AS_FOUND_REAPPLIED})


class ReadingQuerySet(VesselOwnedQuerySet["Reading"]):
    vessel_path: ClassVar[str] = "test__round__vessel"


class Reading(models.Model):
    """One raise of the jack: what the gauge showed at first movement, or the highest it held at."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    test = models.ForeignKey(DrumTest, on_delete=models.CASCADE, related_name="readings")
    order = models.PositiveSmallIntegerField()
    phase = models.CharField(_("phase"), max_length=20, choices=Phase.choices)
    mark_text = models.CharField(_("mark"), max_length=20)
    mark_unit = models.CharField(max_length=8)
    mark_si = models.FloatField()
    gauge_text = models.CharField(_("gauge reading"), max_length=20)
    # A copy of the gauge's own unit: nobody chooses a unit for a reading.
    gauge_unit = models.CharField(max_length=8)
    gauge_si = models.FloatField()
    slipped = models.BooleanField(_("slipped"))
    reapplied = models.BooleanField(_("released fully and re-applied before it"), default=False)
    rest_minutes = models.CharField(_("minutes at rest before it"), max_length=10, blank=True)
    author = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(auto_now_add=True)

    objects = ReadingQuerySet.as_manager()

    class Meta:
        ordering = ["order"]
        constraints = [models.UniqueConstraint(fields=["test", "order"], name="readings_are_in_order")]

    def __str__(self) -> str:
        return f"{self.order}: {self.gauge_text} {self.gauge_unit}"


class PhotoKind(models.TextChoices):
    MARK = "mark", _("the mark with the rule beside it")
    LINING = "lining", _("lining")
    DRUM = "drum", _("drum surface")
    RIG = "rig", _("lever, jack and gauge")
    OTHER = "other", _("other")


class PhotoQuerySet(VesselOwnedQuerySet["Photo"]):
    vessel_path: ClassVar[str] = "test__round__vessel"


class Photo(models.Model):
    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    test = models.ForeignKey(DrumTest, on_delete=models.PROTECT, related_name="photos")
    kind = models.CharField(_("what it shows"), max_length=8, choices=PhotoKind.choices)
    caption = models.CharField(_("caption"), max_length=160, blank=True)
    file = models.FileField(upload_to="photos/")
    sha256 = models.CharField(max_length=64)
    # Taken out of the draft; a submission that holds it keeps the file.
    removed_at = models.DateTimeField(null=True, blank=True)
    author = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(auto_now_add=True)

    objects = PhotoQuerySet.as_manager()

    class Meta:
        ordering = ["created_at"]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.caption}".strip()


class ConfirmationKind(models.TextChoices):
    INSTRUMENTS = "instruments", _("gauge and jack confirmed")
    RELEASE = "release", _("released by the master")


class ConfirmationQuerySet(VesselOwnedQuerySet["Confirmation"]):
    vessel_path: ClassVar[str] = "test__round__vessel"


class Confirmation(models.Model):
    """A dated act of a named person on exactly this content; another content needs another act."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    test = models.ForeignKey(DrumTest, on_delete=models.PROTECT, related_name="confirmations")
    kind = models.CharField(max_length=12, choices=ConfirmationKind.choices)
    content_sha256 = models.CharField(max_length=64)
    person = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    name = models.CharField(_("name"), max_length=120)
    rank = models.CharField(_("rank"), max_length=80)
    at = models.DateTimeField()

    objects = ConfirmationQuerySet.as_manager()

    class Meta:
        ordering = ["at"]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}: {self.rank} {self.name}"


class SubmissionQuerySet(VesselOwnedQuerySet["Submission"]):
    vessel_path: ClassVar[str] = "test__round__vessel"


class Submission(models.Model):
    """One immutable version of a test as the ship sent it: the bytes count, the columns only help to find it."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    test = models.ForeignKey(DrumTest, on_delete=models.PROTECT, related_name="submissions")
    version = models.PositiveSmallIntegerField()
    content = models.BinaryField()  # canonical UTF-8 of RFC 8785; bytes, because jsonb reorders keys
    sha256 = models.CharField(max_length=64)
    reason = models.CharField(_("reason for another version"), max_length=400, blank=True)
    submitted_at = models.DateTimeField()
    submitted_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    declared_name = models.CharField(max_length=120)
    declared_rank = models.CharField(max_length=80)
    particulars = models.ForeignKey(DrumParticulars, on_delete=models.PROTECT, related_name="+")
    gauge = models.ForeignKey(Gauge, on_delete=models.PROTECT, related_name="+")
    tested_on = models.DateField()
    outcome = models.CharField(max_length=18, choices=Outcome.choices)
    base_load_n = models.FloatField()
    target_share = models.FloatField()
    band_low = models.FloatField()
    band_high = models.FloatField()
    as_found_phase = models.CharField(max_length=20, blank=True)
    as_found_share = models.FloatField(null=True, blank=True)
    # It held up to this share and no slip was reached: "more than that".
    as_found_held = models.BooleanField(default=False)
    as_left_share = models.FloatField(null=True, blank=True)
    as_left_load_n = models.FloatField(null=True, blank=True)
    spread_share = models.FloatField(null=True, blank=True)
    # Found with the brake re-applied at the old mark, where it slipped: the as-found above may be the untouched one.
    reapplied_share = models.FloatField(null=True, blank=True)
    # Best estimate with its expanded uncertainty, and what the operator's rule makes of it; empty in older versions.
    estimate_share = models.FloatField(null=True, blank=True)
    expanded_share = models.FloatField(null=True, blank=True)
    decision_rule = models.CharField(max_length=10, blank=True)
    verdict = models.CharField(max_length=10, blank=True)
    setting_text = models.CharField(max_length=20, blank=True)
    setting_unit = models.CharField(max_length=8, blank=True)
    setting_si = models.FloatField(null=True, blank=True)

    objects = SubmissionQuerySet.as_manager()

    class Meta:
        ordering = ["-tested_on", "-submitted_at"]
        constraints = [models.UniqueConstraint(fields=["test", "version"], name="one_submission_per_version")]

    def __str__(self) -> str:
        return f"{self.test}, version {self.version}"

    @property
    def whisker(self) -> tuple[float, float] | None:
        """From where to where the true share lies with 95 %; None in a version without its uncertainty."""
        if self.estimate_share is None or self.expanded_share is None:
            return None
        return max(0.0, self.estimate_share - self.expanded_share), self.estimate_share + self.expanded_share


class FindingQuerySet(VesselOwnedQuerySet["Finding"]):
    vessel_path: ClassVar[str] = "submission__test__round__vessel"


class Finding(models.Model):
    """What the catalogue noticed in a submission, the ship's reply and the reviewer's answer."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    submission = models.ForeignKey(Submission, on_delete=models.PROTECT, related_name="findings")
    order = models.PositiveSmallIntegerField()
    code = models.CharField(max_length=60)
    level = models.CharField(
        max_length=6, choices=[("note", _("note")), ("ask", _("to be answered")), ("stop", _("stop"))]
    )
    template = models.TextField()
    figures = models.JSONField(default=dict, blank=True)
    ship_reply = models.CharField(_("the ship's reply"), max_length=400, blank=True)

    objects = FindingQuerySet.as_manager()

    class Meta:
        ordering = ["order"]

    def __str__(self) -> str:
        return self.code

    @property
    def sentence(self) -> str:
        return gettext(self.template).format(**self.figures)


class DecisionKind(models.TextChoices):
    APPROVED = "approved", _("approved")
    RETURNED = "returned", _("returned")
    REOPENED = "reopened", _("reopened for amendment")
    WITHDRAWN = "withdrawn", _("withdrawn")


class DecisionQuerySet(VesselOwnedQuerySet["Decision"]):
    vessel_path: ClassVar[str] = "submission__test__round__vessel"


class Decision(models.Model):
    """What shore decided on one submission, by whom, in which words."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    submission = models.ForeignKey(Submission, on_delete=models.PROTECT, related_name="decisions")
    kind = models.CharField(max_length=10, choices=DecisionKind.choices)
    sentence = models.CharField(_("sentence to the ship"), max_length=400, blank=True)
    # {finding code: answer} given with this decision
    finding_answers = models.JSONField(default=dict, blank=True)
    person = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    name = models.CharField(max_length=120)
    rank = models.CharField(max_length=80, blank=True)
    at = models.DateTimeField()

    objects = DecisionQuerySet.as_manager()

    class Meta:
        ordering = ["at"]
        constraints = [
            models.UniqueConstraint(
                fields=["submission"],
                condition=models.Q(kind__in=["approved", "returned"]),
                name="one_approval_or_return_per_submission",
            )
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} by {self.name}"
