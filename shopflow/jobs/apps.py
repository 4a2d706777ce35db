from django.apps import AppConfig


class JobsConfig(AppConfig):
    name = "shopflow.jobs"

    def ready(self) -> None:
        from shopflow.jobs.actions.comparing import COMPARISON
        from shopflow.jobs.actions.drawing import DRAWING
        from shopflow.jobs.queries.model import READING
        from shopflow.records import work

        work.register(READING, "shopflow.jobs.tasks.read_model")
        work.register(COMPARISON, "shopflow.jobs.tasks.compare_models")
        work.register(DRAWING, "shopflow.jobs.tasks.draw_views")
