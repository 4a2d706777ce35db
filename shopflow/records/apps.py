from django.apps import AppConfig
from django.db.models.signals import post_migrate


class RecordsConfig(AppConfig):
    name = "shopflow.records"

    def ready(self) -> None:
        from shopflow.records import checks  # noqa: F401  they register themselves

        # Sent once all migrations of all apps are done, so one sender is enough.
        post_migrate.connect(_after_migrate, sender=self)


def _after_migrate(using: str, **_: object) -> None:
    from shopflow.records import ledger, protect

    protect.restore(using)
    ledger.mend_after_restore()
