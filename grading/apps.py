from django.apps import AppConfig


class GradingConfig(AppConfig):
    name = "grading"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from grading import verdicts  # noqa: PLC0415 - models are there only now
        from school import journal  # noqa: PLC0415

        journal.written.connect(verdicts.forget, dispatch_uid="verdicts")
