import uuid
from typing import ClassVar, Self

from django.conf import settings
from django.db import models

from school.models.aircraft import Aircraft


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
        # One that was written elsewhere. It is shown and counts for nothing here: those given here are signed here.
        ENDORSEMENT = "endorsement", "endorsement on paper"
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


class AircraftPaperQuerySet(models.QuerySet["AircraftPaper"]):
    def in_force(self) -> Self:
        return self.filter(voided_at=None)


class AircraftPaper(models.Model):
    """A document or an inspection of an aircraft. An entry is never deleted; a wrong one is voided with its reason."""

    aircraft = models.ForeignKey(Aircraft, on_delete=models.PROTECT, related_name="papers")
    # A code of school/aircraft_documents.py, where another kind is a line of a list and no migration.
    kind = models.CharField(max_length=30)
    number = models.CharField("number on the document", max_length=40, blank=True)
    issued = models.DateField("date of issue or inspection")
    expires = models.DateField("expires", null=True, blank=True)
    # Shown and never compared: nobody enters here what the meter of an aircraft says.
    due_at_hours = models.DecimalField(
        "due at (hours of the meter)", max_digits=7, decimal_places=1, null=True, blank=True
    )
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    voided_at = models.DateTimeField(null=True, blank=True)
    voided_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    void_reason = models.CharField(max_length=200, blank=True)

    objects = AircraftPaperQuerySet.as_manager()

    class Meta:
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["aircraft", "kind", "issued"], name="aircraftpaper_newest")
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(expires=None) | models.Q(expires__gte=models.F("issued")),
                name="aircraftpaper_expires",
            ),
            models.CheckConstraint(
                condition=models.Q(due_at_hours=None) | models.Q(due_at_hours__gt=0), name="aircraftpaper_hours"
            ),
            models.CheckConstraint(
                condition=models.Q(voided_at=None, voided_by=None, void_reason="")
                | (models.Q(voided_at__isnull=False, voided_by__isnull=False) & ~models.Q(void_reason="")),
                name="aircraftpaper_voided",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind.replace('_', ' ')} of {self.aircraft.registration}"


FILE_ENDINGS = {"image/jpeg": "jpg", "image/png": "png", "application/pdf": "pdf"}


class Attachment(models.Model):
    """A picture or a PDF of a document, without what the camera wrote into it. It is never deleted or changed.

    A wrong one is withdrawn with its reason. `sha256` is of `content`, the bytes as they are stored and sent.
    """

    class MediaType(models.TextChoices):
        JPEG = "image/jpeg", "JPEG"
        PNG = "image/png", "PNG"
        PDF = "application/pdf", "PDF"

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    paper = models.ForeignKey(Paper, on_delete=models.PROTECT, related_name="attachments", null=True, blank=True)
    aircraft_paper = models.ForeignKey(
        AircraftPaper, on_delete=models.PROTECT, related_name="attachments", null=True, blank=True
    )
    media_type = models.CharField(max_length=20, choices=MediaType.choices)
    sha256 = models.CharField(max_length=64)
    size = models.PositiveIntegerField("bytes")
    content = models.BinaryField()
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    withdraw_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(paper=None) ^ models.Q(aircraft_paper=None), name="attachment_of_one_document"
            ),
            models.CheckConstraint(
                condition=models.Q(withdrawn_at=None, withdrawn_by=None, withdraw_reason="")
                | (models.Q(withdrawn_at__isnull=False, withdrawn_by__isnull=False) & ~models.Q(withdraw_reason="")),
                name="attachment_withdrawn",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_media_type_display()} of {self.document}"

    @property
    def file_name(self) -> str:
        """Return a name by the hash: the one it came with is a stranger's, and a person's does not belong in it."""
        return f"document-{self.sha256[:16]}.{FILE_ENDINGS[self.media_type]}"

    @property
    def document(self) -> Paper | AircraftPaper:
        document = self.paper or self.aircraft_paper
        assert document is not None  # as the constraint says
        return document

    @property
    def person_id(self) -> int | None:
        """Return the key of the person whose document it shows; the journal names that person."""
        return self.paper.person_id if self.paper else None
