"""These models hold print runs for many students at once, and how each background job ended."""

import uuid
from typing import ClassVar, Self

from django.db import models
from django.db.models import Count, Q

from grading.models.record import Sheet
from lessons.models import Enrolment
from school.models import Person, School

# One condition for the queries and the partial index: PostgreSQL uses the index only where the query implies its
# condition.
WAITING_ITEMS = Q(sheet=None, problem="", left_out=False)


class PrintRunQuerySet(models.QuerySet["PrintRun"]):
    def with_counts(self) -> Self:
        """Annotate each run with the `total`, `printed`, `failed` and `left_out` of its items."""
        # All over one join to the items: a second join would multiply the rows and with them every count.
        return self.annotate(
            total=Count("items"),
            printed=Count("items__sheet"),
            failed=Count("items", filter=~Q(items__problem="")),
            left_out=Count("items", filter=Q(items__left_out=True)),
        )


class PrintRun(models.Model):
    """One kind of sheet, as of one day, for a number of students: a person requests it, workers print it."""

    class Chosen(models.TextChoices):
        ACTIVE = "active", "all in training on that day"
        ENDED = "ended", "all whose training ended between two days"
        PICKED = "picked", "students picked by hand"

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    kind = models.CharField(max_length=12, choices=Sheet.Kind.choices)
    on = models.DateField("as of")
    paper = models.CharField(max_length=6, choices=School.Paper.choices)
    chosen = models.CharField(max_length=6, choices=Chosen.choices)
    ended_from = models.DateField(null=True, blank=True)
    ended_until = models.DateField(null=True, blank=True)
    asked_at = models.DateTimeField()
    asked_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    cancelled_at = models.DateTimeField(null=True, blank=True)
    cancelled_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)

    objects = PrintRunQuerySet.as_manager()

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=Q(cancelled_at=None, cancelled_by=None)
                | Q(cancelled_at__isnull=False, cancelled_by__isnull=False),
                name="printrun_cancelled_at_by",
            ),
            models.CheckConstraint(
                condition=Q(chosen="ended", ended_from__isnull=False, ended_until__gte=models.F("ended_from"))
                | (~Q(chosen="ended") & Q(ended_from=None, ended_until=None)),
                name="printrun_ended_between",
            ),
        ]

    def __str__(self) -> str:
        return f"Print run of {self.get_kind_display()}s as of {self.on}"


class PrintRunItem(models.Model):
    """One student's place in a run: waiting, printed (with its sheet), failed (with the problem), or left out.

    The worker that prints it locks its row; the database refuses to change it once it has its sheet.
    """

    run = models.ForeignKey(PrintRun, on_delete=models.PROTECT, related_name="items")
    enrolment = models.ForeignKey(Enrolment, on_delete=models.PROTECT, related_name="+")
    position = models.PositiveIntegerField()
    sheet = models.OneToOneField(Sheet, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    problem = models.TextField(blank=True)
    left_out = models.BooleanField("cancelled before it was printed", default=False)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["run", "enrolment"], name="printrunitem_student_once"),
            models.UniqueConstraint(fields=["run", "position"], name="printrunitem_position_once"),
            models.CheckConstraint(
                condition=Q(sheet=None) | Q(problem="", left_out=False), name="printrunitem_printed_or_not"
            ),
        ]
        indexes: ClassVar[list[models.Index]] = [
            # Each worker asks for the first waiting item. What is printed leaves the index, so a long run does not
            # slow down.
            models.Index(fields=["run", "position"], condition=WAITING_ITEMS, name="printrunitem_waiting")
        ]

    def __str__(self) -> str:
        return f"{self.enrolment.student} in {self.run}"


class JobReport(models.Model):
    """How a background job ended, in words: the queue itself stores no reasons. `job` is its number there."""

    # A number and no foreign key: the tables of the queue are its own, and it deletes old jobs by itself.
    job = models.BigIntegerField()
    task = models.CharField(max_length=128)
    at = models.DateTimeField()
    failed = models.BooleanField()
    words = models.TextField()

    class Meta:
        indexes: ClassVar[list[models.Index]] = [
            # For the newest report of each daily task, one step in the index for each.
            models.Index(fields=["task", "-at"], name="jobreport_task_at"),
            models.Index(fields=["job"], name="jobreport_job"),
        ]

    def __str__(self) -> str:
        return f"{self.task}, {self.at:%Y-%m-%d %H:%M}: {self.words}"
