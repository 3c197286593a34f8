"""What `manage.py check_books` proves about tables that were brought in."""

from collections.abc import Iterator

from django.db.models import Count, Exists, OuterRef

from inventory.models import Import, ImportedRow, Movement, Posting


def imports_fit() -> Iterator[str]:
    """Every opening and every past movement came with a table, and every row of one is in the books."""
    lost = Posting.objects.filter(
        kind__in=(Posting.Kind.OPENING, Posting.Kind.EARLIER), imported_rows__isnull=True
    )
    for pk in lost.values_list("pk", flat=True):
        yield f"Posting {pk} says it came with a table, and no table has it."
    moved = Movement.objects.filter(posting=OuterRef("posting"), lot=OuterRef("lot"))
    for lot, posting in (
        ImportedRow.objects.filter(~Exists(moved)).values_list("lot__code", "posting").iterator()
    ):
        yield f"A row of a table is about lot {lot}, and posting {posting} does not move it."
    lots = (Import.Table.LOTS, Import.Table.MOVEMENTS)
    runs = Import.objects.filter(table__in=lots).annotate(there=Count("imported_rows"))
    for pk, added, there in runs.order_by("pk").values_list("pk", "added", "there"):
        if added != there:
            yield f"Import {pk} added {added} rows and {there} are on record."


CHECKS = (imports_fit,)
