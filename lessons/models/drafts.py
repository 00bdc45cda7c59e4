"""Store the chief instructor's drafts before they are published: the content in its file form, as typed."""

from typing import ClassVar

from django.db import models

from lessons.models.syllabus import Syllabus
from school.models import AircraftType, Person


class GateDraft(models.Model):
    """Gates of one type in the form of `gate_set` in fixtures/aircraft; may be inconsistent until published."""

    # One draft for a type: two would both be the next issue.
    aircraft_type = models.OneToOneField(AircraftType, on_delete=models.PROTECT, related_name="+")
    content = models.JSONField()
    edited_at = models.DateTimeField()
    edited_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return f"Draft of the gates of {self.aircraft_type}"


class SyllabusDraft(models.Model):
    """A syllabus in its file form (lessons/syllabus_file.py); a code and issue that is not published yet."""

    code = models.SlugField(max_length=40)
    issue = models.PositiveSmallIntegerField()
    based_on = models.ForeignKey(Syllabus, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    content = models.JSONField()
    # save_draft() compares it, so that a change made meanwhile is not overwritten.
    edited_at = models.DateTimeField()
    edited_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["code", "issue"], name="syllabusdraft_issue_unique")
        ]

    def __str__(self) -> str:
        return f"Draft of {self.title}, issue {self.issue}"

    @property
    def title(self) -> str:
        return str(self.content.get("title", self.code))
