"""Store a student's earlier training and what the chief instructor credits. Rows never change."""

import uuid
from typing import Any, ClassVar, Self

from django.db import models

from lessons.models.enrolment import Enrolment
from lessons.models.syllabus import Unit
from school.models import Person

MINUTE_FIELDS = ("dual_minutes", "solo_minutes", "night_minutes", "instrument_minutes", "ground_minutes")
AMOUNT_FIELDS = (*MINUTE_FIELDS, "takeoffs", "landings")


class TrainingAmounts(models.Model):
    """Whole minutes of block time and of ground instruction, takeoffs and landings."""

    dual_minutes = models.PositiveIntegerField(default=0)
    solo_minutes = models.PositiveIntegerField(default=0)
    night_minutes = models.PositiveIntegerField(default=0)
    instrument_minutes = models.PositiveIntegerField(default=0)
    ground_minutes = models.PositiveIntegerField("ground instruction", default=0)
    takeoffs = models.PositiveIntegerField(default=0)
    landings = models.PositiveIntegerField(default=0)

    class Meta:
        abstract = True

    @property
    def counted(self) -> dict[str, int]:
        return {name: getattr(self, name) for name in AMOUNT_FIELDS}


class EarlierTrainingQuerySet(models.QuerySet["EarlierTraining"]):
    def current(self) -> Self:
        """Leave out rows that a later version of the same lesson replaced."""
        # NOT EXISTS, because there is no key to join by: both uids are another school's. Within one student: a uid from
        # outside must not take a lesson out of somebody else's sums.
        later = EarlierTraining.objects.filter(
            student=models.OuterRef("student"), replaces_uid=models.OuterRef("lesson_uid")
        )
        return self.filter(~models.Exists(later))

    def totals(self) -> dict[str, int]:
        """Return the sums of minutes, takeoffs and landings. One query."""
        sums: dict[str, Any] = self.aggregate(**{name: models.Sum(name, default=0) for name in AMOUNT_FIELDS})
        return sums


class EarlierTraining(TrainingAmounts):
    """One lesson that was not signed here: read from another school's record, or copied from paper.

    By itself it is no evidence for readiness; how much of it is, is decided in the app above. `batch` is the act of
    taking it in, `fingerprint` that of the record it was read from; both lie there too. `lesson_uid` and `replaces_uid`
    are the other school's.
    """

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    student = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    batch = models.UUIDField()
    # Unique: a record that is read in twice would count its hours twice.
    fingerprint = models.CharField(max_length=64, unique=True)
    lesson_uid = models.UUIDField(null=True, blank=True)
    replaces_uid = models.UUIDField(null=True, blank=True)
    on = models.DateField("date")
    # Texts and no foreign keys: units, aircraft and instructors of another school are not on record here.
    unit = models.CharField("what was taught", max_length=200)
    aircraft = models.CharField(max_length=80, blank=True)
    instructor = models.CharField("instructor, as written there", max_length=210)
    certificate = models.CharField("certificate of the instructor, as written there", max_length=80, blank=True)
    remarks = models.TextField(blank=True)
    school = models.CharField("school it was given at", max_length=200, blank=True)
    paper = models.CharField("where the paper is kept", max_length=200, blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    objects = EarlierTrainingQuerySet.as_manager()

    class Meta:
        verbose_name_plural = "earlier training"
        indexes: ClassVar[list[models.Index]] = [models.Index(fields=["student", "on"], name="earlier_student_on")]

    def __str__(self) -> str:
        return f"Earlier lesson of {self.student}, {self.on}"


class CreditDecision(TrainingAmounts):
    """What counts of a student's earlier training in one enrolment, decided by the chief instructor.

    Each decision is complete and replaces the one before: the last one made by a day is in force on that day.
    The minutes and counts are those carried forward.
    """

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    enrolment = models.ForeignKey(Enrolment, on_delete=models.PROTECT, related_name="+")
    reason = models.TextField("why these hours, or none")
    decided_at = models.DateTimeField()
    decided_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["enrolment", "decided_at"], name="credit_enrolment_at")
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            # To credit nothing needs a reason as well.
            models.CheckConstraint(condition=~models.Q(reason=""), name="creditdecision_reason")
        ]

    def __str__(self) -> str:
        return f"Credit for earlier training of {self.enrolment.student}"


class CreditedUnit(models.Model):
    decision = models.ForeignKey(CreditDecision, on_delete=models.PROTECT, related_name="units")
    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="+")
    reason = models.TextField()

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["decision", "unit"], name="creditedunit_unique"),
            models.CheckConstraint(condition=~models.Q(reason=""), name="creditedunit_reason"),
        ]

    def __str__(self) -> str:
        return f"{self.unit} credited"
