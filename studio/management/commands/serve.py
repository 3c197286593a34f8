"""`manage.py serve`: open the studio to browsers."""

from typing import Any

from django.conf import settings
from django.contrib.auth import get_user_model
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from inventory.shop_files import import_service
from studio import server

THIS_MACHINE = ("127.", "localhost", "::1")


class Command(BaseCommand):
    """Bring the database up to date, say where to look, and answer until stopped."""

    help = "Open the studio to browsers, bringing its database up to date first. Stop with Ctrl+C."

    def add_arguments(self, parser: CommandParser) -> None:
        """Where to listen; the settings say where when nothing is given."""
        parser.add_argument("--host", default=settings.HOST, help=f"address to listen on ({settings.HOST})")
        parser.add_argument(
            "--port", type=int, default=settings.PORT, help=f"port to listen on ({settings.PORT})"
        )

    def handle(self, *args: Any, host: str, port: int, **options: Any) -> None:
        """Refuse a bad address before anything is touched, then make ready and serve."""
        if settings.MODE == "local" and not host.startswith(THIS_MACHINE):
            raise CommandError(
                f"STUDIO_MODE=local is for this machine alone, and {host} is not. To open the studio to your "
                "network set STUDIO_MODE=lan and name its address in STUDIO_HOSTS."
            )
        server.claim(host, port)
        server.prepare()
        # They name people, and nobody may have brought in another since.
        import_service.drop_old(timezone.now())
        self.stdout.write("\n".join([where_to_look(host, port), *welcome_lines()]))
        self.stdout.flush()
        server.serve(host, port)


def where_to_look(host: str, port: int) -> str:
    """The address to type into a browser, as one sentence."""
    if settings.MODE != "local":
        host = settings.STUDIO_HOSTS[0].lstrip(".")
    if settings.MODE == "https":
        return f"Open https://{host} in a browser; the TLS proxy passes requests on to port {port}."
    return f"Open http://{f'[{host}]' if ':' in host else host}:{port} in a browser. Ctrl+C stops the studio."


def welcome_lines() -> list[str]:
    """What to know before the first visit; nothing once there is an owner."""
    if get_user_model().objects.exists():
        return []
    if settings.SETUP_CODE:
        return ["Nobody is here yet: the first visit creates the owner and asks for STUDIO_SETUP_CODE."]
    return ["Nobody is here yet: the first visit creates the owner. Make it now, before somebody else does."]
