"""A result that was taken back and is entered anew keeps its lot: several lines of a yield may name it."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("batches", "0023_pots"),
        ("inventory", "0014_shops_and_retention"),
    ]

    operations = [
        migrations.AddField(
            model_name="outcome",
            name="begins",
            field=models.OneToOneField(
                blank=True,
                editable=False,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="outcome",
                to="inventory.lot",
            ),
        ),
        migrations.AlterField(
            model_name="outcome",
            name="lot",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="outcomes",
                to="inventory.lot",
            ),
        ),
        migrations.AddConstraint(
            model_name="outcome",
            constraint=models.CheckConstraint(
                condition=models.Q(("begins__isnull", True), ("begins", models.F("lot")), _connector="OR"),
                name="outcome_begins_its_own_lot",
            ),
        ),
    ]
