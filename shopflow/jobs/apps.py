from django.apps import AppConfig


class JobsConfig(AppConfig):
    name = "shopflow.jobs"

    def ready(self) -> None:
        from shopflow.jobs.actions.files import READING
        from shopflow.records import work

        work.register(READING, "shopflow.jobs.tasks.read_model")
