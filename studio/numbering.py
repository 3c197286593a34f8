"""Giving out codes: the next one of a prefix, each once."""

from django.db import transaction

from studio.core.codes import make_code
from studio.models import Counter


@transaction.atomic
def next_codes(prefix: str, how_many: int) -> list[str]:
    """The next `how_many` codes of one prefix, in order.

    Holds the prefix's row until the transaction ends, so codes have no gaps; take codes last, after every other
    lock, and two verbs can never wait for each other.
    """
    Counter.objects.get_or_create(prefix=prefix)
    counter = Counter.objects.select_for_update().get(prefix=prefix)
    codes: list[str] = []
    while len(codes) < how_many:
        counter.last += 1
        if code := make_code(prefix, counter.last):
            codes.append(code)
    counter.save(update_fields=["last"])
    return codes
