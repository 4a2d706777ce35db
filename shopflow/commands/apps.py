from django.apps import AppConfig


class CommandsConfig(AppConfig):
    name = "shopflow.commands"
