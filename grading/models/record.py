"""These models hold what an audit rests on: signatures, the chain of seals, printed sheets, the checks of records."""

import uuid
from typing import ClassVar

from django.db import models

from grading.models.decision import Release
from lessons.models import Endorsement, Enrolment, Lesson
from school.models import Person, School


class Signature(models.Model):
    """A person's signature under one thing, with what it means (14 CFR 61.51(h)(2)).

    The thing is a lesson, a release, an endorsement, or an enrolment whose end the chief instructor certifies.
    `drawn` is the handwritten signature from the tablet: lines of points as JSON, or empty.
    """

    class Capacity(models.TextChoices):
        INSTRUCTOR = "instructor", "instructor"
        STUDENT = "student", "student"
        CHIEF = "chief", "chief instructor"

    class Act(models.TextChoices):
        SIGNED = "signed", "signed"
        REFUSED = "refused", "refused to sign"

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    # Four keys and no generic relation: only a real foreign key stops the deletion of what was signed.
    lesson = models.ForeignKey(Lesson, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    release = models.ForeignKey(Release, on_delete=models.PROTECT, related_name="signatures", null=True, blank=True)
    endorsement = models.ForeignKey(Endorsement, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    enrolment = models.ForeignKey(Enrolment, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    capacity = models.CharField(max_length=10, choices=Capacity.choices)
    act = models.CharField(max_length=8, choices=Act.choices, default=Act.SIGNED)
    meaning = models.TextField()
    remark = models.TextField(blank=True)
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    # Copied from the person and the certificate: both may change later, and a signature shows what was true on its
    # day.
    name = models.CharField(max_length=210)
    reference = models.CharField(max_length=20)
    certificate_number = models.CharField(max_length=40, blank=True)
    certificate_valid = models.CharField("expiry or recent-experience date", max_length=60, blank=True)
    drawn = models.TextField(blank=True)
    # Made with a key outside the database (school/signature_keys.py); empty in signatures from before there was one.
    proof = models.CharField("proof of this installation", max_length=80, blank=True)
    signed_at = models.DateTimeField()

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(lesson__isnull=False, release=None, endorsement=None, enrolment=None)
                | models.Q(lesson=None, release__isnull=False, endorsement=None, enrolment=None)
                | models.Q(lesson=None, release=None, endorsement__isnull=False, enrolment=None)
                | models.Q(lesson=None, release=None, endorsement=None, enrolment__isnull=False),
                name="signature_one_subject",
            ),
            # Once for each capacity: the instructor and the student sign the same lesson.
            models.UniqueConstraint(fields=["lesson", "capacity"], name="signature_lesson_once"),
            models.UniqueConstraint(fields=["release", "capacity"], name="signature_release_once"),
            models.UniqueConstraint(fields=["endorsement"], name="signature_endorsement_once"),
            models.UniqueConstraint(fields=["enrolment"], name="signature_end_once"),
            # A correction answers the remark of a refusal, so there must be something to answer.
            models.CheckConstraint(
                condition=~models.Q(act="refused") | ~models.Q(remark=""), name="signature_refusal_has_remark"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name}, {self.get_capacity_display()}, {self.get_act_display()}"


class Seal(models.Model):
    """One link of the school's chain.

    `canonical` is the record as RFC 8785 text; `digest` is the SHA-256, in hex, of the previous digest,
    a line feed and that text. The database refuses to change or remove a row. The text of a record that was
    erased after its retention is empty; a later link of kind ERASURE names it with its digest.
    """

    class Kind(models.TextChoices):
        LESSON = "lesson", "lesson"
        ACKNOWLEDGEMENT = "acknowledgement", "student's signature"
        RELEASE = "release", "release"
        WITHDRAWAL = "withdrawal", "withdrawal of a release"
        CONFIRMED = "confirmed", "student's confirmation of a withdrawal"
        SHEET = "sheet", "printed sheet"
        ENDORSEMENT = "endorsement", "endorsement"
        TEST = "test", "written test"
        REVIEW = "review", "review of a written test"
        UNENDORSED = "unendorsed", "withdrawal of an endorsement"
        SET_ASIDE = "set_aside", "requirement set aside"
        ASKED_AGAIN = "asked_again", "requirement asked for again"
        END = "end", "end of training"
        DISCARDED = "discarded", "discarded lesson"
        TRACK = "track", "flight track"
        TRACK_REMOVED = "track_removed", "removal of a flight track"
        RECEIVED = "received", "record received"
        ERASURE = "erasure", "erasure after retention"
        REGISTER = "register", "opening of the register"
        FACT = "fact", "fact of the school"
        JOURNAL = "journal", "entries of the journal"

    # Given under the lock of the chain and not by a sequence: a sequence leaves gaps after a rollback, and here a gap
    # must mean that a seal was removed.
    number = models.PositiveBigIntegerField(primary_key=True)
    kind = models.CharField(max_length=15, choices=Kind.choices)
    # No foreign key: the seal stays when the row is erased after its retention.
    subject = models.UUIDField()
    canonical = models.TextField()
    # Stored although the seal before has it: each link can then be checked alone, and one altered text does not make
    # every later one look altered.
    previous = models.CharField(max_length=64, blank=True)
    digest = models.CharField(max_length=64, unique=True)
    sealed_at = models.DateTimeField()

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            # A second seal of the same act would leave open which text is the record. A fact is sealed at each change.
            models.UniqueConstraint(fields=["kind", "subject"], condition=~models.Q(kind="fact"), name="seal_once")
        ]
        # What is erased with a record is asked for without its kind.
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["subject"], name="seal_subject"),
            # The last batch of the journal is looked for before each seal.
            models.Index(fields=["-number"], condition=models.Q(kind="journal"), name="seal_journal"),
        ]

    def __str__(self) -> str:
        return f"Seal {self.number}"


class LogbookForm(models.TextChoices):
    STRIPS = "strips", "strips to cut and paste"
    PAGE = "page", "pages with totals carried forward"


class Sheet(models.Model):
    """A sheet is printed once and served as the same bytes: a student's sheet, or an instructor's list.

    `content` is what is printed on it, as it was sealed; `digest` is the SHA-256 of the bytes, in hex.
    """

    class Kind(models.TextChoices):
        PROGRESS = "progress", "progress sheet"
        COMPLETE = "complete", "complete record"
        ENDORSEMENTS = "endorsements", "list of endorsements"
        LOGBOOK = "logbook", "logbook sheet"

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    kind = models.CharField(max_length=12, choices=Kind.choices, default=Kind.PROGRESS)
    enrolment = models.ForeignKey(Enrolment, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    instructor = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    number = models.PositiveIntegerField()
    on = models.DateField()
    paper = models.CharField(max_length=6, choices=School.Paper.choices)
    content = models.JSONField()
    # The bytes and not only the content: another version of the program or of a font would lay it out in other bytes,
    # and the chain has sealed the digest of these.
    pdf = models.BinaryField()
    digest = models.CharField(max_length=64)
    printed_at = models.DateTimeField()
    printed_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            # Two constraints, because NULL equals no NULL: each holds only for the sheets that have its subject.
            models.UniqueConstraint(fields=["enrolment", "kind", "number"], name="sheet_of_student_unique"),
            models.UniqueConstraint(fields=["instructor", "kind", "number"], name="sheet_of_instructor_unique"),
            models.CheckConstraint(
                condition=models.Q(kind="endorsements", enrolment=None, instructor__isnull=False)
                | (~models.Q(kind="endorsements") & models.Q(enrolment__isnull=False, instructor=None)),
                name="sheet_has_its_subject",
            ),
        ]
        # A file that somebody has checked is looked for by its digest.
        indexes: ClassVar[list[models.Index]] = [models.Index(fields=["digest"], name="sheet_digest")]

    def __str__(self) -> str:
        whose = self.enrolment.student if self.enrolment else self.instructor
        return f"{self.get_kind_display().capitalize()} {self.number} of {whose}"


class RecordCheck(models.Model):
    """A run of the check of every sealed record. It is append-only; `by` is None for the daily run.

    `head` is the digest of the last seal at that moment; `findings` are sentences, the first ones of `found` in all;
    `notes` say what could not be checked.
    """

    at = models.DateTimeField()
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    seals = models.PositiveBigIntegerField()
    # A witness: a chain that somebody writes a second time contradicts the heads that earlier checks saw.
    head = models.CharField(max_length=64, blank=True)
    # Counted apart, because only the first findings are stored: a broken chain could have one for every seal.
    found = models.PositiveIntegerField()
    findings = models.JSONField(default=list)
    notes = models.JSONField(default=list)

    def __str__(self) -> str:
        return f"{self.seals} seals checked, {self.found} findings"
