"""These models hold what people decide about solo: standards, requirements set aside, releases."""

import uuid
from datetime import date
from typing import ClassVar, Self

from django.db import models

from lessons.models import Enrolment
from school.current import end_of_school_day
from school.models import Aerodrome, AircraftType, Person, School


class StandardQuerySet(models.QuerySet["Standard"]):
    def in_force(self, *, rule_set: str | models.expressions.Combinable, on: date) -> Self:
        # A query and no row: facts.py reads the key alone, because it caches the content in the form of the engine.
        return self.filter(rule_set=rule_set, valid_from__lte=on).order_by("-valid_from", "-pk")[:1]


class Standard(models.Model):
    """The dated set of requirements and thresholds. `content` is the JSON form of readiness.Standard."""

    key = models.SlugField(max_length=40, unique=True)
    rule_set = models.CharField(max_length=2, choices=School.RuleSet.choices)
    valid_from = models.DateField()
    content = models.JSONField()

    objects = StandardQuerySet.as_manager()

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            # Two that begin on one day would leave open under which of them a past verdict was given.
            models.UniqueConstraint(fields=["rule_set", "valid_from"], name="standard_day_unique")
        ]

    def __str__(self) -> str:
        return self.key


class SetAside(models.Model):
    """The chief instructor sets one of the school's own requirements aside, for a written reason."""

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    enrolment = models.ForeignKey(Enrolment, on_delete=models.PROTECT, related_name="+")
    # A key and no relation: requirements lie in the JSON of a standard, and the next standard may have the same one.
    requirement = models.SlugField(max_length=40)
    reason = models.TextField()
    decided_at = models.DateTimeField()
    decided_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)

    class Meta:
        verbose_name_plural = "set aside"
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                # With two in force, withdrawing one would leave the requirement set aside by the other.
                fields=["enrolment", "requirement"],
                condition=models.Q(withdrawn_at=None),
                name="setaside_once",
            ),
            models.CheckConstraint(condition=~models.Q(reason=""), name="setaside_reason"),
            # A decision names the person who answers for it, and so does its withdrawal.
            models.CheckConstraint(
                condition=models.Q(withdrawn_at=None, withdrawn_by=None)
                | models.Q(withdrawn_at__isnull=False, withdrawn_by__isnull=False),
                name="setaside_withdrawn_at_by",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.requirement} set aside for {self.enrolment.student}"


class ReleaseQuerySet(models.QuerySet["Release"]):
    def in_force(self, on: date) -> Self:
        """Select the releases that hold at the end of a day, as `grading.rules.in_force.is_in_force` says it."""
        # A moment and not the date of `withdrawn_at`: that lookup would cut the day in the zone that is active.
        not_withdrawn = models.Q(withdrawn_at=None) | models.Q(withdrawn_at__gte=end_of_school_day(on))
        return self.filter(not_withdrawn, valid_from__lte=on, valid_until__gte=on)


class Release(models.Model):
    """The signed decision of a person to let a student fly solo, within limits, until a day.

    By day around the home aerodrome; at night (14 CFR 61.87(o)); or at another aerodrome within 25 NM, for
    takeoffs and landings there (61.93(b)(1)).

    Wind and crosswind in knots, visibility in statute miles, ceiling in feet above the aerodrome.
    The verdict it rested on is frozen with it.
    """

    class Kind(models.TextChoices):
        DAY = "day", "by day, at home"
        NIGHT = "night", "at night"
        NEARBY = "nearby", "at another aerodrome within 25 NM"

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    enrolment = models.ForeignKey(Enrolment, on_delete=models.PROTECT, related_name="+")
    kind = models.CharField(max_length=6, choices=Kind.choices, default=Kind.DAY)
    endorsement = models.TextField("wording of the endorsement", blank=True)
    aircraft_type = models.ForeignKey(AircraftType, on_delete=models.PROTECT, related_name="+")
    aerodrome = models.ForeignKey(Aerodrome, on_delete=models.PROTECT, related_name="+")
    runways = models.CharField(max_length=60)
    max_wind_kt = models.PositiveSmallIntegerField("wind, up to (kt)")
    max_crosswind_kt = models.PositiveSmallIntegerField("crosswind, up to (kt)")
    min_visibility_sm = models.DecimalField("visibility, at least (SM)", max_digits=4, decimal_places=1)
    min_ceiling_ft = models.PositiveIntegerField("cloud base, at least (ft)")
    valid_from = models.DateField()
    valid_until = models.DateField()
    # Stored as it was when the release was signed: a later correction may change what the lessons show.
    training_on = models.DateField("last training by the endorsing instructor")
    endorsed_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    reason = models.TextField("reason, where a school requirement is open", blank=True)
    # Copied and not derived again: it shows what the person who signed had before them.
    verdict = models.JSONField()
    decided_at = models.DateTimeField()
    decided_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    withdrawal_reason = models.TextField(blank=True)
    # By the student, once: they have read that they do not fly alone any more.
    withdrawal_read_at = models.DateTimeField("withdrawal confirmed by the student", null=True, blank=True)

    objects = ReleaseQuerySet.as_manager()

    class Meta:
        indexes: ClassVar[list[models.Index]] = [
            # in_force() asks for a student and a day; most releases of a student ended long before it.
            models.Index(fields=["enrolment", "valid_until"], name="release_enrolment")
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(condition=models.Q(valid_until__gte=models.F("valid_from")), name="release_dates"),
            # 14 CFR 61.89(a)(6): 3 statute miles by day.
            models.CheckConstraint(condition=models.Q(min_visibility_sm__gte=3), name="release_visibility"),
            # 14 CFR 61.89(a)(6): 5 statute miles at night.
            models.CheckConstraint(
                condition=~models.Q(kind="night") | models.Q(min_visibility_sm__gte=5), name="release_visibility_night"
            ),
            models.CheckConstraint(
                condition=models.Q(withdrawn_at=None, withdrawn_by=None, withdrawal_reason="")
                | (models.Q(withdrawn_at__isnull=False, withdrawn_by__isnull=False) & ~models.Q(withdrawal_reason="")),
                name="release_withdrawn_at_by_reason",
            ),
            models.CheckConstraint(
                condition=models.Q(withdrawal_read_at=None) | models.Q(withdrawn_at__isnull=False),
                name="release_read_if_withdrawn",
            ),
        ]

    def __str__(self) -> str:
        return f"Release of {self.enrolment.student} until {self.valid_until}"


class StoredVerdict(models.Model):
    """The verdict of a student as it was last derived, and the row that the board shows of it.

    `stale` is set by every journal entry about the student, in the same transaction; a stale one, one of another
    day or of another engine is derived again before it is shown. Each derivation has its own `stamp`: what was
    rendered of the student under it is true until the stamp changes.
    """

    # CASCADE, unlike decisions: it can be derived again as long as there is a record to derive it from.
    enrolment = models.OneToOneField(Enrolment, on_delete=models.CASCADE, related_name="+")
    on = models.DateField("day it was derived for")
    engine = models.CharField(max_length=8)
    stale = models.BooleanField(default=False)
    stamp = models.UUIDField(default=uuid.uuid4, editable=False)
    # Apart from the row, because the board reads the row alone and the verdict is many times as long.
    content = models.JSONField()
    row = models.JSONField()

    def __str__(self) -> str:
        return f"Verdict of {self.enrolment.student} on {self.on}"

    @property
    def name(self) -> str:
        """Return a name that no other student and no other derivation has."""
        return f"{self.enrolment_id}:{self.stamp}"
