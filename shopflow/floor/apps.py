from django.apps import AppConfig


class FloorConfig(AppConfig):
    name = "shopflow.floor"

    def ready(self) -> None:
        from shopflow.floor import proving
        from shopflow.programs import proven

        proven.listen(proving.proven)
