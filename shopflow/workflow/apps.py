from django.apps import AppConfig


class WorkflowConfig(AppConfig):
    name = "shopflow.workflow"

    def ready(self) -> None:
        from shopflow.deploy import checks  # noqa: F401
