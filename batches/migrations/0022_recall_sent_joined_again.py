"""Backwards only: what later steps froze of a dispatch is added to the row that froze it first, which was the only one."""

from django.db import migrations


def join(apps, schema_editor):
    rows = apps.get_model("batches", "RecallSent").objects.order_by("pk")
    first = {}
    for row in rows.iterator():
        kept = first.setdefault((row.recall_id, row.lot_id, row.dispatch_id), row)
        if kept.pk != row.pk:
            kept.quantity += row.quantity
            kept.save(update_fields=["quantity"])
            row.delete()


class Migration(migrations.Migration):
    dependencies = [("batches", "0021_recall_takes_in_more_of_a_dispatch")]
    operations = [migrations.RunPython(migrations.RunPython.noop, join)]
