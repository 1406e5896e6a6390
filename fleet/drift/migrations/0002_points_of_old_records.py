"""A point for each test that was approved before there were points."""

import json
from typing import Any

from django.db import migrations

from fleet.drift.taken_out import taken_out

COPIED = (
    "tested_on",
    "setting_unit",
    "setting_si",
    "as_left_share",
    "as_found_phase",
    "as_found_share",
    "as_found_held",
    "target_share",
    "band_low",
    "band_high",
)
TAKEN_OUT = ("setting_kind", "lining_m", "slope_share_per_si", "gauge_share")
AT_ONCE = 500


def make_points(apps: Any, schema_editor: Any) -> None:
    point, decision = apps.get_model("drift", "HistoryPoint"), apps.get_model("records", "Decision")
    approved = decision.objects.filter(kind="approved").exclude(submission__test__state="withdrawn")
    # Rising, so that the newest approved version of a test comes last.
    versions = approved.order_by("submission__version").values_list("submission__test", "submission")
    newest = list(dict(versions).values())
    submission = apps.get_model("records", "Submission")
    for start in range(0, len(newest), AT_ONCE):
        rows = submission.objects.filter(pk__in=newest[start : start + AT_ONCE]).select_related("test")
        point.objects.bulk_create(_point(point, row) for row in rows)


def _point(point: Any, row: Any) -> Any:
    content = json.loads(bytes(row.content))
    values = taken_out(content, base_load_n=row.base_load_n, target_share=row.target_share)
    return point(
        test_id=row.test_id,
        submission_id=row.pk,
        drum_id=row.test.drum_id,
        round_id=row.test.round_id,
        gauge_id=row.gauge_id,
        set_in_band=row.outcome == "set_in_band",
        **{name: getattr(row, name) for name in COPIED},
        **{name: values[name] for name in TAKEN_OUT},
    )


class Migration(migrations.Migration):
    dependencies = [("drift", "0001_initial"), ("records", "0003_load_trust")]

    operations = [migrations.RunPython(make_points, migrations.RunPython.noop, elidable=True)]
