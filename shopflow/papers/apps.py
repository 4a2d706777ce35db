from django.apps import AppConfig


class PapersConfig(AppConfig):
    name = "shopflow.papers"

    def ready(self) -> None:
        from shopflow.papers.actions import TRAVELER
        from shopflow.records import work

        work.register(TRAVELER, "shopflow.papers.tasks.print_traveler")
