"""Minutes noted before: nobody kept who owned the studio then, so those who own it now count, as they did until now."""

from django.db import migrations


def mark(apps, schema_editor):
    owners = apps.get_model("studio", "User").objects.filter(role="owner")
    apps.get_model("batches", "Labour").objects.filter(person__in=owners).update(by_owner=True)


class Migration(migrations.Migration):
    dependencies = [
        ("batches", "0011_labour_by_owner"),
        ("studio", "0001_initial"),
    ]
    operations = [migrations.RunPython(mark, migrations.RunPython.noop)]
