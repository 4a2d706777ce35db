from django.apps import AppConfig


class RecordsConfig(AppConfig):
    name = "shopflow.records"
