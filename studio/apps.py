"""Start-up of the studio package."""

from django.apps import AppConfig
from django.db.models.signals import post_migrate, pre_migrate


class StudioConfig(AppConfig):
    """The project's own app: people, settings, the frame."""

    name = "studio"
    verbose_name = "Studio"

    def ready(self) -> None:
        """Take the database's guards away before a migration and put them in place after it."""
        from studio import guards

        pre_migrate.connect(guards.make_way, sender=self, dispatch_uid="studio.guards")
        post_migrate.connect(guards.install, sender=self, dispatch_uid="studio.guards")
