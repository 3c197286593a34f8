import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("batches", "0026_versions_corrected")]

    operations = [
        migrations.AddField(
            model_name="outcome",
            name="emptied",
            field=models.OneToOneField(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="melt",
                to="batches.outcome",
            ),
        ),
        migrations.AddField(
            model_name="outcome",
            name="weighed",
            field=models.BooleanField(default=True),
        ),
        migrations.AddConstraint(
            model_name="outcome",
            constraint=models.CheckConstraint(
                condition=models.Q(("emptied__isnull", True), ("result", "melt"), _connector="OR"),
                name="outcome_melt_of_emptied_units",
            ),
        ),
        migrations.AddConstraint(
            model_name="outcome",
            constraint=models.CheckConstraint(
                condition=models.Q(("weighed", True), ("emptied__isnull", False), _connector="OR"),
                name="outcome_unweighed_melt_is_of_units",
            ),
        ),
    ]
