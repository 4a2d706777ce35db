from django.apps import AppConfig


class InspectionConfig(AppConfig):
    name = "shopflow.inspection"
