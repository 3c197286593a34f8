"""What a studio begins with and changes afterwards: reasons, classes of items to count, and label layouts.

Reasons; cuts at 80 and 95 per cent of the yearly value, counts four, two and one times a year, tolerances of 1, 3 and 5 per
cent; sizes of sheets and rolls: common practice, no source. The layouts of 99.1 × 67.7 mm and 4 × 2 in have room for a
warning with chemical hazard labeling. Lengths in micrometers, 1 in = 25 400 µm; shares in parts per million.
"""

from django.db import migrations

REASONS = {
    "scrap": ("Spilled", "Contaminated", "Past its date", "Broken", "Left in the container", "Burned or discoloured"),
    "sample": ("Retained sample", "Test pour", "Burn test", "For a customer to try"),
    "sent_back": ("Faulty", "Not what was ordered", "Too much delivered"),
    "found": ("Miscounted earlier", "Stood in another place", "Container held more than it said"),
    "correction": ("Delivery entered in the wrong unit", "Delivery mis-keyed", "Scale was off"),
    "count": (
        "Weighed out and not written down",
        "Left in the container",
        "Spilled and not written down",
        "Taken from the wrong lot",
        "Miscounted earlier",
        "Cause not known",
    ),
}
# letter, share of the yearly value up to which it reaches, counts a year, tolerance
CLASSES = (("A", 800_000, 4, 10_000), ("B", 950_000, 2, 30_000), ("C", 1_000_000, 1, 50_000))
LAYOUTS = (
    # name, page, rows × columns, left and top margin, label, gaps; the first is the usual one
    ("A4, 3 × 8, 70 × 37 mm", (210_000, 297_000), (8, 3), (0, 500), (70_000, 37_000), (0, 0)),
    ("US Letter, 3 × 10, 2.625 × 1 in", (215_900, 279_400), (10, 3), (4_762, 12_700), (66_675, 25_400), (3_175, 0)),
    ("Roll, 62 × 29 mm", (62_000, 29_000), (1, 1), (0, 0), (62_000, 29_000), (0, 0)),
    ("A4, 2 × 4, 99.1 × 67.7 mm", (210_000, 297_000), (4, 2), (4_650, 13_100), (99_100, 67_700), (2_500, 0)),
    ("US Letter, 2 × 5, 4 × 2 in", (215_900, 279_400), (5, 2), (3_969, 12_700), (101_600, 50_800), (4_762, 0)),
)


def add(apps, schema_editor):
    Reason = apps.get_model("inventory", "Reason")
    Reason.objects.bulk_create(Reason(kind=kind, words=words) for kind, several in REASONS.items() for words in several)
    CountClass = apps.get_model("inventory", "CountClass")
    CountClass.objects.bulk_create(
        CountClass(letter=letter, share_ppm=share, times_a_year=times, tolerance_ppm=tolerance)
        for letter, share, times, tolerance in CLASSES
    )
    LabelLayout = apps.get_model("inventory", "LabelLayout")
    LabelLayout.objects.bulk_create(
        LabelLayout(
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
            is_default=name == LAYOUTS[0][0],
        )
        for name, page, (rows, columns), (left, top), label, (gap_x, gap_y) in LAYOUTS
    )


def take_away(apps, schema_editor):
    Reason = apps.get_model("inventory", "Reason")
    for kind, several in REASONS.items():
        Reason.objects.filter(kind=kind, words__in=several).delete()
    apps.get_model("inventory", "CountClass").objects.filter(letter__in="ABC").delete()
    apps.get_model("inventory", "LabelLayout").objects.filter(name__in=[layout[0] for layout in LAYOUTS]).delete()


class Migration(migrations.Migration):
    dependencies = [("inventory", "0001_initial")]
    operations = [migrations.RunPython(add, take_away)]
