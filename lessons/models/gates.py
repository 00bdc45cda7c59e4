"""Gates: fixed points of a takeoff, circuit or approach with targets, per aircraft type and dated issue."""

from datetime import date
from typing import ClassVar, Self

from django.db import models

from lessons.models.choices import enum_choices
from lessons.rules.pattern import Leg, Shape
from school.models import AircraftType


class GateSetQuerySet(models.QuerySet["GateSet"]):
    def in_force(self, on: date) -> Self:
        """Return the issue of each type that is valid on a day: a lesson is judged by the gates of its day."""
        # DISTINCT ON keeps the first row of each type in this order: the issue that became valid last.
        return (
            self.filter(valid_from__lte=on, published=True)
            .order_by("aircraft_type", "-valid_from", "-issue")
            .distinct("aircraft_type")
        )


class GateSet(models.Model):
    aircraft_type = models.ForeignKey(AircraftType, on_delete=models.PROTECT, related_name="+")
    issue = models.PositiveSmallIntegerField()
    valid_from = models.DateField()
    shape = models.CharField(max_length=6, choices=enum_choices(Shape), default=Shape.SQUARE.value)
    # False only while it is being put together: the database lets nothing of a published one change.
    published = models.BooleanField(default=False)

    objects = GateSetQuerySet.as_manager()

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["aircraft_type", "issue"], name="gateset_issue_unique"),
            # With two issues from one day it would be open which of them judges its lessons.
            models.UniqueConstraint(fields=["aircraft_type", "valid_from"], name="gateset_day_unique"),
        ]

    def __str__(self) -> str:
        return f"Gates of {self.aircraft_type}, issue {self.issue}"


class Gate(models.Model):
    """A fixed point; `order` is that in which they are flown, `along_ft` the distance flown since the lift-off."""

    class Phase(models.TextChoices):
        TAKEOFF = "takeoff", "Takeoff"
        CIRCUIT = "circuit", "Circuit"
        APPROACH = "approach", "Approach"
        LANDING = "landing", "Landing"

    gate_set = models.ForeignKey(GateSet, on_delete=models.PROTECT, related_name="gates")
    code = models.SlugField(max_length=40)
    name = models.CharField(max_length=40)
    phase = models.CharField(max_length=10, choices=Phase.choices)
    order = models.PositiveSmallIntegerField()
    leg = models.CharField(max_length=9, choices=enum_choices(Leg))
    configuration = models.CharField(max_length=100, blank=True)
    where = models.CharField(max_length=140, blank=True)
    along_ft = models.IntegerField("distance since the lift-off (ft)")

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["gate_set", "code"], name="gate_unique"),
            models.UniqueConstraint(fields=["gate_set", "order"], name="gate_order_unique"),
        ]

    def __str__(self) -> str:
        return self.name


class GateTarget(models.Model):
    """One quantity at a gate. `over` and `under` are the tolerances on either side, in the same unit."""

    class Quantity(models.TextChoices):
        HEIGHT = "height", "height"
        SPEED = "speed", "speed"
        DISTANCE = "distance", "distance"
        BANK = "bank", "bank"
        POWER = "power", "power"
        PROPELLER = "propeller", "propeller"

    class MeasureUnit(models.TextChoices):
        FEET = "ft", "ft"
        KNOTS = "kt", "kt"
        DEGREES = "deg", "deg"
        METRES = "m", "m"
        KMH = "km/h", "km/h"
        RPM = "rpm", "rpm"
        INCHES_OF_MERCURY = "inHg", "inHg"

    class WindRule(models.TextChoices):
        NONE = "none", "not changed by gusts"
        HALF_GUST = "half_gust", "plus half the gust"

    gate = models.ForeignKey(Gate, on_delete=models.PROTECT, related_name="targets")
    quantity = models.CharField(max_length=10, choices=Quantity.choices)
    value = models.DecimalField(max_digits=7, decimal_places=1)
    over = models.DecimalField("tolerance above", max_digits=6, decimal_places=1)
    under = models.DecimalField("tolerance below", max_digits=6, decimal_places=1)
    # A target keeps the unit it was written in: it is converted only when it is compared, so nothing is rounded twice.
    unit = models.CharField(max_length=4, choices=MeasureUnit.choices)
    wind_rule = models.CharField(max_length=10, choices=WindRule.choices, default=WindRule.NONE)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["gate", "quantity"], name="gatetarget_unique"),
            # With no tolerance on either side, no measured number could ever be inside.
            models.CheckConstraint(
                condition=models.Q(over__gte=0, under__gte=0) & (models.Q(over__gt=0) | models.Q(under__gt=0)),
                name="gatetarget_has_tolerance",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} at {self.gate}"
