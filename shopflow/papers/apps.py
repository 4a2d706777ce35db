from django.apps import AppConfig


class PapersConfig(AppConfig):
    name = "shopflow.papers"
