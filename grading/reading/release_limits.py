"""This module compares a solo flight with the releases of its day and says in sentences what lies outside them."""

from collections.abc import Sequence
from decimal import ROUND_CEILING, Decimal

from grading.models import Release
from lessons.conditions import lesson_wind
from lessons.models import Lesson
from lessons.rules.scale import UnitKind
from lessons.rules.wind import Wind, worst_crosswind_kt
from school.citations import cite
from school.current import get_school

NO_RELEASE = "No release for solo was in force on that day."


def is_solo_flight(lesson: Lesson) -> bool:
    return lesson.unit.kind == UnitKind.SOLO or lesson.solo_minutes > 0


def release_breaches(lesson: Lesson) -> list[str]:
    """Return what lies outside the release that comes closest, and nothing for dual flights and solo within a release.

    Visibility and cloud base are not recorded with a lesson and so not compared.
    Two queries for a solo flight, none for another.
    """
    if not is_solo_flight(lesson):
        return []
    rows = Release.objects.in_force(lesson.on).filter(enrolment=lesson.enrolment_id)
    in_force = list(rows.select_related("aerodrome", "aircraft_type"))
    if not in_force:
        return [NO_RELEASE]
    return breaches_of_releases(lesson, in_force, get_school().aerodrome_id)


def breaches_of_releases(lesson: Lesson, standing: Sequence[Release], home: int) -> list[str]:
    """Compare a solo flight with the releases that were in force on its day. No query; home: key of the aerodrome."""
    if not standing:
        return [NO_RELEASE]
    if not any(row.kind == Release.Kind.DAY for row in standing):
        return ["No release for solo by day was in force on that day, and every other one rests on it."]
    # One release that allows the flight is enough; where none does, the nearest one says what was really wrong.
    return min((_breaches(lesson, row, home) for row in standing), key=len)


def _breaches(lesson: Lesson, release: Release, home: int) -> list[str]:
    said = []
    if lesson.aircraft and lesson.aircraft.type_id != release.aircraft_type_id:
        said.append(f"The release is for the {release.aircraft_type}, flown was the {lesson.aircraft.type}.")
    if lesson.night_minutes and release.kind != Release.Kind.NIGHT:
        said.append(f"The release is for solo by day{cite('14 CFR 61.87(o)')}.")
    if release.kind == Release.Kind.NIGHT and not lesson.night_minutes:
        said.append("The release is for solo at night.")
    # What is not recorded counts as outside: nobody can show that the flight was within the release.
    if lesson.aircraft is None or lesson.runway is None:
        said.append("Aircraft or runway are not recorded, so the flight cannot be held against the release.")
    elsewhere = lesson.runway is not None and lesson.runway.aerodrome_id != home
    if lesson.runway and lesson.runway.aerodrome_id != release.aerodrome_id:
        paragraph = cite("14 CFR 61.93") if elsewhere else ""
        said.append(f"The release is for {release.aerodrome}, flown was from {lesson.runway.aerodrome}{paragraph}.")
    elif lesson.runway and lesson.runway.designator not in release.runways.replace(",", " ").split():
        said.append(f"Runway {lesson.runway.designator} is not in the release ({release.runways}).")
    wind = lesson_wind(lesson)
    if wind is None:
        return [*said, "No wind is recorded, so it cannot be held against the release."]
    return said + _wind_breaches(lesson, release, wind)


def _wind_breaches(lesson: Lesson, release: Release, wind: Wind) -> list[str]:
    said = []
    # The strongest gust and not the steady wind: the student met it too.
    if wind.strongest_kt > release.max_wind_kt:
        said.append(f"Wind up to {wind.strongest_kt} kt, released for {release.max_wind_kt} kt.")
    if lesson.runway is not None:
        across = worst_crosswind_kt(wind, lesson.runway.heading_magnetic)
        if across > release.max_crosswind_kt:
            # Rounded up to a tenth: rounded to the nearest, it could read as the limit itself.
            shown = Decimal(str(across)).quantize(Decimal("0.1"), ROUND_CEILING)
            said.append(f"Crosswind up to {shown.normalize():f} kt, released for {release.max_crosswind_kt} kt.")
    return said
