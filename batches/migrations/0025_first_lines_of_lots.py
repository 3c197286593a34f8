"""Until now each lot had one line of a yield: that line begins it. Going back is refused where a lot has several by now,
as the older program knows of one."""

from django.db import migrations
from django.db.models import Count, F


def begin(apps, schema_editor):
    apps.get_model("batches", "Outcome").objects.exclude(lot=None).update(begins=F("lot"))


def one_each(apps, schema_editor):
    lines = apps.get_model("batches", "Outcome").objects.exclude(lot=None).order_by().values("lot")
    several = lines.annotate(lines=Count("pk")).filter(lines__gt=1).count()
    if several:
        raise RuntimeError(
            f"{several} lots have a result that was entered anew. The older program cannot hold that; "
            "go back to a backup of its time instead."
        )


class Migration(migrations.Migration):
    dependencies = [("batches", "0024_lots_of_results")]
    operations = [migrations.RunPython(begin, one_each)]
