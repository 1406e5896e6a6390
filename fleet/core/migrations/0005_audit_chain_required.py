from django.db import migrations, models

from fleet.core.audit_guard import lift_guard, raise_guard


def put_up(apps, schema_editor):
    raise_guard(schema_editor.connection)


def take_down(apps, schema_editor):
    lift_guard(schema_editor.connection)


class Migration(migrations.Migration):
    dependencies = [("core", "0004_audit_chain_links")]

    operations = [
        migrations.AlterField("auditentry", "chain", models.UUIDField()),
        migrations.AlterField("auditentry", "sequence", models.PositiveBigIntegerField()),
        migrations.AlterField("auditentry", "previous_hash", models.CharField(blank=True, max_length=64)),
        migrations.AlterField("auditentry", "canonical", models.BinaryField()),
        migrations.AlterField("auditentry", "entry_hash", models.CharField(max_length=64)),
        migrations.AddConstraint(
            "auditentry", models.UniqueConstraint(fields=("chain", "sequence"), name="audit_one_entry_per_place")
        ),
        migrations.RunPython(put_up, take_down),
    ]
