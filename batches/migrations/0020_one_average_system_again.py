"""Backwards only: a check by the rule of Great Britain is one by the average system, as it was before there were two names."""

from django.db import migrations


def join(apps, schema_editor):
    apps.get_model("batches", "FillCheck").objects.filter(market="gb").update(market="eu")


class Migration(migrations.Migration):
    dependencies = [("batches", "0019_fill_rule_of_great_britain")]
    operations = [migrations.RunPython(migrations.RunPython.noop, join)]
