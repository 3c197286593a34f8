"""Batches that were over before their ends were kept: finished ones at their time, given up ones at their last draw."""

from django.db import migrations
from django.db.models import Max


def add(apps, schema_editor):
    Batch = apps.get_model("batches", "Batch")
    BatchEnd = apps.get_model("batches", "BatchEnd")
    over = Batch.objects.filter(state__in=("finished", "abandoned")).annotate(
        drawn_at=Max("draws__movement__posting__happened_at"),
        out_at=Max("outcomes__posting__happened_at"),
    )
    BatchEnd.objects.bulk_create(
        BatchEnd(batch_id=batch.pk, sign=1, happened_at=at, recorded_at=at, by_id=batch.planned_by_id)
        for batch in over.order_by("pk")
        for at in (batch.finished_at or batch.out_at or batch.drawn_at or batch.planned_at,)
    )


def take_away(apps, schema_editor):
    apps.get_model("batches", "BatchEnd").objects.all().delete()


class Migration(migrations.Migration):
    dependencies = [("batches", "0007_ends_of_batches")]
    operations = [migrations.RunPython(add, take_away)]
