import uuid

from django.db import models


class AuditEntry(models.Model):
    """One act of one person on one thing; the table only grows (triggers refuse change)."""

    at = models.DateTimeField()
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

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d %H:%M} {self.actor_name} {self.action} {self.subject_name}"
