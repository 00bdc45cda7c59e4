from typing import ClassVar
from zoneinfo import ZoneInfo

from django.db import models

from school.days import zone_of
from school.models.aerodromes import Aerodrome


class School(models.Model):
    """The one school of this installation."""

    class RuleSet(models.TextChoices):
        US = "us", "United States, 14 CFR part 61"
        EU = "eu", "Europe, Part-FCL"

    class Paper(models.TextChoices):
        A4 = "A4", "A4"
        LETTER = "Letter", "Letter"

    class SpeedUnit(models.TextChoices):
        KNOTS = "kt", "knots"
        KMH = "km/h", "kilometres an hour"

    class LengthUnit(models.TextChoices):
        FEET = "ft", "feet"
        METRES = "m", "metres"

    name = models.CharField(max_length=100)
    aerodrome = models.ForeignKey(Aerodrome, on_delete=models.PROTECT, related_name="+")
    # The name and not an offset: summer time and its changes come with it. The aerodrome may lie in another zone.
    time_zone = models.CharField("time zone", max_length=64, default="UTC")
    rule_set = models.CharField(max_length=2, choices=RuleSet.choices, default=RuleSet.US)
    speed_unit = models.CharField("speeds in", max_length=4, choices=SpeedUnit.choices, default=SpeedUnit.KNOTS)
    length_unit = models.CharField(
        "heights and distances in", max_length=2, choices=LengthUnit.choices, default=LengthUnit.FEET
    )
    paper = models.CharField("paper for printing", max_length=6, choices=Paper.choices, default=Paper.A4)
    chief_countersigns = models.BooleanField("the chief instructor signs each release for solo", default=True)
    # The longest retention that may apply to a school is five years (49 CFR part 1552); the rules for
    # training records ask for less (14 CFR 141.101(d): one year, 61.189: three years).
    retention_years = models.PositiveSmallIntegerField("records are kept for (years)", default=5)

    # A lost tablet without network shows what it keeps for so long after its last contact, and no longer.
    tablet_hours = models.PositiveSmallIntegerField("tablets keep pages for (hours)", default=24)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            # get() without a key, as in school/current.py, rests on this.
            models.CheckConstraint(condition=models.Q(pk=1), name="school_is_one"),
            models.CheckConstraint(condition=models.Q(retention_years__gte=5), name="school_retention"),
            models.CheckConstraint(
                condition=models.Q(tablet_hours__gte=1, tablet_hours__lte=168), name="school_tablet_hours"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def zone(self) -> ZoneInfo:
        return zone_of(self.time_zone)
