from typing import ClassVar

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models


class Aerodrome(models.Model):
    ident = models.CharField(max_length=4, unique=True)
    name = models.CharField(max_length=60)
    elevation_ft = models.SmallIntegerField("elevation (ft)")
    variation_deg = models.DecimalField(
        "magnetic variation (degrees, east positive)", max_digits=4, decimal_places=1, default=0
    )
    circuit_height_ft = models.PositiveSmallIntegerField("circuit height above the aerodrome (ft)", default=1000)

    def __str__(self) -> str:
        return f"{self.name} ({self.ident})"


class Runway(models.Model):
    """One direction of a runway. Heading in degrees magnetic, as its number and a tower's wind are."""

    class CircuitSide(models.TextChoices):
        LEFT = "left", "left-hand"
        RIGHT = "right", "right-hand"

    aerodrome = models.ForeignKey(Aerodrome, on_delete=models.PROTECT, related_name="runways")
    designator = models.CharField(max_length=3)
    heading_magnetic = models.PositiveSmallIntegerField(
        "heading (degrees magnetic)", validators=[MinValueValidator(1), MaxValueValidator(360)]
    )
    length_ft = models.PositiveIntegerField("landing distance available (ft)")
    circuit = models.CharField(max_length=5, choices=CircuitSide.choices, default=CircuitSide.LEFT)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["aerodrome", "designator"], name="runway_unique"),
            models.CheckConstraint(
                condition=models.Q(heading_magnetic__gte=1, heading_magnetic__lte=360), name="runway_heading"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.aerodrome.ident} runway {self.designator}"
