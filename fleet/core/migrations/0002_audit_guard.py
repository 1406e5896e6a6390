from django.db import migrations

from fleet.core.audit_guard import lift_guard, raise_guard


def put_up(apps, schema_editor):
    raise_guard(schema_editor.connection)


def take_down(apps, schema_editor):
    lift_guard(schema_editor.connection)


class Migration(migrations.Migration):
    dependencies = [("core", "0001_initial")]

    operations = [migrations.RunPython(put_up, take_down)]
