"""The classes a studio begins with, and reasons for what a count finds; it changes both afterwards.

Cuts at 80 and 95 per cent of the yearly value, counts four, two and one times a year, tolerances of 1, 3 and 5 per
cent: common practice, no source.
"""

from django.db import migrations

CLASSES = (("A", 800_000, 4, 10_000), ("B", 950_000, 2, 30_000), ("C", 1_000_000, 1, 50_000))
REASONS = (
    "Weighed out and not written down",
    "Left in the container",
    "Spilled and not written down",
    "Taken from the wrong lot",
    "Miscounted earlier",
    "Cause not known",
)


def add(apps, schema_editor):
    CountClass = apps.get_model("inventory", "CountClass")
    CountClass.objects.bulk_create(
        CountClass(letter=letter, share_ppm=share, times_a_year=times, tolerance_ppm=tolerance)
        for letter, share, times, tolerance in CLASSES
    )
    Reason = apps.get_model("inventory", "Reason")
    Reason.objects.bulk_create(Reason(kind="count", words=words) for words in REASONS)


def take_away(apps, schema_editor):
    apps.get_model("inventory", "CountClass").objects.filter(letter__in="ABC").delete()
    apps.get_model("inventory", "Reason").objects.filter(kind="count", words__in=REASONS).delete()


class Migration(migrations.Migration):
    dependencies = [("inventory", "0006_counting_orders_and_documents")]
    operations = [migrations.RunPython(add, take_away)]
