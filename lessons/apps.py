from django.apps import AppConfig


class LessonsConfig(AppConfig):
    name = "lessons"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from lessons.role_dependencies import list_training_dependencies  # noqa: PLC0415 - models are there only now
        from school.accounts import role_dependencies  # noqa: PLC0415

        # By a signal, because imports point down: school lies below and must not know this app.
        role_dependencies.dependencies_requested.connect(list_training_dependencies, dispatch_uid="training")
