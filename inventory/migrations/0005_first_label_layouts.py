"""The label layouts a studio begins with, named by their size alone; it edits the list afterwards.

Common sizes of sheet and roll: common practice, no source. All lengths in micrometres, 1 in = 25 400 µm.
"""

from django.db import migrations

FIRST = (
    # name, page, rows × columns, left and top margin, label, gaps, usual
    ("A4, 3 × 8, 70 × 37 mm", (210_000, 297_000), (8, 3), (0, 500), (70_000, 37_000), (0, 0), True),
    ("US Letter, 3 × 10, 2.625 × 1 in", (215_900, 279_400), (10, 3), (4_762, 12_700), (66_675, 25_400), (3_175, 0), False),
    ("Roll, 62 × 29 mm", (62_000, 29_000), (1, 1), (0, 0), (62_000, 29_000), (0, 0), False),
)


def add(apps, schema_editor):
    LabelLayout = apps.get_model("inventory", "LabelLayout")
    for name, page, (rows, columns), (left, top), label, (gap_x, gap_y), usual in FIRST:
        LabelLayout.objects.create(
            name=name,
            page_width_um=page[0],
            page_height_um=page[1],
            rows=rows,
            columns=columns,
            left_um=left,
            top_um=top,
            label_width_um=label[0],
            label_height_um=label[1],
            gap_x_um=gap_x,
            gap_y_um=gap_y,
            is_default=usual,
        )


def take_away(apps, schema_editor):
    apps.get_model("inventory", "LabelLayout").objects.filter(name__in=[first[0] for first in FIRST]).delete()


class Migration(migrations.Migration):
    dependencies = [("inventory", "0004_label_layouts")]
    operations = [migrations.RunPython(add, take_away)]
