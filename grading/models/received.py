"""These models hold what came from elsewhere: uploads that wait for a person, and imported records, which are final."""

import uuid
from typing import ClassVar

from django.db import models

from lessons.models import Enrolment
from school.models import Person


class PendingUpload(models.Model):
    """A file that was uploaded and is not imported yet. The row is deleted when it is imported or discarded."""

    class Kind(models.TextChoices):
        HAND_OVER = "hand_over", "a student’s record from another school"
        ROSTER = "roster", "people and enrolments"
        AIRCRAFT = "aircraft", "aircraft"
        PAST_LESSONS = "past_lessons", "past lessons from paper"

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    kind = models.CharField(max_length=12, choices=Kind.choices)
    name = models.CharField("name of the file", max_length=200)
    # The whole file, because the import reads and checks it again: the school may have changed since the preview.
    content = models.BinaryField()
    uploaded_at = models.DateTimeField()
    uploaded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        indexes: ClassVar[list[models.Index]] = [models.Index(fields=["uploaded_at"], name="upload_at")]

    def __str__(self) -> str:
        return f"{self.name}: {self.get_kind_display()}"


class ReceivedBatch(models.Model):
    """One import of records of one student. Its seal names the fingerprint of each.

    `student_name` and `student_reference` are those of the file; `digest` is the SHA-256 of the file, in hex.
    """

    class Source(models.TextChoices):
        SCHOOL = "school", "another school’s record"
        PAPER = "paper", "paper"

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    student = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    source = models.CharField(max_length=6, choices=Source.choices)
    school = models.CharField("school it came from", max_length=200)
    student_name = models.CharField(max_length=210)
    student_reference = models.CharField(max_length=20)
    file_name = models.CharField(max_length=200)
    digest = models.CharField(max_length=64)
    signature = models.CharField("what was found of a signature", max_length=200)
    received_at = models.DateTimeField()
    received_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        verbose_name_plural = "received batches"
        indexes: ClassVar[list[models.Index]] = [models.Index(fields=["student"], name="received_student")]

    def __str__(self) -> str:
        return f"Records of {self.student} from {self.school}"


class ReceivedRecord(models.Model):
    """A record made elsewhere, saved as its exact text. `fingerprint` is the SHA-256 of `canonical`, in hex.

    `seal_number`, `previous` and `digest` are those of the school that made it, empty for paper. `hands`: the schools
    that passed it on since, each {school, seal, digest, received_at}.
    """

    batch = models.ForeignKey(ReceivedBatch, on_delete=models.PROTECT, related_name="records")
    place = models.PositiveIntegerField("place in the batch")
    kind = models.CharField(max_length=40)
    record_date = models.DateField()
    school = models.CharField("school that made it", max_length=200)
    # Text and no JSONField: jsonb sorts the keys and drops spaces, and the fingerprint is that of the exact text.
    canonical = models.TextField()
    # Unique over the school: a record that arrives by two ways is still one record, and the second is recognised by
    # this.
    fingerprint = models.CharField(max_length=64, unique=True)
    seal_number = models.PositiveBigIntegerField(null=True, blank=True)
    previous = models.CharField(max_length=64, blank=True)
    digest = models.CharField(max_length=64, blank=True)
    # When the school that made it sealed it, as that school says: not a moment of this school.
    sealed_on = models.DateTimeField(null=True, blank=True)
    hands = models.JSONField(default=list)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["batch", "place"], name="received_place_unique")
        ]

    def __str__(self) -> str:
        return f"{self.kind} of {self.record_date} from {self.school}"


class EarlierEvidence(models.Model):
    """Which earlier lessons count as evidence in one enrolment, decided by the chief instructor for a written reason.

    Each decision is complete and replaces the one before; one of no lesson takes all of them back. `lessons`: what
    counts of each, the newest first, as it was when it was decided (grading/reading/earlier_evidence.py).
    """

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    enrolment = models.ForeignKey(Enrolment, on_delete=models.PROTECT, related_name="+")
    # Copied, so that the verdict of a past day rests on what was decided then and not on what was imported since.
    lessons = models.JSONField(default=list)
    reason = models.TextField()
    decided_at = models.DateTimeField()
    decided_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        verbose_name_plural = "earlier evidence"
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["enrolment", "decided_at"], name="earlierevidence_at")
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(condition=~models.Q(reason=""), name="earlierevidence_reason")
        ]

    def __str__(self) -> str:
        return f"Earlier lessons as evidence for {self.enrolment.student}"
