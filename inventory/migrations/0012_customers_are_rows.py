"""The texts that became customers and channels go; every order has a customer."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("inventory", "0011_move_customers_and_channels")]

    operations = [
        migrations.RemoveField("dispatch", "to_text"),
        migrations.RemoveField("dispatch", "channel_text"),
        migrations.RemoveField("customerorder", "customer_text"),
        migrations.RemoveField("customerorder", "contact_text"),
        migrations.RemoveField("customerorder", "channel_text"),
        migrations.AlterField(
            model_name="customerorder",
            name="customer",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="orders", to="inventory.customer"
            ),
        ),
        migrations.AlterField(
            model_name="movement",
            name="kind",
            field=models.CharField(
                choices=[
                    ("received", "Received"),
                    ("made", "Made"),
                    ("found", "Found"),
                    ("decanted", "Decanted"),
                    ("drawn", "Drawn"),
                    ("dispatched", "Dispatched"),
                    ("returned", "Came back"),
                    ("scrapped", "Scrapped"),
                    ("sampled", "Sampled"),
                    ("sent_back", "Sent back"),
                    ("corrected", "Put right"),
                    ("counted", "Count difference"),
                    ("revalued", "Cost corrected"),
                ],
                max_length=10,
            ),
        ),
        migrations.AlterField(
            model_name="posting",
            name="kind",
            field=models.CharField(
                choices=[
                    ("receipt", "Receipt"),
                    ("decant", "Decanting"),
                    ("draw", "Draw"),
                    ("yield", "Yield"),
                    ("dispatch", "Dispatch"),
                    ("return", "Return"),
                    ("scrap", "Scrap"),
                    ("sample", "Sample"),
                    ("sent_back", "Back to supplier"),
                    ("found", "Found"),
                    ("correction", "Quantity put right"),
                    ("count", "Count"),
                    ("opening", "Opening stock"),
                    ("earlier", "From earlier records"),
                    ("revaluation", "Cost correction"),
                    ("reversal", "Reversal"),
                ],
                max_length=12,
            ),
        ),
    ]
