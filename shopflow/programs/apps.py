from django.apps import AppConfig


class ProgramsConfig(AppConfig):
    name = "shopflow.programs"
