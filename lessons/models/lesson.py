import uuid
from collections.abc import Iterator
from datetime import UTC, timedelta
from typing import ClassVar, Self

from django.core.validators import MaxValueValidator
from django.db import models
from django.db.models.functions import TruncDate
from django.db.models.query import ModelIterable

from lessons.models.choices import ENDINGS, LANDING_KINDS
from lessons.models.enrolment import Enrolment
from lessons.models.published_values import get_unit
from lessons.models.syllabus import Unit
from lessons.rules.units import MINUTES_PER_DAY
from school.models import Aircraft, AircraftType, Person, Runway


class _UnitIterable(ModelIterable):  # type: ignore[type-arg] # Django’s cannot be subscripted
    def __iter__(self) -> Iterator["Lesson"]:
        # Lessons of one answer share an instance of their unit, as with select_related(); no other answer has it.
        units: dict[int, Unit] = {}
        for lesson in super().__iter__():
            if lesson.unit_id not in units:
                units[lesson.unit_id] = get_unit(lesson.unit_id).to_model()
            lesson.unit = units[lesson.unit_id]
            yield lesson


class LessonQuerySet(models.QuerySet["Lesson"]):
    def signed(self) -> Self:
        return self.filter(signed_at__isnull=False)

    def unsigned(self) -> Self:
        return self.filter(signed_at=None)

    def current(self) -> Self:
        """Leave out lessons that a signed correction has replaced."""
        # A join and not NOT EXISTS: without fresh statistics that one was run once a row, for minutes.
        return self.filter(models.Q(superseded_by=None) | models.Q(superseded_by__signed_at=None))

    def in_order(self) -> Self:
        return self.order_by("on", "number", "version")

    def newest_first(self) -> Self:
        return self.order_by("-on", "-number", "-version")

    def with_unit(self) -> Self:
        """Attach the unit, up to its scale, from the cache: this saves four joins that are planned each time."""
        found = self.all()
        found._iterable_class = _UnitIterable
        return found

    def for_entries(self) -> Self:
        """Read what is needed to write in a lesson and to answer a tap."""
        return self.with_unit().select_related("enrolment__aircraft_type", "aircraft__type")

    def for_kept_pages(self) -> Self:
        """Read what names a page that is kept once drawn: half of its time went into joins that it does not show."""
        return self.select_related("enrolment__student")

    def for_pages(self) -> Self:
        return self.with_unit().select_related(
            "enrolment__student", "enrolment__aircraft_type", "instructor", "aircraft__type", "runway__aerodrome"
        )


class WindReference(models.TextChoices):
    MAGNETIC = "magnetic", "magnetic"
    TRUE = "true", "true"


class Lesson(models.Model):
    """What was flown or taught on a day. Signed, it is final; a correction is a new version.

    Minutes are whole minutes of block time; speeds are knots; the wind direction is degrees magnetic or true,
    as `wind_reference` says. A weather report gives the wind where no number was entered.
    """

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    enrolment = models.ForeignKey(Enrolment, on_delete=models.PROTECT, related_name="lessons")
    number = models.PositiveSmallIntegerField()
    version = models.PositiveSmallIntegerField(default=1)
    supersedes = models.OneToOneField(
        "self", on_delete=models.PROTECT, related_name="superseded_by", null=True, blank=True
    )
    correction_reason = models.CharField(max_length=300, blank=True)

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="+")
    on = models.DateField("date")
    instructor = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    aircraft = models.ForeignKey(Aircraft, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    runway = models.ForeignKey(Runway, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    off_blocks = models.DateTimeField(null=True, blank=True)
    on_blocks = models.DateTimeField(null=True, blank=True)
    dual_minutes = models.PositiveSmallIntegerField(default=0)
    solo_minutes = models.PositiveSmallIntegerField(default=0)
    night_minutes = models.PositiveSmallIntegerField(default=0)
    instrument_minutes = models.PositiveSmallIntegerField(default=0)
    ground_minutes = models.PositiveSmallIntegerField("ground instruction", default=0)
    takeoffs = models.PositiveSmallIntegerField(default=0)
    landings = models.PositiveSmallIntegerField(default=0)
    wind_direction = models.PositiveSmallIntegerField(
        "wind from (degrees)", null=True, blank=True, validators=[MaxValueValidator(360)]
    )
    wind_reference = models.CharField(
        "north of the wind", max_length=8, choices=WindReference.choices, default=WindReference.MAGNETIC
    )
    weather_report = models.CharField("METAR", max_length=300, blank=True)
    wind_speed_kt = models.PositiveSmallIntegerField("wind speed (kt)", null=True, blank=True)
    wind_gust_kt = models.PositiveSmallIntegerField("gusting to (kt)", null=True, blank=True)
    remarks = models.TextField("remarks", blank=True)
    outside_release = models.TextField("why solo was flown outside the release", blank=True)
    next_time = models.TextField("for the next lesson", blank=True)

    begun_at = models.DateTimeField()
    begun_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    signed_at = models.DateTimeField(null=True, blank=True)
    signed_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)

    objects = LessonQuerySet.as_manager()

    class Meta:
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["enrolment", "on"], name="lesson_enrolment_on"),
            models.Index(fields=["instructor", "on"], name="lesson_instructor_on"),
            # The lessons in one aircraft on a day: an aircraft has thousands.
            models.Index(fields=["aircraft", "on"], name="lesson_aircraft_on"),
            models.Index(fields=["on"], name="lesson_on"),
            # Partial: it holds only the few lessons that are being written.
            models.Index(
                fields=["enrolment", "instructor"], condition=models.Q(signed_at=None), name="lesson_unsigned"
            ),
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["enrolment", "number", "version"], name="lesson_number_unique"),
            models.CheckConstraint(
                condition=models.Q(signed_at=None, signed_by=None)
                | models.Q(signed_at__isnull=False, signed_by__isnull=False),
                name="lesson_signed_at_by",
            ),
            # Nobody signs for somebody else, whatever code writes the row.
            models.CheckConstraint(
                condition=models.Q(signed_by=None) | models.Q(signed_by=models.F("instructor")),
                name="lesson_signed_by_its_instructor",
            ),
            # Without its reason and the lesson it replaces, a correction would look like a second lesson.
            models.CheckConstraint(
                condition=models.Q(version=1, supersedes=None, correction_reason="")
                | (models.Q(version__gt=1, supersedes__isnull=False) & ~models.Q(correction_reason="")),
                name="lesson_correction_has_reason",
            ),
            # The hours of an instructor are spread over the block time (instructor_limits.py), which divides by it.
            models.CheckConstraint(
                condition=models.Q(on_blocks=None)
                | models.Q(off_blocks=None)
                | models.Q(on_blocks__gt=models.F("off_blocks")),
                name="lesson_on_after_off_blocks",
            ),
            # What has not happened yet cannot be signed. A day on top, because the furthest zone is 14 hours ahead of
            # UTC; the school's own day is asked for by the action.
            models.CheckConstraint(
                condition=models.Q(signed_at=None)
                | models.Q(on__lte=TruncDate("signed_at", tzinfo=UTC) + timedelta(days=1)),
                name="lesson_signed_not_before_its_day",
            ),
            # Wind refuses a weaker gust: stored, it would break every page that reads the wind of this lesson.
            models.CheckConstraint(
                condition=models.Q(wind_gust_kt=None) | models.Q(wind_gust_kt__gte=models.F("wind_speed_kt")),
                name="lesson_gust_over_wind",
            ),
            # A day has 1,440 minutes, and what is flown dual is not flown solo.
            models.CheckConstraint(
                condition=models.Q(
                    dual_minutes__lte=MINUTES_PER_DAY - models.F("solo_minutes"),
                    night_minutes__lte=MINUTES_PER_DAY,
                    instrument_minutes__lte=MINUTES_PER_DAY,
                    ground_minutes__lte=MINUTES_PER_DAY,
                ),
                name="lesson_minutes_of_a_day",
            ),
            models.CheckConstraint(condition=models.Q(number__gte=1), name="lesson_number_from_one"),
        ]

    def __str__(self) -> str:
        return f"Lesson {self.number} of {self.enrolment.student}"

    @property
    def is_signed(self) -> bool:
        return self.signed_at is not None

    @property
    def type_flown(self) -> AircraftType | None:
        """Return the type of the aircraft with the figures of the day of this lesson; None without an aircraft."""
        return self.aircraft.type.on(self.on) if self.aircraft else None

    @property
    def flight_minutes(self) -> int:
        return self.dual_minutes + self.solo_minutes

    @property
    def block_minutes(self) -> int | None:
        """Return the whole minutes from off blocks to on blocks; None while one of the two is missing."""
        if self.off_blocks is None or self.on_blocks is None:
            return None
        return int((self.on_blocks - self.off_blocks).total_seconds() // 60)


class Circuit(models.Model):
    # CASCADE serves the discarding of an unsigned lesson: once it is signed, triggers refuse to delete either.
    lesson = models.ForeignKey(Lesson, on_delete=models.CASCADE, related_name="circuits")
    number = models.PositiveSmallIntegerField()
    ending = models.CharField(max_length=12, choices=ENDINGS)
    closed = models.BooleanField(default=False)
    landing_kind = models.CharField("kind of landing", max_length=12, choices=LANDING_KINDS, blank=True)
    # Flown by the instructor to show it: it counts for nothing but the hours.
    shown = models.BooleanField("shown by the instructor", default=False)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["lesson", "number"], name="circuit_number_unique"),
            models.CheckConstraint(condition=models.Q(number__gte=1), name="circuit_number_from_one"),
        ]

    def __str__(self) -> str:
        return f"circuit {self.number} of {self.lesson}"
