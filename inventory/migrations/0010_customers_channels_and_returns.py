"""Customers and channels as rows of their own, returns, and why goods left; the old texts stay until they are moved."""

import django.db.models.deletion
import django.db.models.functions.text
import studio.fields
from django.conf import settings
from django.db import migrations, models

KINDS = [
    ("sale", "Sale"),
    ("wholesale", "Wholesale"),
    ("event", "Event order"),
    ("sample", "Sample"),
    ("gift", "Gift"),
    ("replacement", "Replacement"),
]


def old_text(length):
    return models.CharField(max_length=length, blank=True, default="")


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0009_reorder"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Channel",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("name", models.CharField(max_length=60)),
                (
                    "retired",
                    models.BooleanField(
                        default=False, help_text="Stays on what was sent and is no longer offered."
                    ),
                ),
            ],
            options={"ordering": [django.db.models.functions.text.Lower("name")]},
        ),
        migrations.CreateModel(
            name="Customer",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("name", models.CharField(blank=True, max_length=120)),
                ("contact", models.CharField(blank=True, max_length=120, verbose_name="whom to ask for")),
                ("reach", models.TextField(blank=True, max_length=500, verbose_name="how to reach them")),
                ("is_person", models.BooleanField(default=True, verbose_name="a private person")),
                ("added_at", models.DateTimeField()),
                ("erased_at", models.DateTimeField(blank=True, null=True)),
                (
                    "erased_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={"ordering": [django.db.models.functions.text.Lower("name"), "pk"]},
        ),
        migrations.CreateModel(
            name="Return",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "dispatch",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="returns",
                        to="inventory.dispatch",
                    ),
                ),
                (
                    "posting",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="goods_return",
                        to="inventory.posting",
                    ),
                ),
            ],
            options={"ordering": ["-pk"]},
        ),
        migrations.CreateModel(
            name="ReturnLine",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("quantity", studio.fields.ExactIntegerField()),
                (
                    "goods_return",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="lines",
                        to="inventory.return",
                    ),
                ),
                (
                    "lot",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="came_back_from",
                        to="inventory.lot",
                    ),
                ),
                (
                    "source",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="came_back_as",
                        to="inventory.lot",
                    ),
                ),
            ],
            options={"ordering": ["pk"]},
        ),
        migrations.AddConstraint(
            model_name="channel",
            constraint=models.UniqueConstraint(
                django.db.models.functions.text.Lower("name"),
                name="dispatch_channel_name_once",
                violation_error_message="A channel of this name exists already.",
            ),
        ),
        migrations.AddIndex(
            model_name="customer",
            index=models.Index(django.db.models.functions.text.Lower("name"), name="customer_by_name"),
        ),
        migrations.AddConstraint(
            model_name="customer",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("erased_at__isnull", True),
                    models.Q(("contact", ""), ("name", ""), ("reach", "")),
                    _connector="OR",
                ),
                name="customer_erased_has_nothing_personal",
            ),
        ),
        migrations.AddConstraint(
            model_name="customer",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("erased_at__isnull", False), models.Q(("name", ""), _negated=True), _connector="OR"
                ),
                name="customer_has_a_name",
            ),
        ),
        migrations.AddConstraint(
            model_name="returnline",
            constraint=models.CheckConstraint(
                condition=models.Q(("quantity__gt", 0)), name="return_line_brings_something"
            ),
        ),
        migrations.AddConstraint(
            model_name="returnline",
            constraint=models.CheckConstraint(
                condition=models.Q(("source", models.F("lot")), _negated=True),
                name="return_line_is_a_lot_of_its_own",
            ),
        ),
        # The texts make way for keys of the same name.
        migrations.RenameField("dispatch", "to", "to_text"),
        migrations.RenameField("dispatch", "channel", "channel_text"),
        migrations.RenameField("customerorder", "customer", "customer_text"),
        migrations.RenameField("customerorder", "contact", "contact_text"),
        migrations.RenameField("customerorder", "channel", "channel_text"),
        migrations.AlterField("dispatch", "to_text", old_text(120)),
        migrations.AlterField("dispatch", "channel_text", old_text(60)),
        migrations.AlterField("customerorder", "customer_text", old_text(120)),
        migrations.AlterField("customerorder", "contact_text", old_text(200)),
        migrations.AlterField("customerorder", "channel_text", old_text(60)),
        migrations.AddField(
            model_name="dispatch",
            name="kind",
            field=models.CharField(choices=KINDS, default="sale", max_length=12),
        ),
        migrations.AddField(
            model_name="dispatch",
            name="customer",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="dispatches",
                to="inventory.customer",
            ),
        ),
        migrations.AddField(
            model_name="dispatch",
            name="channel",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="dispatches",
                to="inventory.channel",
            ),
        ),
        migrations.AddField(
            model_name="customerorder",
            name="customer",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="orders",
                to="inventory.customer",
            ),
        ),
        migrations.AddField(
            model_name="customerorder",
            name="channel",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="orders",
                to="inventory.channel",
            ),
        ),
        migrations.AddConstraint(
            model_name="dispatch",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("kind__in", ("sale", "wholesale", "event", "sample", "gift", "replacement"))
                ),
                name="dispatch_kind_is_known",
            ),
        ),
        migrations.AddIndex(
            model_name="dispatch",
            index=models.Index(
                condition=models.Q(("reference", ""), _negated=True),
                fields=["reference"],
                name="dispatch_by_reference",
            ),
        ),
    ]
