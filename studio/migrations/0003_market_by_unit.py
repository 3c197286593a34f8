"""A studio that weighs in ounces or pounds sells in the United States until its owner says otherwise."""

from django.db import migrations


def guess(apps, schema_editor):
    apps.get_model("studio", "Studio").objects.filter(mass_unit__in=("oz", "lb")).update(market="us")


class Migration(migrations.Migration):
    dependencies = [("studio", "0002_market_and_label_words")]
    operations = [migrations.RunPython(guess, migrations.RunPython.noop)]
