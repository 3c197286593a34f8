"""Start-up of the studio package."""

from django.apps import AppConfig
from django.db.models.signals import post_migrate


class StudioConfig(AppConfig):
    """The project's own app: people, settings, the frame."""

    name = "studio"
    verbose_name = "Studio"

    def ready(self) -> None:
        """Put the database's guards in place after every migration."""
        from studio import guards

        post_migrate.connect(guards.install, sender=self, dispatch_uid="studio.guards")
