"""This model holds which finding somebody marked as done, and why."""

import uuid
from typing import ClassVar

from django.db import models

from lessons.models import Enrolment
from school.models import Person


class SettledFinding(models.Model):
    """A finding that was marked as done for a reason, until it is opened again.

    It holds for as long as the facts are those that the reason was written for: `facts` is the fingerprint of the
    finding, and another fact has another one. Findings are derived and in no table, so nothing in the record changes.
    """

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    # One of the two: a student's training, or an instructor whom a finding is about alone.
    enrolment = models.ForeignKey(Enrolment, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    kind = models.CharField(max_length=40)
    on = models.DateField("day of the finding")
    facts = models.CharField(max_length=64)
    reason = models.TextField()
    settled_at = models.DateTimeField()
    settled_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    reopened_at = models.DateTimeField(null=True, blank=True)
    reopened_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["facts"], condition=models.Q(reopened_at=None), name="settledfinding_once"),
            models.CheckConstraint(condition=~models.Q(reason=""), name="settledfinding_reason"),
            models.CheckConstraint(
                condition=models.Q(enrolment=None) ^ models.Q(person=None), name="settledfinding_of_one"
            ),
            models.CheckConstraint(
                condition=models.Q(reopened_at=None, reopened_by=None)
                | models.Q(reopened_at__isnull=False, reopened_by__isnull=False),
                name="settledfinding_reopened_at_by",
            ),
        ]

    def __str__(self) -> str:
        whose = self.enrolment.student if self.enrolment else self.person
        return f"finding “{self.kind.replace('_', ' ')}” of {whose}"
