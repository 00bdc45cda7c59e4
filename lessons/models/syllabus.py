"""Syllabus → stage → unit → manoeuvre. A published issue never changes: a change is a new issue."""

from typing import ClassVar

from django.contrib.postgres.fields import ArrayField
from django.db import models

from lessons.models.choices import ENDINGS, GEARS, LEVELS, UNIT_KINDS
from lessons.models.scales import GradeScale
from lessons.rules.scale import Ending


class Syllabus(models.Model):
    code = models.SlugField(max_length=40)
    issue = models.PositiveSmallIntegerField()
    title = models.CharField(max_length=100)
    rule = models.CharField("rule it is built on", max_length=200)
    # The scale belongs to the issue: grades that were given keep the steps they were given in.
    scale = models.ForeignKey(GradeScale, on_delete=models.PROTECT, related_name="+")
    # Empty only while it is being put together: the database lets nothing of a published one change.
    published_on = models.DateField(null=True)

    class Meta:
        verbose_name_plural = "syllabuses"
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["code", "issue"], name="syllabus_issue_unique")
        ]

    def __str__(self) -> str:
        return f"{self.title}, issue {self.issue}"


class TrainingItem(models.Model):
    """One item of training that the rule wants received and logged, such as 61.87(d)(3)."""

    syllabus = models.ForeignKey(Syllabus, on_delete=models.PROTECT, related_name="items")
    code = models.CharField(max_length=30)
    order = models.PositiveSmallIntegerField()
    text = models.CharField(max_length=200)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["syllabus", "code"], name="trainingitem_unique")
        ]

    def __str__(self) -> str:
        return f"{self.code}: {self.text}"


class Manoeuvre(models.Model):
    class Phase(models.TextChoices):
        GROUND = "ground", "Ground"
        TAKEOFF = "takeoff", "Takeoff"
        CLIMB = "climb", "Climb and departure"
        JOINING = "joining", "Circuit joining"
        CIRCUIT = "circuit", "Circuit"
        APPROACH = "approach", "Approach"
        LANDING = "landing", "Landing"
        ROLL_OUT = "roll_out", "Roll-out"
        GO_AROUND = "go_around", "Go-around"
        UPPER_AIR = "upper_air", "Upper air"
        EMERGENCIES = "emergencies", "Emergencies"

    syllabus = models.ForeignKey(Syllabus, on_delete=models.PROTECT, related_name="manoeuvres")
    # The same in every issue: the levels a student reached are carried from issue to issue by it.
    code = models.SlugField(max_length=40)
    order = models.PositiveSmallIntegerField()
    title = models.CharField(max_length=60)
    phase = models.CharField(max_length=12, choices=Phase.choices)
    items = ArrayField(models.CharField(max_length=30), default=list)
    tailwheel_only = models.BooleanField(default=False)
    reference = models.CharField(max_length=120, blank=True)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["syllabus", "code"], name="manoeuvre_unique")
        ]

    def __str__(self) -> str:
        return self.title


class Criterion(models.Model):
    """What is watched in a manoeuvre: judged by eye, or measured as a quantity at a gate."""

    class Kind(models.TextChoices):
        OBSERVED = "observed", "observed"
        MEASURED = "measured", "measured"

    manoeuvre = models.ForeignKey(Manoeuvre, on_delete=models.PROTECT, related_name="criteria")
    code = models.SlugField(max_length=50)
    order = models.PositiveSmallIntegerField()
    text = models.CharField(max_length=200)
    kind = models.CharField(max_length=8, choices=Kind.choices)
    # A code and no foreign key: gates belong to an aircraft type, and one syllabus is flown on several.
    gate = models.SlugField(max_length=40, blank=True)
    quantity = models.CharField(max_length=10, blank=True)
    # Before that unit a number is saved and caps nothing: the student has not been asked for it yet.
    from_unit = models.PositiveSmallIntegerField("counts from unit", null=True, blank=True)
    gear = models.CharField("landing gear it belongs to", max_length=12, choices=GEARS, default="", blank=True)

    class Meta:
        verbose_name_plural = "criteria"
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["manoeuvre", "code"], name="criterion_unique"),
            # Without both gate and quantity, a measured criterion could never find its number.
            models.CheckConstraint(
                condition=models.Q(kind="observed", gate="", quantity="")
                | (models.Q(kind="measured") & ~models.Q(gate="") & ~models.Q(quantity="")),
                name="criterion_measured_at_gate",
            ),
        ]

    def __str__(self) -> str:
        return self.text


class Fault(models.Model):
    """A named error with its cause and cure.

    `signs`: numbers that point to it, as gate.quantity.side, side "over" or "under" its tolerance.
    """

    syllabus = models.ForeignKey(Syllabus, on_delete=models.PROTECT, related_name="faults")
    manoeuvres = models.ManyToManyField(Manoeuvre, related_name="faults")
    code = models.SlugField(max_length=50)
    order = models.PositiveSmallIntegerField()
    name = models.CharField(max_length=40)
    critical = models.BooleanField()
    # A tail cannot be raised on a nosewheel, and wheels that are fixed are not forgotten.
    gear = models.CharField("landing gear it belongs to", max_length=12, choices=GEARS, default="", blank=True)
    cause = models.TextField()
    cure = models.TextField()
    source = models.CharField(max_length=200)
    # They point to a fault and never record one: a number alone does not say what happened.
    signs = ArrayField(models.CharField(max_length=60), default=list, blank=True)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["syllabus", "code"], name="fault_unique")
        ]

    def __str__(self) -> str:
        return self.name


class Stage(models.Model):
    syllabus = models.ForeignKey(Syllabus, on_delete=models.PROTECT, related_name="stages")
    number = models.PositiveSmallIntegerField()
    title = models.CharField(max_length=60)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["syllabus", "number"], name="stage_unique")
        ]

    def __str__(self) -> str:
        return f"Stage {self.number}, {self.title}"


class Unit(models.Model):
    """What is planned: a lesson is what was flown of it."""

    stage = models.ForeignKey(Stage, on_delete=models.PROTECT, related_name="units")
    number = models.PositiveSmallIntegerField("number in the syllabus")
    title = models.CharField(max_length=80)
    kind = models.CharField(max_length=12, choices=UNIT_KINDS)
    aim = models.TextField()
    brief = models.TextField()
    exercises = models.CharField(max_length=40, blank=True)
    flies_circuits = models.BooleanField()
    ending = models.CharField(
        "what a circuit ends with", max_length=12, choices=ENDINGS, default=Ending.FULL_STOP.value
    )
    manoeuvres = models.ManyToManyField(Manoeuvre, through="UnitManoeuvre", related_name="units")

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["stage", "number"], name="unit_unique")
        ]

    def __str__(self) -> str:
        return f"Unit {self.number}: {self.title}"


class UnitManoeuvre(models.Model):
    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="graded")
    manoeuvre = models.ForeignKey(Manoeuvre, on_delete=models.PROTECT, related_name="+")
    order = models.PositiveSmallIntegerField()
    expected = models.CharField("level expected by the end of the unit", max_length=12, choices=LEVELS)
    compulsory = models.BooleanField("required: graded before signing", default=False)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["unit", "manoeuvre"], name="unitmanoeuvre_unique"),
            # Not observed is missing evidence and never a level, so it cannot be expected.
            models.CheckConstraint(condition=~models.Q(expected="not_observed"), name="unitmanoeuvre_expects_a_level"),
        ]

    def __str__(self) -> str:
        return f"{self.manoeuvre} in {self.unit}"
