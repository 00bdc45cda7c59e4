import copy
from datetime import date
from typing import Any, ClassVar

from django.core.validators import MinValueValidator
from django.db import models

# What a new issue of the figures of a type may change. Another gear is another aircraft to fly: a type of its own.
ISSUE_FIELDS = (
    "constant_speed_propeller",
    "flaps",
    "horsepower",
    "seats",
    "stall_landing_kt",
    "stall_clean_kt",
    "demonstrated_crosswind_kt",
)


class AircraftType(models.Model):
    """A make and model. Speeds are indicated, in knots, from the aircraft's flight manual.

    The columns hold the figures in force. `earlier_issues`: those before, the oldest first, each with its number
    `issue`, its last day `until` and the names of ISSUE_FIELDS; a lesson is shown with the figures of its day.
    """

    code = models.SlugField(max_length=20, unique=True)
    name = models.CharField(max_length=60)
    tailwheel = models.BooleanField()
    retractable = models.BooleanField("retractable gear")
    constant_speed_propeller = models.BooleanField()
    # True unless somebody says otherwise: with flaps more is asked of the student, never less.
    flaps = models.BooleanField(default=True)
    # NULL is not known, which asks for an answer before solo; no number could stand for it.
    horsepower = models.PositiveSmallIntegerField("horsepower of its strongest engine", null=True, blank=True)
    seats = models.PositiveSmallIntegerField("seats, the pilot's included", null=True, blank=True)
    stall_landing_kt = models.PositiveSmallIntegerField(
        "stall speed, landing configuration (kt)", validators=[MinValueValidator(1)]
    )
    stall_clean_kt = models.PositiveSmallIntegerField("stall speed, clean (kt)", validators=[MinValueValidator(1)])
    demonstrated_crosswind_kt = models.PositiveSmallIntegerField("demonstrated crosswind (kt)")
    issue = models.PositiveSmallIntegerField("issue of its figures", default=1)
    # NULL for the first issue, which was always in force.
    valid_from = models.DateField(null=True, blank=True)
    # In the row and not in a table: every page of a lesson reads its type, and none pays a query for this.
    earlier_issues = models.JSONField(default=list, blank=True)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            # Flaps lower the stall speed: the other way round the two were swapped when they were typed.
            models.CheckConstraint(
                condition=models.Q(stall_landing_kt__gt=0) & models.Q(stall_clean_kt__gte=models.F("stall_landing_kt")),
                name="aircrafttype_stall_speeds",
            )
        ]

    def __str__(self) -> str:
        return self.name

    def on(self, day: date) -> "AircraftType":
        """Return the type with the figures that were in force on a day: itself, or a copy that nobody saves."""
        if self.valid_from is None or day >= self.valid_from:
            return self
        figures: dict[str, Any] = next(row for row in self.earlier_issues if day <= date.fromisoformat(row["until"]))
        earlier = copy.copy(self)
        for name in (*ISSUE_FIELDS, "issue"):
            setattr(earlier, name, figures[name])
        return earlier

    @property
    def is_complex(self) -> bool:
        return self.flaps and self.retractable and self.constant_speed_propeller

    @property
    def is_high_performance(self) -> bool:
        return self.horsepower is not None and self.horsepower > 200  # 14 CFR 61.31(f)(1)


class Aircraft(models.Model):
    registration = models.CharField(max_length=12, unique=True)
    type = models.ForeignKey(AircraftType, on_delete=models.PROTECT, related_name="aircraft")
    in_service = models.BooleanField(default=True)

    class Meta:
        verbose_name_plural = "aircraft"

    def __str__(self) -> str:
        return f"{self.registration}, {self.type.name}"
