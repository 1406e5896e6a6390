import uuid

from django.db import models


class AuditEntry(models.Model):
    """One act of one person on one thing; the table only grows (triggers refuse change).

    Entries of a company form a chain: each holds the hash of the one before, and its own hash is a leaf of the tree
    whose head is signed with every certificate.
    """

    at = models.DateTimeField()
    # Set where the act belongs to a test: how far ship's time was from UTC.
    utc_offset_minutes = models.SmallIntegerField(null=True, blank=True)
    # Plain columns, no foreign keys: an entry outlives what it speaks of.
    company_id = models.UUIDField(null=True, db_index=True)
    actor_id = models.UUIDField(null=True, blank=True)
    actor_name = models.CharField(max_length=200)
    action = models.CharField(max_length=60)
    subject_kind = models.CharField(max_length=60)
    subject_id = models.UUIDField(default=uuid.uuid4, db_index=True)
    subject_name = models.CharField(max_length=200)
    vessel_id = models.UUIDField(null=True, db_index=True)
    reason = models.TextField(blank=True)
    before = models.JSONField(null=True, blank=True)
    after = models.JSONField(null=True, blank=True)
    came_from = models.CharField(max_length=60, blank=True)
    # The company's id; one chain of its own for what belongs to no company.
    chain = models.UUIDField()
    sequence = models.PositiveBigIntegerField()
    previous_hash = models.CharField(max_length=64, blank=True)
    # RFC 8785 bytes of everything above: what is hashed. A database may reorder JSON, never these.
    canonical = models.BinaryField()
    entry_hash = models.CharField(max_length=64)

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["chain", "sequence"], name="audit_one_entry_per_place")]

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d %H:%M} {self.actor_name} {self.action} {self.subject_name}"


class AuditHead(models.Model):
    """How far a chain has grown; its row is held while entries are added to the chain."""

    chain = models.UUIDField(primary_key=True, editable=False)
    size = models.PositiveBigIntegerField(default=0)
    last_hash = models.CharField(max_length=64, blank=True)
    # Heads of the full subtrees as hexadecimal text, the largest first.
    peaks = models.JSONField(default=list)

    def __str__(self) -> str:
        return f"{self.chain}: {self.size}"


class Counted(models.Model):
    """How often something was tried in one window of time; the key is a hash and tells nothing of who tried."""

    key = models.CharField(max_length=64, primary_key=True)
    number = models.PositiveIntegerField()
    # Seconds since 1970; rows whose window has ended are swept away by later ones.
    ends = models.PositiveBigIntegerField(db_index=True)

    class Meta:
        verbose_name_plural = "counted"

    def __str__(self) -> str:
        return f"{self.number} until {self.ends}"
