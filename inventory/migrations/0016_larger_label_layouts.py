"""Two larger layouts, on which a warning with chemical hazard labeling has room; the studio edits the list afterwards.

Common sizes of sheets: common practice, no source. All lengths in micrometres, 1 in = 25 400 µm.
"""

from django.db import migrations

LARGER = (
    # name, page, rows × columns, left and top margin, label, gaps
    ("A4, 2 × 4, 99.1 × 67.7 mm", (210_000, 297_000), (4, 2), (4_650, 13_100), (99_100, 67_700), (2_500, 0)),
    (
        "US Letter, 2 × 5, 4 × 2 in",
        (215_900, 279_400),
        (5, 2),
        (3_969, 12_700),
        (101_600, 50_800),
        (4_762, 0),
    ),
)


def add(apps, schema_editor):
    LabelLayout = apps.get_model("inventory", "LabelLayout")
    for name, page, (rows, columns), (left, top), label, (gap_x, gap_y) in LARGER:
        if LabelLayout.objects.filter(name=name).exists():
            continue  # the studio has one of that name
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
            is_default=False,
        )


def take_away(apps, schema_editor):
    apps.get_model("inventory", "LabelLayout").objects.filter(name__in=[row[0] for row in LARGER]).delete()


class Migration(migrations.Migration):
    dependencies = [("inventory", "0015_pack_contents")]
    operations = [migrations.RunPython(add, take_away)]
