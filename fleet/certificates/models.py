import uuid
from datetime import date, datetime
from typing import ClassVar

from django.db import models
from django.utils.functional import cached_property
from django.utils.translation import gettext_lazy as _

from fleet.accounts.models import Company
from fleet.certificates.since import Remark, failure_remark, retest_remark, since_columns
from fleet.records.models import Submission
from fleet.vessels.models import VesselOwnedQuerySet


class NumberSeries(models.Model):
    """The last certificate number given in a company and year; locked while the next is taken."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    company = models.ForeignKey(Company, on_delete=models.PROTECT, related_name="+")
    year = models.PositiveSmallIntegerField()
    last = models.PositiveIntegerField(default=0)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["company", "year"], name="one_number_series_per_year")]
        verbose_name_plural = "number series"

    def __str__(self) -> str:
        return f"{self.company} {self.year}: {self.last}"


class CertificateState(models.TextChoices):
    ISSUED = "issued", _("issued")
    SUPERSEDED = "superseded", _("superseded")
    WITHDRAWN = "withdrawn", _("withdrawn")


class CertificateQuerySet(VesselOwnedQuerySet["Certificate"]):
    vessel_path: ClassVar[str] = "submission__test__round__vessel"

    def whole(self) -> "CertificateQuerySet":
        """With what a list shows of them, in one query; the bytes stay where they are."""
        return (
            self.with_since()
            .select_related(
                "submission__test__drum__winch", "submission__test__round__vessel__company", "superseded_by"
            )
            .defer(
                "snapshot",
                "audit_proof",
                "submission__content",
                "superseded_by__snapshot",
                "superseded_by__audit_proof",
            )
        )

    def with_since(self) -> "CertificateQuerySet":
        """With what came after each one's test, in the same query."""
        return self.annotate(**since_columns())


class Certificate(models.Model):
    """A numbered certificate of one approved submission."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    number = models.CharField(_("number"), max_length=30, unique=True)
    submission = models.OneToOneField(Submission, on_delete=models.PROTECT, related_name="certificate")
    # What the PDF is made from: canonical bytes, fixed in the transaction of approval.
    snapshot = models.BinaryField()
    snapshot_sha256 = models.CharField(max_length=64)
    # The audit entry of the issue with its way to the head of the company's entries at that moment: canonical bytes.
    # Empty for what was issued before entries were chained.
    audit_proof = models.BinaryField(default=b"")
    audit_size = models.PositiveBigIntegerField(null=True, blank=True, editable=False)
    audit_root = models.CharField(max_length=64, blank=True)
    code = models.CharField(_("verification code"), max_length=24, unique=True)
    issued_at = models.DateTimeField()
    state = models.CharField(max_length=10, choices=CertificateState.choices, default=CertificateState.ISSUED)
    state_changed_at = models.DateTimeField(null=True, blank=True)
    state_reason = models.CharField(max_length=400, blank=True)
    superseded_by = models.ForeignKey(
        "self", on_delete=models.PROTECT, related_name="supersedes", null=True, blank=True
    )
    # Made after the commit, or at the first download when that failed.
    pdf = models.FileField(upload_to="certificates/", blank=True)
    pdf_sha256 = models.CharField(max_length=64, blank=True)

    # Columns of with_since(): no fields of the table.
    failed_since_on: date | None
    failed_since_outcome: str | None
    event_since_on: date | None
    event_since_kind: str | None
    order_since_at: datetime | None

    objects = CertificateQuerySet.as_manager()

    class Meta:
        ordering = ["-issued_at", "-number"]

    def __str__(self) -> str:
        return self.number

    @cached_property
    def remarks(self) -> tuple[Remark, ...]:
        """What has to stand beside the state wherever it is shown: what came after the test."""
        known = "failed_since_on" in self.__dict__
        row = self if known else Certificate.objects.with_since().defer("snapshot").get(pk=self.pk)
        found = failure_remark(row.failed_since_on, row.failed_since_outcome)
        # One that is superseded or withdrawn says already that it is not to be relied on.
        if row.state != CertificateState.ISSUED:
            return tuple(found)
        return (*found, *retest_remark(row.event_since_on, row.event_since_kind, row.order_since_at))

    @property
    def state_words(self) -> str:
        """The state with its remarks, for papers and tables without shapes."""
        return "; ".join([self.get_state_display(), *(remark.sentence for remark in self.remarks)])
