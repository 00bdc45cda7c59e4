from django.apps import AppConfig


class GradingConfig(AppConfig):
    name = "grading"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from grading.evidence import chain, register  # noqa: PLC0415
        from grading.reading import verdict_cache  # noqa: PLC0415 - models are there only now
        from school import journal  # noqa: PLC0415

        chain.about_to_seal.connect(register.catch_up, dispatch_uid="register")
        journal.entry_recorded.connect(verdict_cache.invalidate, dispatch_uid="verdicts")
