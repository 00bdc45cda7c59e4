"""Store what is left of a lesson that was discarded before it was signed: everything but the place among lessons."""

import uuid
from typing import Any, ClassVar

from django.db import models

from lessons.models.enrolment import Enrolment
from lessons.models.syllabus import Unit
from school.models import Person


class DiscardedLesson(models.Model):
    """A lesson that was never signed and was taken out, with every entry made in it and the reason. Rows never change.

    The function `discard_lesson` of the database alone writes it, from the rows of the lesson. `uid` and `number` are
    those of the lesson; `entries` are its taps in their order, and what a tablet sent and was refused, as
    {"id", "at", "by", "field", "before", "after", "undoes", "refused"}.
    """

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    enrolment = models.ForeignKey(Enrolment, on_delete=models.PROTECT, related_name="discarded_lessons")
    number = models.PositiveSmallIntegerField()
    version = models.PositiveSmallIntegerField()
    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="+")
    on = models.DateField("date")
    instructor = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    begun_at = models.DateTimeField()
    begun_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    # A document and no rows of their own: nobody searches in them, and as one value they are sealed and erased as one.
    entries = models.JSONField(default=list)
    reason = models.CharField(max_length=300)
    discarded_at = models.DateTimeField()
    discarded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(condition=~models.Q(reason=""), name="discardedlesson_reason"),
        ]

    def __str__(self) -> str:
        return f"Lesson {self.number} of {self.enrolment.student}, discarded"

    @property
    def entry_rows(self) -> list[dict[str, Any]]:
        """Return the entries for a page: what was entered in words, and whether it was taken back or refused."""
        return [row | {"name": _entry_name(row["field"])} for row in self.entries]


def _entry_name(field: str) -> str:
    name = field.removeprefix("lesson.").removesuffix("_minutes")
    return name.replace(".", " ").replace("_", " ").replace("-", " ").capitalize()
