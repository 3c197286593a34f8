"""Where a day begins and ends on the studio's clock."""

from datetime import date, datetime, time, timedelta

from django.utils import timezone


def begin(day: date) -> datetime:
    """The first instant of a day."""
    return timezone.make_aware(datetime.combine(day, time.min))


def first_instant_after(day: date) -> datetime:
    """The first instant of the next day."""
    return begin(day + timedelta(days=1))
