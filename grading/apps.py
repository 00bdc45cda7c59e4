from django.apps import AppConfig


class GradingConfig(AppConfig):
    name = "grading"
    default_auto_field = "django.db.models.BigAutoField"
