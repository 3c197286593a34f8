"""`manage.py erase_customers`: erase what is personal of customers whose time is over, by the studio's own rule.

For a timer on the machine. It says how many, never whom. Files of shops that waited for a day go as well.
"""

from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from inventory.customers import retention
from inventory.shop_files import import_service
from studio.models import Role, Studio, User
from studio.people.signature import Signature


class Command(BaseCommand):
    """Erase by the rule, or with `--dry-run` only say how many it would be."""

    help = "Erases what is personal of customers after the months the owner set."

    def add_arguments(self, parser: Any) -> None:
        """`--dry-run` erases nobody."""
        parser.add_argument("--dry-run", action="store_true", help="Only say how many would be erased.")

    def handle(self, *args: Any, **options: Any) -> None:
        """Erase; the owner who set the rule signs."""
        studio = Studio.objects.first()
        if studio is None:
            raise CommandError("There is no studio yet.")
        rule = retention.rule()
        if not options["dry_run"]:
            import_service.drop_old(timezone.now())
        if not rule.months:
            self.stdout.write("The owner set no months, so nobody is erased.")
            return
        with timezone.override(studio.time_zone):
            now, day = timezone.now(), timezone.localdate()
            if options["dry_run"]:
                self.stdout.write(f"{len(retention.due(rule.months, day))} would be erased.")
                return
            by = rule.set_by or User.objects.filter(role=Role.OWNER).order_by("pk")[0]
            signature = Signature(by=by, happened_at=now, recorded_at=now)
            self.stdout.write(f"{retention.erase_due(day, signature=signature)} erased.")
