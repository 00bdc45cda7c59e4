from django.apps import AppConfig


class GradingConfig(AppConfig):
    name = "grading"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from grading.reading import verdict_cache  # noqa: PLC0415 - models are there only now
        from school import journal  # noqa: PLC0415

        journal.entry_recorded.connect(verdict_cache.invalidate, dispatch_uid="verdicts")
