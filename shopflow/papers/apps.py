from django.apps import AppConfig


class PapersConfig(AppConfig):
    name = "shopflow.papers"

    def ready(self) -> None:
        from shopflow.papers.actions import PAPER, TRAVELER
        from shopflow.records import work

        work.register(TRAVELER, "shopflow.papers.tasks.print_traveler")
        work.register(PAPER, "shopflow.papers.tasks.print_paper")
