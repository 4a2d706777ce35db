from django.apps import AppConfig


class FloorConfig(AppConfig):
    name = "shopflow.floor"
