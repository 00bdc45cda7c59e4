from django.apps import AppConfig


class SchoolConfig(AppConfig):
    name = "school"
    default_auto_field = "django.db.models.BigAutoField"
