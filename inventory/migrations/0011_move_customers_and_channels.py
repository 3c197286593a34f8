"""What dispatches and orders said of customers and channels becomes rows; backwards, the rows become texts again.

One name is one customer, and so is one name with one way to reach them where orders give it. Why goods left is read
from the channel where it says so.
"""

from django.db import migrations
from django.utils import timezone

AT_ONCE = 1_000
KINDS = ("wholesale", "event", "sample", "gift", "replacement")


def forwards(apps, schema_editor):
    models = {
        name: apps.get_model("inventory", name) for name in ("Channel", "Customer", "CustomerOrder", "Dispatch")
    }
    moving = Moving(models["Channel"], models["Customer"])
    # Orders first: they know how to reach people, and their dispatches name the same ones.
    for order in models["CustomerOrder"].objects.order_by("pk").iterator(chunk_size=AT_ONCE):
        order.customer = moving.customer(order.customer_text or "Customer", order.contact_text)
        order.channel = moving.channel(order.channel_text)
        order.save(update_fields=["customer", "channel"])
    batch = []
    for dispatch in models["Dispatch"].objects.order_by("pk").iterator(chunk_size=AT_ONCE):
        said = dispatch.channel_text.casefold()
        dispatch.customer = moving.customer(dispatch.to_text)
        dispatch.channel = moving.channel(dispatch.channel_text)
        dispatch.kind = next((kind for kind in KINDS if kind in said), "sale")
        batch.append(dispatch)
        if len(batch) == AT_ONCE:
            models["Dispatch"].objects.bulk_update(batch, ["customer", "channel", "kind"], batch_size=200)
            batch = []
    models["Dispatch"].objects.bulk_update(batch, ["customer", "channel", "kind"], batch_size=200)


class Moving:
    """Finds the row a text stands for, or makes it."""

    def __init__(self, channels, customers):
        self.now = timezone.now()
        self.channels, self.customers = channels, customers
        # As a database compares them, which knows capitals of plain letters only on SQLite.
        self.named, self.known = {_low(row.name): row for row in channels.objects.all()}, {}

    def channel(self, text):
        name = " ".join(text.split())
        if not name:
            return None
        if _low(name) not in self.named:
            self.named[_low(name)] = self.channels.objects.create(name=name)
        return self.named[_low(name)]

    def customer(self, text, reach=""):
        name, reach = " ".join(text.split()), reach.strip()
        if not name:
            return None
        key = (name.casefold(), "".join(reach.split()).casefold())
        # Who is only named is the first of that name.
        found = self.known.get(key) or (None if reach else self.known.get(name.casefold()))
        if found is None:
            found = self.customers.objects.create(name=name, reach=reach, added_at=self.now)
            self.known[key] = found
            self.known.setdefault(name.casefold(), found)
        return found


def _low(text):
    return text.lower()


def backwards(apps, schema_editor):
    for order in apps.get_model("inventory", "CustomerOrder").objects.select_related("customer", "channel"):
        reach = ", ".join(filter(None, (order.customer.contact, order.customer.reach)))
        order.customer_text = _called(order.customer)
        order.contact_text = reach[:200]
        order.channel_text = order.channel.name if order.channel else ""
        order.save(update_fields=["customer_text", "contact_text", "channel_text"])
    dispatches = apps.get_model("inventory", "Dispatch").objects
    for dispatch in dispatches.select_related("customer", "channel").iterator(chunk_size=AT_ONCE):
        dispatch.to_text = _called(dispatch.customer) if dispatch.customer else "not on record"
        dispatch.channel_text = dispatch.channel.name if dispatch.channel else ""
        dispatch.save(update_fields=["to_text", "channel_text"])
    dispatches.update(customer=None, channel=None)
    apps.get_model("inventory", "CustomerOrder").objects.update(customer=None, channel=None)
    apps.get_model("inventory", "Customer").objects.all().delete()
    apps.get_model("inventory", "Channel").objects.all().delete()


def _called(customer):
    return customer.name or f"Erased customer {customer.pk}"


class Migration(migrations.Migration):
    dependencies = [("inventory", "0010_customers_channels_and_returns")]
    operations = [migrations.RunPython(forwards, backwards)]
