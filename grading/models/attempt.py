"""These models hold what was tapped in a lesson: attempts with level, help, faults and numbers, and the grades."""

import uuid
from decimal import Decimal
from typing import ClassVar

from django.db import models

from lessons.models import Circuit, Criterion, Fault, GateTarget, Lesson, Manoeuvre
from lessons.models.choices import HELPS, LEVELS, PARTS
from lessons.rules.scale import Help, Level
from school.models import Person

# Behind a number that was entered from a flight track, in the text of its entry.
FROM_TRACK = "from track"


class Attempt(models.Model):
    """One try at a manoeuvre: a part of a circuit, or by itself. `level` is None until it is tapped.

    `step` is what was tapped on the syllabus's scale, empty where it has the name of its level. Its three
    lists are filled only where `load_attempts` read it (grading/reading/grade_lines.py).
    """

    # load_attempts() fills these: a tap waits for them, so the published rows in them come from the cache and not
    # from a prefetch.
    preloaded_faults: list["FaultSeen"]
    preloaded_criteria: list["CriterionSeen"]
    preloaded_measures: list["Measure"]

    # A draft that is discarded takes its attempts with it; a trigger refuses the same for a signed lesson.
    lesson = models.ForeignKey(Lesson, on_delete=models.CASCADE, related_name="+")
    circuit = models.ForeignKey(Circuit, on_delete=models.CASCADE, related_name="+", null=True, blank=True)
    part = models.CharField(max_length=10, choices=PARTS, blank=True)
    manoeuvre = models.ForeignKey(Manoeuvre, on_delete=models.PROTECT, related_name="+")
    ordinal = models.PositiveSmallIntegerField(default=1)
    # NULL is not “not observed”: that is a statement of the instructor, and NULL means that nobody has tapped.
    level = models.CharField(max_length=12, choices=LEVELS, null=True, blank=True)
    step = models.CharField(max_length=12, blank=True)
    help = models.CharField(max_length=12, choices=HELPS, default=Help.NONE.value)
    # Why the instructor lets the tapped level stand against a number or a criterion; empty where not.
    kept = models.CharField("why the tapped level stands", max_length=120, blank=True)
    # Given by the key that closes the circuit and not by a tap of its own: counted, because an easy tick is a risk.
    by_closing = models.BooleanField("given by the closing key", default=False)
    # The level as which it counted when the lesson was signed, as the instructor saw it; empty before that.
    counted = models.CharField(max_length=12, choices=LEVELS, blank=True)

    class Meta:
        indexes: ClassVar[list[models.Index]] = [models.Index(fields=["lesson"], name="attempt_lesson")]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            # An attempt with only one of the two would be neither a part nor a manoeuvre, so no rule would ever
            # see it.
            models.CheckConstraint(
                condition=models.Q(circuit=None, part="") | (models.Q(circuit__isnull=False) & ~models.Q(part="")),
                name="attempt_part_of_circuit",
            ),
            # The facts have one attempt for each part of a circuit: a second one would hide the first.
            models.UniqueConstraint(
                fields=["circuit", "part"], condition=models.Q(circuit__isnull=False), name="attempt_part_unique"
            ),
            models.UniqueConstraint(
                fields=["lesson", "manoeuvre", "ordinal"],
                condition=models.Q(circuit=None),
                name="attempt_ordinal_unique",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.manoeuvre} in {self.circuit or self.lesson}"

    @property
    def tapped(self) -> str:
        """Return the code of the step that was tapped; empty for none."""
        return self.step or self.level or ""


class FaultSeen(models.Model):
    attempt = models.ForeignKey(Attempt, on_delete=models.CASCADE, related_name="faults_seen")
    fault = models.ForeignKey(Fault, on_delete=models.PROTECT, related_name="+")

    class Meta:
        verbose_name_plural = "faults seen"
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["attempt", "fault"], name="faultseen_unique")
        ]

    def __str__(self) -> str:
        return f"{self.fault} in {self.attempt}"


class CriterionSeen(models.Model):
    """An observed criterion that was looked at in an attempt: done, or not done."""

    attempt = models.ForeignKey(Attempt, on_delete=models.CASCADE, related_name="criteria_seen")
    criterion = models.ForeignKey(Criterion, on_delete=models.PROTECT, related_name="+")
    # A criterion without a row was not looked at, which is not the same as “not done” and lowers nothing.
    done = models.BooleanField()

    class Meta:
        verbose_name_plural = "criteria seen"
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["attempt", "criterion"], name="criterionseen_unique")
        ]

    def __str__(self) -> str:
        return f"{self.criterion}: {'done' if self.done else 'not done'}"


class Measure(models.Model):
    """A number read at a gate, in `unit`; an empty one means the unit of its target.

    uncertainty: of a number that the instructor entered from a flight track, in the same unit, 19 of 20; None for one
    that was seen.
    """

    attempt = models.ForeignKey(Attempt, on_delete=models.CASCADE, related_name="measures")
    target = models.ForeignKey(GateTarget, on_delete=models.PROTECT, related_name="+")
    # Decimal and in the unit it was noted in: converted on entry, a value exactly on its tolerance could fall
    # outside.
    value = models.DecimalField(max_digits=7, decimal_places=1)
    unit = models.CharField(max_length=4, choices=GateTarget.MeasureUnit.choices, blank=True)
    uncertainty = models.DecimalField("uncertainty of the flight track", max_digits=6, decimal_places=1, null=True)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["attempt", "target"], name="measure_unique"),
            # A track without an uncertainty says more than it knows.
            models.CheckConstraint(
                condition=models.Q(uncertainty=None) | models.Q(uncertainty__gt=0), name="measure_uncertainty"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.value} {self.effective_unit} {self.target}"

    @property
    def effective_unit(self) -> str:
        return self.unit or self.target.unit

    @property
    def from_track(self) -> bool:
        return self.uncertainty is not None

    @property
    def entry_text(self) -> str:
        """Return the number as the text that would enter it again: '126 km/h', or '412 ft ±65 from track'."""
        number = f"{Decimal(self.value).normalize():f} {self.effective_unit}"
        if self.uncertainty is None:
            return number
        return f"{number} ±{Decimal(self.uncertainty).normalize():f} {FROM_TRACK}"


class Grade(models.Model):
    """The level given for a manoeuvre in a lesson, beside the one proposed. Both are saved."""

    lesson = models.ForeignKey(Lesson, on_delete=models.CASCADE, related_name="+")
    manoeuvre = models.ForeignKey(Manoeuvre, on_delete=models.PROTECT, related_name="+")
    # Stored with its reason and not proposed again later: it is what the instructor saw when giving the grade.
    proposed = models.CharField(max_length=12, choices=LEVELS, default=Level.NOT_OBSERVED.value)
    explanation = models.TextField()
    given = models.CharField(max_length=12, choices=LEVELS)
    # The steps of the syllabus's scale, empty where they have the names of their levels.
    proposed_step = models.CharField(max_length=12, blank=True)
    given_step = models.CharField(max_length=12, blank=True)
    help = models.CharField(max_length=12, choices=HELPS, default=Help.NONE.value)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["lesson", "manoeuvre"], name="grade_unique")
        ]

    def __str__(self) -> str:
        return f"{self.manoeuvre} {self.given} in {self.lesson}"

    @property
    def given_code(self) -> str:
        return self.given_step or self.given

    @property
    def changed(self) -> bool:
        return (self.given, self.given_step) != (self.proposed, self.proposed_step)


class Tap(models.Model):
    """One entry of a lesson that is being written: append-only, applied once, reversible by another tap.

    `field` is a dotted name such as "circuit.2.landing.level"; `before` and `after` are its values as text.
    """

    # A tablet gives a tap the id of its own event, so that both sides speak of the same tap.
    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    lesson = models.ForeignKey(Lesson, on_delete=models.CASCADE, related_name="+")
    at = models.DateTimeField()
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    field = models.CharField(max_length=120)
    before = models.TextField(blank=True)
    after = models.TextField(blank=True)
    # One to one: a tap is undone once, even where two requests to undo it arrive at the same moment.
    undoes = models.OneToOneField("self", on_delete=models.CASCADE, related_name="undone_by", null=True, blank=True)

    class Meta:
        # The last tap of a lesson is read from the end of this index, however many came before it.
        indexes: ClassVar[list[models.Index]] = [models.Index(fields=["lesson", "id"], name="tap_lesson")]

    def __str__(self) -> str:
        return f"{self.field}: {self.before or 'nothing'} to {self.after or 'nothing'}"

    @property
    def words(self) -> str:
        """Return the entry with its value, as 'Circuit 2 landing level: perform'."""
        return f"{self.entry}: {(self.after or 'empty').replace('_', ' ')}"

    @property
    def entry(self) -> str:
        """Return what was entered, as 'Circuit 2 landing level'."""
        name = self.field.removeprefix("lesson.").removesuffix("_minutes")
        return name.replace(".", " ").replace("_", " ").replace("-", " ").capitalize()
