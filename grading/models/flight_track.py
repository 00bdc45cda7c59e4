"""This model holds what was measured from the flight track of a lesson, beside what was seen and tapped."""

import uuid
from typing import ClassVar

from django.db import models

from lessons.models import GateSet, Lesson
from school.models import Aerodrome, Person


class FlightTrack(models.Model):
    """A flight track that was kept with a lesson. It changes nothing of the lesson, and nothing in it changes.

    Its positions alone may go: after the months of `TrackTerm`, or because somebody removed it (`removed_at`). Its
    readings and the fingerprint of its file stay with the record, as they are sealed. after_signing: kept when the
    lesson was signed already, so that the sealed lesson does not name it.

    sha256: of the file as it came, which is not kept; positions: cut to the flying round the aerodrome, and `ways` the
    smoothed way of each circuit (both packed: lessons/rules/flight_track/packed_track.py). circuits: how each was
    measured, as `MeasuredCircuit` (lessons/rules/flight_track) has it, with `number`, the circuit of the lesson that a
    person found it to be, or None, and the readings by column. wind: as used, degrees true and knots.
    """

    class Form(models.TextChoices):
        GPX = "gpx", "GPX"
        IGC = "igc", "FAI IGC"
        CSV = "csv", "CSV"
        KML = "kml", "KML"

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    lesson = models.ForeignKey(Lesson, on_delete=models.PROTECT, related_name="+")
    sha256 = models.CharField(max_length=64)
    form = models.CharField(max_length=3, choices=Form.choices)
    fixes = models.PositiveIntegerField()
    first_at = models.DateTimeField()
    last_at = models.DateTimeField()
    step_seconds = models.DecimalField("seconds between positions", max_digits=6, decimal_places=2)
    by_pressure = models.BooleanField("heights by pressure")
    aerodrome = models.ForeignKey(Aerodrome, on_delete=models.PROTECT, related_name="+")
    gate_set = models.ForeignKey(GateSet, on_delete=models.PROTECT, related_name="+")
    wind_from = models.PositiveSmallIntegerField("wind from (degrees true)", null=True, blank=True)
    wind_speed_kt = models.PositiveSmallIntegerField("wind speed (kt)", null=True, blank=True)
    # Of the way in which it was measured: a later one may measure the same positions differently.
    method = models.PositiveSmallIntegerField(default=1)
    positions = models.BinaryField()
    circuits = models.JSONField(default=list)
    ways = models.BinaryField()
    imported_at = models.DateTimeField()
    imported_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    after_signing = models.BooleanField("kept after the lesson was signed", default=False)
    removed_at = models.DateTimeField(null=True, blank=True)
    removed_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            # The same file twice would show every circuit twice.
            models.UniqueConstraint(fields=["lesson", "sha256"], name="flighttrack_file_unique"),
            models.CheckConstraint(condition=models.Q(last_at__gt=models.F("first_at")), name="flighttrack_span"),
            models.CheckConstraint(
                condition=models.Q(wind_speed_kt=None, wind_from=None) | models.Q(wind_speed_kt__isnull=False),
                name="flighttrack_wind",
            ),
            models.CheckConstraint(
                condition=models.Q(removed_at=None, removed_by=None)
                | models.Q(removed_at__isnull=False, removed_by__isnull=False),
                name="flighttrack_removed",
            ),
        ]

    def __str__(self) -> str:
        return f"flight track of {self.lesson}"

    @property
    def has_positions(self) -> bool:
        """Return whether it still says where the aircraft was: without that there is no picture and no file."""
        return bool(self.ways)


class TrackTerm(models.Model):
    """For how many months after a lesson the positions of its tracks are kept, since a moment; the newest counts."""

    months = models.PositiveSmallIntegerField("months after the lesson")
    decided_at = models.DateTimeField()
    decided_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(months__gte=1) & models.Q(months__lte=60), name="trackterm_months"
            )
        ]

    def __str__(self) -> str:
        return f"positions of flight tracks for {self.months} months"
