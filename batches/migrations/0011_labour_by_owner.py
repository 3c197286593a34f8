from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("batches", "0010_defects_of_seconds")]
    operations = [
        migrations.AddField(
            model_name="labour",
            name="by_owner",
            field=models.BooleanField(default=False, verbose_name="the owner's own work"),
        ),
    ]
