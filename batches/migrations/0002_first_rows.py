"""What a studio begins with and changes afterwards: defects and burn limits.

Defects are the trade's words (common practice, read on trade pages). A flame of at most 75 mm, at the end of a candle's life as
before it, stands in EN 15493:2019 as an exporter's page gives it, and as 3 in in ASTM F2417 from memory; soot and
mushrooming are common practice, no source. A test ends with 12 mm of wax left (common practice, no source), and a weight is
asked for after every cycle, since without one nobody knows how fast a jar burned (common practice, no source).
"""

from datetime import UTC, datetime

from django.db import migrations

DEFECTS = (
    "Sinkhole",
    "Wet spots",
    "Frosting",
    "Rough top",
    "Cracking",
    "Air bubbles",
    "Jump lines",
    "Discolouration",
    "Sweating",
    "Wick off centre",
    "Chipped vessel",
    "Underfilled",
    "Other",
)
FIRST_DAY = datetime(2000, 1, 1, tzinfo=UTC)


def add(apps, schema_editor):
    Defect = apps.get_model("batches", "Defect")
    Defect.objects.bulk_create(Defect(words=words) for words in DEFECTS)
    apps.get_model("batches", "BurnLimits").objects.create(
        flame_um=75_000,
        soot="slight",
        mushrooming="slight",
        cycles=3,
        wax_left_um=12_000,
        end_flame_um=75_000,
        weight_asked=True,
        set_at=FIRST_DAY,
    )


def take_away(apps, schema_editor):
    apps.get_model("batches", "Defect").objects.filter(words__in=DEFECTS).delete()
    apps.get_model("batches", "BurnLimits").objects.filter(set_at=FIRST_DAY).delete()


class Migration(migrations.Migration):
    dependencies = [("batches", "0001_initial")]
    operations = [migrations.RunPython(add, take_away)]
