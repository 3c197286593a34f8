#!/usr/bin/env python
"""The studio's commands: `demo`, `serve`, `check_books` and Django's own."""

import os
import sys

COMMANDS_ON_DEMONSTRATION = {"demo"}


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.settings")
    if len(sys.argv) > 1 and sys.argv[1] in COMMANDS_ON_DEMONSTRATION:
        # Decided before the settings are read, so that the demonstration can never reach the studio's own books.
        os.environ["STUDIO_DEMO"] = "true"
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
