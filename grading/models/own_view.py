"""This model holds what a student thought of a lesson before the debrief."""

from typing import ClassVar

from django.db import models

from lessons.models import Lesson

LINE_LENGTH = 300  # characters: a thought and no report


class OwnView(models.Model):
    """A student's own view of a signed lesson: a line, and the level they give themselves for each part flown.

    levels: code of a step of the lesson's scale, by part. Final once written: a trigger refuses every change.
    """

    lesson = models.OneToOneField(Lesson, on_delete=models.PROTECT, related_name="+")
    line = models.CharField("own view in a line", max_length=LINE_LENGTH)
    # In the row itself and not in rows of their own: nothing can be added to it later.
    levels = models.JSONField("own levels", default=dict)
    written_at = models.DateTimeField()

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(condition=~models.Q(line=""), name="ownview_has_line")
        ]

    def __str__(self) -> str:
        return f"own view of {self.lesson}"
