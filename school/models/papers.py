from typing import ClassVar, Self

from django.conf import settings
from django.db import models


class PaperQuerySet(models.QuerySet["Paper"]):
    def in_force(self) -> Self:
        return self.filter(voided_at=None)


class Paper(models.Model):
    """A document that a person holds. An entry is never deleted; a wrong one is voided with its reason."""

    class Kind(models.TextChoices):
        STUDENT_CERTIFICATE = "student_certificate", "student pilot certificate"
        MEDICAL = "medical", "medical certificate"
        ENGLISH = "english", "English proficiency"
        IDENTITY = "identity", "proof of identity and age"
        INSTRUCTOR_CERTIFICATE = "instructor_certificate", "flight instructor certificate"

    class MedicalClass(models.TextChoices):
        FIRST = "1", "first class"
        SECOND = "2", "second class"
        THIRD = "3", "third class"
        LAPL = "lapl", "LAPL"

    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="papers")
    kind = models.CharField(max_length=30, choices=Kind.choices)
    number = models.CharField("number on the document", max_length=40, blank=True)
    medical_class = models.CharField("class", max_length=4, choices=MedicalClass.choices, blank=True)
    issued = models.DateField("date of issue or examination")
    expires = models.DateField("expires", null=True, blank=True)
    # Instructor certificates issued since 1 December 2024 carry no expiry but a recent-experience
    # end date (14 CFR 61.19(d), 61.197); a signature shows one or the other (61.51(h)(2)(ii)).
    recent_experience_until = models.DateField("recent experience until", null=True, blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    voided_at = models.DateTimeField(null=True, blank=True)
    voided_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    void_reason = models.CharField(max_length=200, blank=True)

    objects = PaperQuerySet.as_manager()

    class Meta:
        indexes: ClassVar[list[models.Index]] = [models.Index(fields=["person", "kind"], name="paper_person")]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(kind="medical") ^ models.Q(medical_class=""), name="paper_medical_class"
            ),
            models.CheckConstraint(
                condition=models.Q(expires=None) | models.Q(expires__gte=models.F("issued")),
                name="paper_expires_after_issue",
            ),
            models.CheckConstraint(
                condition=models.Q(voided_at=None, voided_by=None, void_reason="")
                | (models.Q(voided_at__isnull=False, voided_by__isnull=False) & ~models.Q(void_reason="")),
                name="paper_voided_at_by_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} of {self.person}"
