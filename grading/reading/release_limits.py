"""This module compares a solo flight with the releases of its day and says in sentences what lies outside them."""

from collections.abc import Sequence
from decimal import ROUND_CEILING, Decimal
from enum import StrEnum
from typing import NamedTuple

from grading.models import Release
from grading.reading.fact_mapping import held_for_flight
from lessons.conditions import lesson_wind
from lessons.models import Lesson
from lessons.rules.scale import UnitKind
from lessons.rules.wind import Wind, worst_crosswind_kt
from school.citations import cite
from school.current import get_school, school_zone

NO_RELEASE = "No release for solo was in force on that day."
NO_RELEASE_BY_DAY = "No release for solo by day was in force on that day, and every other one rests on it."


class BreachKind(StrEnum):
    NO_RELEASE = "no_release"
    TERMS = "terms"  # another type, aerodrome, runway or time of day
    WIND = "wind"
    NOT_COMPARED = "not_compared"  # what is not recorded yet cannot be held against the release


class Breach(NamedTuple):
    kind: BreachKind
    sentence: str


def is_solo_flight(lesson: Lesson) -> bool:
    return lesson.unit.kind == UnitKind.SOLO or lesson.solo_minutes > 0


def release_breaches(lesson: Lesson) -> list[str]:
    """Return what lies outside the release that comes closest, and nothing for dual flights and solo within a release.

    Visibility and cloud base are not recorded with a lesson and so not compared.
    Two queries for a solo flight, none for another.
    """
    return [breach.sentence for breach in find_breaches(lesson)]


def find_breaches(lesson: Lesson) -> list[Breach]:
    """Return what release_breaches() says, each with its kind."""
    if not is_solo_flight(lesson):
        return []
    rows = Release.objects.filter(
        enrolment=lesson.enrolment_id, valid_from__lte=lesson.on, valid_until__gte=lesson.on
    ).select_related("aerodrome", "aircraft_type")
    zone = school_zone()
    # By the flight and not by its day: a release withdrawn for what happened in it was in force when it began.
    in_force = [row for row in rows if held_for_flight(row, lesson, zone)]
    return _nearest_breaches(lesson, in_force, get_school().aerodrome_id) if in_force else [_none_in_force()]


def breaches_at_beginning(lesson: Lesson) -> list[Breach]:
    """Return why a solo flight may not begin without a reason: what is not known yet, such as the wind, is left out."""
    return [breach for breach in find_breaches(lesson) if breach.kind is not BreachKind.NOT_COMPARED]


def breaches_of_releases(lesson: Lesson, standing: Sequence[Release], home: int) -> list[str]:
    """Compare a solo flight with the releases that were in force on its day. No query; home: key of the aerodrome."""
    return [breach.sentence for breach in _nearest_breaches(lesson, standing, home)]


def _nearest_breaches(lesson: Lesson, standing: Sequence[Release], home: int) -> list[Breach]:
    if not standing:
        return [_none_in_force()]
    if not any(row.kind == Release.Kind.DAY for row in standing):
        return [Breach(BreachKind.NO_RELEASE, NO_RELEASE_BY_DAY)]
    # One release that allows the flight is enough; where none does, the nearest one says what was really wrong.
    return min((_breaches(lesson, row, home) for row in standing), key=len)


def _none_in_force() -> Breach:
    return Breach(BreachKind.NO_RELEASE, NO_RELEASE)


def _breaches(lesson: Lesson, release: Release, home: int) -> list[Breach]:
    breaches = [Breach(BreachKind.TERMS, sentence) for sentence in _term_breaches(lesson, release, home)]
    # What is not recorded counts as outside: nobody can show that the flight was within the release.
    if lesson.aircraft is None or lesson.runway is None:
        unknown = "Aircraft or runway are not recorded, so the flight cannot be held against the release."
        breaches.append(Breach(BreachKind.NOT_COMPARED, unknown))
    wind = lesson_wind(lesson)
    if wind is None:
        unknown = "No wind is recorded, so it cannot be held against the release."
        return [*breaches, Breach(BreachKind.NOT_COMPARED, unknown)]
    return breaches + [Breach(BreachKind.WIND, sentence) for sentence in wind_breaches(lesson, release, wind)]


def _term_breaches(lesson: Lesson, release: Release, home: int) -> list[str]:
    said = []
    if lesson.aircraft and lesson.aircraft.type_id != release.aircraft_type_id:
        said.append(f"The release is for the {release.aircraft_type}, flown was the {lesson.aircraft.type}.")
    if lesson.night_minutes and release.kind != Release.Kind.NIGHT:
        said.append(f"The release is for solo by day{cite('14 CFR 61.87(o)')}.")
    if release.kind == Release.Kind.NIGHT and not lesson.night_minutes:
        said.append("The release is for solo at night.")
    elsewhere = lesson.runway is not None and lesson.runway.aerodrome_id != home
    if lesson.runway and lesson.runway.aerodrome_id != release.aerodrome_id:
        paragraph = cite("14 CFR 61.93") if elsewhere else ""
        said.append(f"The release is for {release.aerodrome}, flown was from {lesson.runway.aerodrome}{paragraph}.")
    elif lesson.runway and lesson.runway.designator not in release.runways.replace(",", " ").split():
        said.append(f"Runway {lesson.runway.designator} is not in the release ({release.runways}).")
    return said


def wind_breaches(lesson: Lesson, release: Release, wind: Wind) -> list[str]:
    """Return in sentences what of a wind, gusts counted, a release does not allow. No query."""
    said = []
    # The strongest gust and not the steady wind: the student met it too.
    if wind.strongest_kt > release.max_wind_kt:
        said.append(f"Wind up to {wind.strongest_kt} kt, released for {release.max_wind_kt} kt.")
    if lesson.runway is not None:
        across = worst_crosswind_kt(wind, lesson.runway.heading_magnetic)
        if across > release.max_crosswind_kt:
            said.append(f"Crosswind up to {knots_above(across)} kt, released for {release.max_crosswind_kt} kt.")
    return said


def knots_above(knots: float) -> str:
    """Return a speed rounded up to a tenth: rounded to the nearest, one beyond a limit could read as the limit."""
    return f"{Decimal(str(knots)).quantize(Decimal('0.1'), ROUND_CEILING).normalize():f}"
