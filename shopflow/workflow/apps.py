from django.apps import AppConfig


class WorkflowConfig(AppConfig):
    name = "shopflow.workflow"
