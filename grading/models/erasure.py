"""This model holds the erasure of a record after its retention: one person proposes it, another confirms it."""

import uuid
from typing import ClassVar

from django.db import models

from school.models import Person


class Erasure(models.Model):
    """Enrolment, person and school number are plain values: this row outlives the record that it names.

    The database erases only for a row that another person has confirmed.
    """

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    enrolment_uid = models.UUIDField()
    person_id = models.BigIntegerField()
    # The number and no name: this row stays when the name is erased.
    reference = models.CharField("school number", max_length=20)
    reason = models.TextField()
    proposed_at = models.DateTimeField()
    proposed_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    confirmed_at = models.DateTimeField(null=True, blank=True)
    confirmed_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            # A confirmed one blocks another as well: its record is gone and cannot be erased twice.
            models.UniqueConstraint(
                fields=["enrolment_uid"], condition=models.Q(withdrawn_at=None), name="erasure_one_at_a_time"
            ),
            models.CheckConstraint(condition=~models.Q(reason=""), name="erasure_reason"),
            models.CheckConstraint(
                condition=models.Q(confirmed_at=None, confirmed_by=None)
                | models.Q(confirmed_at__isnull=False, confirmed_by__isnull=False),
                name="erasure_confirmed_at_by",
            ),
            models.CheckConstraint(
                condition=models.Q(withdrawn_at=None, withdrawn_by=None)
                | models.Q(withdrawn_at__isnull=False, withdrawn_by__isnull=False),
                name="erasure_withdrawn_at_by",
            ),
            models.CheckConstraint(
                condition=models.Q(confirmed_at=None) | models.Q(withdrawn_at=None), name="erasure_one_outcome"
            ),
            models.CheckConstraint(
                # Checked here too, so that no fault of an action lets one person alone destroy a record.
                condition=models.Q(confirmed_by=None) | ~models.Q(confirmed_by=models.F("proposed_by")),
                name="erasure_by_two_people",
            ),
        ]

    def __str__(self) -> str:
        return f"Erasure of the record of {self.reference}"
