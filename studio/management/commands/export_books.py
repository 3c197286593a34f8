"""`manage.py export_books`: everything the studio keeps, as one ZIP in open formats."""

import shutil
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from studio.home import data_export
from studio.models import Studio


class Command(BaseCommand):
    """Write the ZIP that the page "Take everything with you" hands out."""

    help = "Write everything the studio keeps as one ZIP: CSV, JSON, and the papers as files."

    def add_arguments(self, parser: CommandParser) -> None:
        """Where to write."""
        parser.add_argument("path", type=Path, help="the file to write, for example books.zip")

    def handle(self, *args: Any, path: Path, **options: Any) -> None:
        """Refuse to write over something; leave no half-written file."""
        if not Studio.objects.exists():
            raise CommandError("There is no studio yet; nothing was written.")
        try:
            with data_export.write_everything(timezone.now()) as books, path.open("xb") as file:
                shutil.copyfileobj(books, file)
        except FileExistsError as error:
            raise CommandError(f"{path} is there already. Give another name.") from error
        except OSError as error:
            path.unlink(missing_ok=True)
            raise CommandError(f"{path} cannot be written: {error.strerror}.") from error
        self.stdout.write(f"Everything is in {path}.")
