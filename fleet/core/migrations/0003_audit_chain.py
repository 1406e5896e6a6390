from django.db import migrations, models

from fleet.core.audit_guard import lift_guard


def take_down(apps, schema_editor):
    """The entries that are there are about to be given their places."""
    lift_guard(schema_editor.connection)


class Migration(migrations.Migration):
    dependencies = [("core", "0002_audit_guard")]

    operations = [
        migrations.CreateModel(
            name="AuditHead",
            fields=[
                ("chain", models.UUIDField(editable=False, primary_key=True, serialize=False)),
                ("size", models.PositiveBigIntegerField(default=0)),
                ("last_hash", models.CharField(blank=True, max_length=64)),
                ("peaks", models.JSONField(default=list)),
            ],
        ),
        migrations.RunPython(take_down, migrations.RunPython.noop),
        migrations.AddField("auditentry", "utc_offset_minutes", models.SmallIntegerField(blank=True, null=True)),
        migrations.AddField("auditentry", "chain", models.UUIDField(null=True)),
        migrations.AddField("auditentry", "sequence", models.PositiveBigIntegerField(null=True)),
        migrations.AddField("auditentry", "previous_hash", models.CharField(blank=True, default="", max_length=64)),
        migrations.AddField("auditentry", "canonical", models.BinaryField(default=b"")),
        migrations.AddField("auditentry", "entry_hash", models.CharField(default="", max_length=64)),
    ]
