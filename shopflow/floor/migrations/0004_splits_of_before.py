"""When and where the lots of before were split, as the ledger says: each split has one row there and made one lot."""

import json
from typing import Any

from django.db import migrations


def fill_in(apps: Any, _schema_editor: Any) -> None:
    lots, rows = apps.get_model("floor", "Lot").objects, apps.get_model("records", "LedgerRow").objects
    steps = apps.get_model("jobs", "Step").objects
    for parent in lots.filter(pk__in=lots.filter(parent__isnull=False).values("parent")):
        parts = lots.filter(parent=parent, split_at__isnull=True).order_by("pk")
        splits = rows.filter(kind="lot_split", subject_kind="lot", subject_id=parent.pk).order_by("seq")
        if len(parts) != len(splits):
            continue  # rows were changed behind the program's back: nothing is claimed
        for part, split in zip(parts, splits, strict=True):
            part.split_at = split.at
            part.split_step = steps.filter(job=part.job_id, op_number=json.loads(split.payload).get("op")).first()
            part.save(update_fields=["split_at", "split_step"])


class Migration(migrations.Migration):
    dependencies = [("floor", "0003_when_and_where_a_lot_was_split"), ("records", "0001_initial")]

    operations = [migrations.RunPython(fill_in, migrations.RunPython.noop)]
