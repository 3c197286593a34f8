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
        from studio.guards import Guard, append_only, guard, kept

        guard(
            *append_only("studio_labelwarning", "Confirmed warnings"),
            *kept(
                "studio_submission",
                "Accepted forms",
                key="key",
                instead="they keep a press from counting twice",
            ),
            Guard(
                "studio_submission",
                "UPDATE",
                "What came of an accepted form is never changed",
                f"OLD.result <> '' OR {guards.differs('key', 'by_id', 'digest')}",
            ),
            Guard(
                "studio_counter",
                "UPDATE",
                "Codes that were given out are not given again",
                "NEW.last < OLD.last",
            ),
            Guard("studio_counter", "DELETE", "Codes that were given out are not given again"),
        )
        pre_migrate.connect(guards.make_way, sender=self, dispatch_uid="studio.guards")
        post_migrate.connect(guards.install, sender=self, dispatch_uid="studio.guards")
