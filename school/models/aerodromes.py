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
    # Where it lies, typed from the published chart: all of it may be missing, and every picture is drawn without it.
    threshold_latitude = models.DecimalField(
        "threshold, latitude (degrees, north positive)", max_digits=9, decimal_places=6, null=True, blank=True
    )
    threshold_longitude = models.DecimalField(
        "threshold, longitude (degrees, east positive)", max_digits=9, decimal_places=6, null=True, blank=True
    )
    heading_true = models.DecimalField("heading (degrees true)", max_digits=4, decimal_places=1, null=True, blank=True)
    aiming_point_ft = models.PositiveSmallIntegerField(
        "aiming point, distance past the threshold (ft)", null=True, blank=True
    )

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["aerodrome", "designator"], name="runway_unique"),
            models.CheckConstraint(
                condition=models.Q(heading_magnetic__gte=1, heading_magnetic__lte=360), name="runway_heading"
            ),
            # Half of a position is none.
            models.CheckConstraint(
                condition=models.Q(threshold_latitude=None, threshold_longitude=None)
                | models.Q(
                    # NULL lies in no range and is refused by none: it is named.
                    threshold_latitude__isnull=False,
                    threshold_longitude__isnull=False,
                    threshold_latitude__range=(-90, 90),
                    threshold_longitude__range=(-180, 180),
                ),
                name="runway_threshold",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.aerodrome.ident} runway {self.designator}"

    @property
    def touchdown_ft(self) -> float:
        """Return how far past the threshold the landing aims: the aiming point, or a sixth of the length.

        Common practice: in the touchdown zone.
        """
        return self.length_ft / 6 if self.aiming_point_ft is None else float(self.aiming_point_ft)


class Obstacle(models.Model):
    """Something that stands up before or beside a runway, by the published chart.

    before_ft: before the threshold as seen in the landing, negative past it; side_ft: right of the extended
    centreline, negative on the left; height_ft: above the threshold.
    """

    runway = models.ForeignKey(Runway, on_delete=models.CASCADE, related_name="obstacles")
    name = models.CharField(max_length=40)
    before_ft = models.IntegerField("before the threshold (ft)")
    side_ft = models.IntegerField("right of the centreline (ft)")
    height_ft = models.PositiveSmallIntegerField("height above the threshold (ft)")

    def __str__(self) -> str:
        return f"{self.name} at {self.runway}"
