"""`manage.py check_books`: prove every cached figure, print what does not agree, fail when anything does not."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from batches import checks as batch_checks
from inventory import checks as stock_checks

CHECKS = (*stock_checks.CHECKS, *batch_checks.CHECKS)


class Command(BaseCommand):
    """Re-derive the books and compare."""

    help = "Re-derives every balance from the books and prints what does not agree."

    def handle(self, *args: Any, **options: Any) -> None:
        """Run every check; exit 1 when one has something to say."""
        found = 0
        for check in CHECKS:
            problems = 0
            for sentence in check():
                problems += 1
                self.stdout.write(f"  {sentence}")
            what = (check.__doc__ or check.__name__).splitlines()[0].rstrip(".")
            self.stdout.write(f"{'ok  ' if not problems else 'WRONG'} {what}")
            found += problems
        if found:
            raise CommandError(f"The books do not agree in {found} places.", returncode=1)
        self.stdout.write(self.style.SUCCESS("The books agree."))
