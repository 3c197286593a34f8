"""The reasons a studio begins with; it edits the list afterwards. Common practice, no source."""

from django.db import migrations

FIRST = {
    "scrap": ("Spilled", "Contaminated", "Past its date", "Broken", "Left in the container", "Burned or discoloured"),
    "sample": ("Retained sample", "Test pour", "Burn test", "For a customer to try"),
    "sent_back": ("Faulty", "Not what was ordered", "Too much delivered"),
    "found": ("Miscounted earlier", "Stood in another place", "Container held more than it said"),
    "correction": ("Delivery entered in the wrong unit", "Delivery mis-keyed", "Scale was off"),
}


def add(apps, schema_editor):
    Reason = apps.get_model("inventory", "Reason")
    Reason.objects.bulk_create(Reason(kind=kind, words=words) for kind, several in FIRST.items() for words in several)


def take_away(apps, schema_editor):
    Reason = apps.get_model("inventory", "Reason")
    for kind, several in FIRST.items():
        Reason.objects.filter(kind=kind, words__in=several).delete()


class Migration(migrations.Migration):
    dependencies = [("inventory", "0002_decanting_and_reasons")]
    operations = [migrations.RunPython(add, take_away)]
