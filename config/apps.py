"""The project's own app: the API's shared manners and their two tables."""

from importlib import import_module

from django.apps import AppConfig


class ConfigConfig(AppConfig):
    name = "config"
    verbose_name = "Firstwarm"

    def ready(self) -> None:
        import_module("config.schema")  # registers itself with drf-spectacular
