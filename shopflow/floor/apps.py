from django.apps import AppConfig


class FloorConfig(AppConfig):
    name = "shopflow.floor"

    def ready(self) -> None:
        from shopflow.floor import comparing, proving
        from shopflow.programs import proven
        from shopflow.records import work

        proven.listen(proving.proven)
        work.register(comparing.COMPARE, "shopflow.floor.tasks.compare_read_back")
