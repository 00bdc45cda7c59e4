"""What tablets sent, and what became of it."""

from typing import ClassVar

from django.db import models

from lessons.models import Lesson
from school.models import Person


class DeviceEvent(models.Model):
    """One event of a tablet, taken once: the id the tablet gave it says whether it has been.

    `sequence` counts the events of one lesson on one device. `device_time` is what the clock of the device
    showed, for information only; `at` is the school's. An event that begins a lesson has no lesson, so that
    one that was discarded is not begun again by an event that comes twice.
    """

    class Kind(models.TextChoices):
        BEGIN = "begin", "lesson begun"
        ENTRY = "entry", "entry"
        UNDO = "undo", "tap taken back"

    class Outcome(models.TextChoices):
        APPLIED = "applied", "applied"
        REFUSED = "refused", "refused"

    uid = models.UUIDField(unique=True, editable=False)
    lesson = models.ForeignKey(Lesson, on_delete=models.CASCADE, related_name="+", null=True, blank=True)
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    device = models.UUIDField()
    sequence = models.PositiveIntegerField()
    kind = models.CharField(max_length=5, choices=Kind.choices)
    field = models.CharField(max_length=120, blank=True)
    value = models.TextField(blank=True)
    outcome = models.CharField(max_length=7, choices=Outcome.choices)
    said = models.TextField("what the tablet was told", blank=True)
    device_time = models.DateTimeField("clock of the device", null=True, blank=True)
    at = models.DateTimeField()

    class Meta:
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["lesson", "device", "sequence"], name="deviceevent_order")
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=~models.Q(outcome="refused") | ~models.Q(said=""), name="deviceevent_refusal_has_reason"
            )
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.field} {self.get_outcome_display()}"
