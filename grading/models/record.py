"""What stands in an audit: signatures, the chain of seals, the printed sheet."""

import uuid
from typing import ClassVar

from django.db import models

from grading.models.decision import Release
from lessons.models import Enrolment, Lesson
from school.models import Person, School


class Signature(models.Model):
    """A person's signature under a lesson or a release, with what it means (14 CFR 61.51(h)(2))."""

    class Capacity(models.TextChoices):
        INSTRUCTOR = "instructor", "instructor"
        STUDENT = "student", "student"
        CHIEF = "chief", "chief instructor"

    class Act(models.TextChoices):
        SIGNED = "signed", "signed"
        REFUSED = "refused", "refused to sign"

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    lesson = models.ForeignKey(Lesson, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    release = models.ForeignKey(Release, on_delete=models.PROTECT, related_name="signatures", null=True, blank=True)
    capacity = models.CharField(max_length=10, choices=Capacity.choices)
    act = models.CharField(max_length=8, choices=Act.choices, default=Act.SIGNED)
    meaning = models.TextField()
    remark = models.TextField(blank=True)
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    name = models.CharField(max_length=210)
    reference = models.CharField(max_length=20)
    certificate_number = models.CharField(max_length=40, blank=True)
    certificate_valid = models.CharField("expiry or recent-experience date", max_length=60, blank=True)
    signed_at = models.DateTimeField()

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(lesson__isnull=False, release=None) | models.Q(lesson=None, release__isnull=False),
                name="signature_one_subject",
            ),
            models.UniqueConstraint(fields=["lesson", "capacity"], name="signature_lesson_once"),
            models.UniqueConstraint(fields=["release", "capacity"], name="signature_release_once"),
            models.CheckConstraint(
                condition=~models.Q(act="refused") | ~models.Q(remark=""), name="signature_refusal_has_remark"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name}, {self.get_capacity_display()}, {self.get_act_display()}"


class Seal(models.Model):
    """One link of the school's chain.

    `canonical` is the record as RFC 8785 text; `digest` is the SHA-256, in hex, of the previous digest,
    a line feed and that text. The database refuses to change or remove a row.
    """

    class Kind(models.TextChoices):
        LESSON = "lesson", "lesson"
        ACKNOWLEDGEMENT = "acknowledgement", "student's signature"
        RELEASE = "release", "release"
        WITHDRAWAL = "withdrawal", "withdrawal of a release"
        SHEET = "sheet", "progress sheet"

    number = models.PositiveBigIntegerField(primary_key=True)
    kind = models.CharField(max_length=15, choices=Kind.choices)
    subject = models.UUIDField()
    canonical = models.TextField()
    previous = models.CharField(max_length=64, blank=True)
    digest = models.CharField(max_length=64, unique=True)
    sealed_at = models.DateTimeField()

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["kind", "subject"], name="seal_once")
        ]

    def __str__(self) -> str:
        return f"Seal {self.number}"


class ProgressSheet(models.Model):
    """The printed picture of a student on a day: made once, kept, served as the same bytes."""

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    enrolment = models.ForeignKey(Enrolment, on_delete=models.PROTECT, related_name="+")
    number = models.PositiveIntegerField()
    on = models.DateField()
    paper = models.CharField(max_length=6, choices=School.Paper.choices)
    content = models.JSONField()
    pdf = models.BinaryField()
    printed_at = models.DateTimeField()
    printed_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["enrolment", "number"], name="progresssheet_number_unique")
        ]

    def __str__(self) -> str:
        return f"Progress sheet {self.number} of {self.enrolment.student}"
