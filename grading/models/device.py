"""This model holds what tablets sent, and whether it was applied."""

from typing import ClassVar

from django.db import models

from lessons.models import Lesson
from school.models import Person


class DeviceEvent(models.Model):
    """One event of a tablet. It is applied once: the id that the tablet gave it shows whether it was.

    `sequence` counts the events of one lesson on one device. `device_time` is what the clock of the device
    showed, for information only; `at` is the school's, and `tap_time` the school's moment of the tap as far as the
    device could tell it. An event that begins a lesson has no lesson, so that one that was discarded is not begun
    again by an event that comes twice; `lesson_uid` names the lesson all the same.
    """

    class Kind(models.TextChoices):
        BEGIN = "begin", "lesson begun"
        ENTRY = "entry", "entry"
        UNDO = "undo", "tap taken back"
        KEEP = "keep", "question answered: what is on record stays"

    class Outcome(models.TextChoices):
        APPLIED = "applied", "applied"
        REFUSED = "refused", "refused"
        # Older than the entry of another device on the same field: kept here, and asked about on the lesson page.
        LATE = "late", "came late"

    # No default: the tablet gives the id. Of two copies sent at once the second fails here and writes nothing.
    uid = models.UUIDField(unique=True, editable=False)
    # Events of a discarded draft go with it; a trigger refuses to delete those of a signed lesson.
    lesson = models.ForeignKey(Lesson, on_delete=models.CASCADE, related_name="+", null=True, blank=True)
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    device = models.UUIDField()
    sequence = models.PositiveIntegerField()
    kind = models.CharField(max_length=5, choices=Kind.choices)
    field = models.CharField(max_length=120, blank=True)
    # Saved for a refused event too: what the instructor entered must not be lost with the refusal.
    value = models.TextField(blank=True)
    outcome = models.CharField(max_length=7, choices=Outcome.choices)
    said = models.TextField("what the tablet was told", blank=True)
    device_time = models.DateTimeField("clock of the device", null=True, blank=True)
    at = models.DateTimeField()
    tap_time = models.DateTimeField("when it was tapped, by the school’s clock", null=True, blank=True)
    lesson_uid = models.UUIDField("lesson that it begins", null=True, blank=True, db_index=True)

    class Meta:
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["lesson", "device", "sequence"], name="deviceevent_order")
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            # The sentence is all that the instructor learns: without it nobody could correct what was refused.
            models.CheckConstraint(
                condition=~models.Q(outcome="refused") | ~models.Q(said=""), name="deviceevent_refusal_has_reason"
            )
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.field} {self.get_outcome_display()}"
