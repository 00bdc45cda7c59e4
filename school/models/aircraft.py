from typing import ClassVar

from django.core.validators import MinValueValidator
from django.db import models


class AircraftType(models.Model):
    """A make and model. Speeds are indicated, in knots, from the aircraft's flight manual."""

    code = models.SlugField(max_length=20, unique=True)
    name = models.CharField(max_length=60)
    tailwheel = models.BooleanField()
    retractable = models.BooleanField("retractable gear")
    constant_speed_propeller = models.BooleanField()
    # True unless somebody says otherwise: with flaps more is asked of the student, never less.
    flaps = models.BooleanField(default=True)
    # NULL is not known, which asks for an answer before solo; no number could stand for it.
    horsepower = models.PositiveSmallIntegerField("horsepower of its strongest engine", null=True, blank=True)
    stall_landing_kt = models.PositiveSmallIntegerField(
        "stall speed, landing configuration (kt)", validators=[MinValueValidator(1)]
    )
    stall_clean_kt = models.PositiveSmallIntegerField("stall speed, clean (kt)", validators=[MinValueValidator(1)])
    demonstrated_crosswind_kt = models.PositiveSmallIntegerField("demonstrated crosswind (kt)")

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
