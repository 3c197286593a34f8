"""Limits that ask for a whole life, carrying on whatever figures were in force.

A test ends with 12 mm of wax left (common practice, no source); the flame at the end is held to the same 75 mm as before it
(see the step that set the first limits); a weight is asked for after every cycle, since without one nobody knows how fast
a jar burned (common practice, no source). Tests that began before keep the limits they began with.
"""

from django.db import migrations

END = {"wax_left_um": 12_000, "end_flame_um": 75_000, "weight_asked": True}
CARRIED_ON = ("flame_um", "vessel_mc", "soot", "mushrooming", "full_pool_within_minutes", "cycles", "set_at")


def ask(apps, schema_editor):
    BurnLimits = apps.get_model("batches", "BurnLimits")
    BurnTest = apps.get_model("batches", "BurnTest")
    last = BurnLimits.objects.order_by("-set_at", "-pk").first()
    if last is None:
        return
    if last.set_by_id is None and not BurnTest.objects.filter(limits=last).exists():
        BurnLimits.objects.filter(pk=last.pk).update(**END)
        return
    # Dated as the row it carries on, so that whatever is set from now on comes after it; the later key is in force.
    BurnLimits.objects.create(**{name: getattr(last, name) for name in CARRIED_ON}, **END)


def ask_no_more(apps, schema_editor):
    """The columns go with the step before; a row that no test began with, and that carried on another, goes too."""
    BurnLimits = apps.get_model("batches", "BurnLimits")
    BurnTest = apps.get_model("batches", "BurnTest")
    ours = BurnLimits.objects.filter(set_by=None).exclude(wax_left_um=None).order_by("-pk").first()
    if ours is None or BurnTest.objects.filter(limits=ours).exists():
        return
    if BurnLimits.objects.filter(set_at=ours.set_at, pk__lt=ours.pk).exists():
        ours.delete()


class Migration(migrations.Migration):
    dependencies = [("batches", "0015_whole_life_of_burns")]
    operations = [migrations.RunPython(ask, ask_no_more)]
