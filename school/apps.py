from importlib import import_module

from django.apps import AppConfig


class SchoolConfig(AppConfig):
    name = "school"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        import_module("school.accounts.receivers")
