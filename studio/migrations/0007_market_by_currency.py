"""A studio sold in "EU or UK" that keeps its books in pounds sells in Great Britain until its owner says otherwise."""

from django.db import migrations


def part(apps, schema_editor):
    apps.get_model("studio", "Studio").objects.filter(market="eu", currency="GBP").update(market="gb")


def join(apps, schema_editor):
    apps.get_model("studio", "Studio").objects.filter(market="gb").update(market="eu")


class Migration(migrations.Migration):
    dependencies = [("studio", "0006_market_of_great_britain")]
    operations = [migrations.RunPython(part, join)]
