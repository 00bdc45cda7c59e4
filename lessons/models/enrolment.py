import uuid
from datetime import date
from typing import ClassVar, Self

from django.contrib.postgres.fields import ArrayField
from django.db import models

from lessons.models.days import day_somewhere
from lessons.models.syllabus import Syllabus, Unit
from school.models import Aerodrome, AircraftType, Person


class EnrolmentQuerySet(models.QuerySet["Enrolment"]):
    def active(self, on: date) -> Self:
        # exclude() and not ended_on__gt: training without an end has NULL there, and no comparison is true of NULL.
        return self.filter(enrolled_on__lte=on).exclude(ended_on__lte=on)

    def search(self, words: str) -> Self:
        """Return enrolments whose student's names or number contain each word."""
        matches = self.all()
        for word in words.split():
            named = models.Q(student__family_name__icontains=word) | models.Q(student__given_name__icontains=word)
            matches = matches.filter(named | models.Q(student__reference__icontains=word))
        return matches

    def for_pages(self) -> Self:
        return self.select_related("student", "instructor", "aircraft_type", "syllabus")


class Enrolment(models.Model):
    """A student in a syllabus on an aircraft type, from a day until a day (14 CFR 141.101(a)(1), (3))."""

    class End(models.TextChoices):
        COMPLETED = "completed", "completed"
        TERMINATED = "terminated", "terminated"
        TRANSFERRED = "transferred", "transferred"

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    student = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    syllabus = models.ForeignKey(Syllabus, on_delete=models.PROTECT, related_name="enrolments")
    aircraft_type = models.ForeignKey(AircraftType, on_delete=models.PROTECT, related_name="+")
    # Today's only. Readiness does not read it: a verdict of a past day must not change with a reassignment.
    instructor = models.ForeignKey(
        Person, on_delete=models.PROTECT, related_name="+", verbose_name="assigned instructor"
    )
    enrolled_on = models.DateField("date of enrolment")
    # A LAPL medical counts for such a student only, and only under the European rules.
    for_lapl = models.BooleanField("trains for a LAPL", default=False)
    ended_on = models.DateField(null=True, blank=True)
    end = models.CharField("how it ended", max_length=12, choices=End.choices, blank=True)

    objects = EnrolmentQuerySet.as_manager()

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            # Partial: a student may enrol in a syllabus again once the training in it has ended.
            models.UniqueConstraint(
                fields=["student", "syllabus"],
                condition=models.Q(ended_on=None),
                name="enrolment_one_at_a_time",
            ),
            models.CheckConstraint(
                condition=models.Q(ended_on=None, end="")
                | (models.Q(ended_on__gte=models.F("enrolled_on")) & ~models.Q(end="")),
                name="enrolment_end_has_kind",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.student}, {self.syllabus}"


class KnowledgeTest(models.Model):
    """A written test of a unit. With topics it is the pre-solo knowledge test of 14 CFR 61.87(b).

    Every wrong answer is reviewed with the student; of the pre-solo test, before a release.
    """

    class Topic(models.TextChoices):
        RULES = "rules", "rules"
        AERODROME = "aerodrome", "airspace and procedures of the aerodrome"
        MAKE_AND_MODEL = "make_and_model", "the make and model"

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    enrolment = models.ForeignKey(Enrolment, on_delete=models.PROTECT, related_name="knowledge_tests")
    aircraft_type = models.ForeignKey(AircraftType, on_delete=models.PROTECT, related_name="+")
    taken_on = models.DateField()
    title = models.CharField(max_length=80, default="Pre-solo knowledge test")
    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    topics = ArrayField(models.CharField(max_length=20, choices=Topic.choices), default=list, blank=True)
    questions = models.PositiveSmallIntegerField()
    wrong = models.PositiveSmallIntegerField("wrong answers")
    reviewed_on = models.DateField("wrong answers reviewed on", null=True, blank=True)
    reviewed_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    given_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(condition=models.Q(questions__gt=0), name="knowledgetest_questions"),
            models.CheckConstraint(condition=models.Q(wrong__lte=models.F("questions")), name="knowledgetest_wrong"),
            models.CheckConstraint(
                condition=models.Q(reviewed_on=None) | models.Q(reviewed_on__gte=models.F("taken_on")),
                name="knowledgetest_reviewed_after",
            ),
            models.CheckConstraint(
                condition=models.Q(reviewed_on=None, reviewed_by=None)
                | models.Q(reviewed_on__isnull=False, reviewed_by__isnull=False),
                name="knowledgetest_reviewed_on_by",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.title} of {self.enrolment.student}, {self.taken_on}"

    @property
    def mark(self) -> int:
        """Return the right answers in whole percent, rounded down: 100 only when all are right."""
        return (self.questions - self.wrong) * 100 // self.questions

    @property
    def is_reviewed(self) -> bool:
        return self.wrong == 0 or self.reviewed_on is not None


class Endorsement(models.Model):
    """An instructor's endorsement. The paragraph is the key; the wording is the school's own text."""

    class Kind(models.TextChoices):
        TAILWHEEL = "tailwheel", "tailwheel aeroplanes"
        COMPLEX = "complex", "complex aeroplanes"
        HIGH_PERFORMANCE = "high_performance", "high-performance aeroplanes"
        PRE_SOLO_TRAINING = "pre_solo_training", "pre-solo flight training"
        SOLO_AT_NIGHT = "solo_at_night", "solo at night"
        SOLO_NEARBY = "solo_nearby", "solo at another aerodrome within 25 NM"

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    enrolment = models.ForeignKey(Enrolment, on_delete=models.PROTECT, related_name="endorsements")
    kind = models.CharField(max_length=20, choices=Kind.choices)
    paragraph = models.CharField(max_length=30)
    aircraft_type = models.ForeignKey(AircraftType, on_delete=models.PROTECT, related_name="+")
    text = models.TextField()
    # What the instructor allows no further than: it binds the student as the law does (14 CFR 61.89(a)(8)).
    limitations = models.TextField(blank=True)
    # Only of an endorsement that is for one aerodrome: the training was given there.
    aerodrome = models.ForeignKey(Aerodrome, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    given_on = models.DateField()
    given_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    # A copy: the endorsement shows the number under which it was given, whatever is on record later.
    certificate_number = models.CharField(max_length=40)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    withdrawal_reason = models.TextField(blank=True)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(withdrawn_at=None, withdrawn_by=None, withdrawal_reason="")
                | (models.Q(withdrawn_at__isnull=False, withdrawn_by__isnull=False) & ~models.Q(withdrawal_reason="")),
                name="endorsement_withdrawn_at_by_reason",
            ),
            models.CheckConstraint(
                condition=models.Q(withdrawn_at=None) | models.Q(given_on__lte=day_somewhere("withdrawn_at")),
                name="endorsement_withdrawn_after_given",
            ),
        ]

    @property
    def words(self) -> str:
        """Return the text with its limitations, as a release carries it."""
        return f"{self.text} Limitations: {self.limitations}" if self.limitations else self.text

    def __str__(self) -> str:
        return f"{self.get_kind_display()} endorsement of {self.enrolment.student}"
