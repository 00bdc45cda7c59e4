from django.apps import AppConfig


class LessonsConfig(AppConfig):
    name = "lessons"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from lessons.ties import of_training  # noqa: PLC0415 - models are there only now
        from school.accounts import ties  # noqa: PLC0415

        ties.asked.connect(of_training, dispatch_uid="training")
