"""This module prepares the brief before a flight: wind and runway with cautions, targets of today, open faults."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, timedelta
from typing import Any, NamedTuple

from grading.models import Release
from grading.rules.readiness.faults import FaultStatus, open_faults
from grading.rules.readiness.history import History
from lessons.conditions import lesson_aerodrome, lesson_report, lesson_wind, unreadable_report
from lessons.models import Lesson
from lessons.models.published_values import PublishedFault
from lessons.published_content import faults_by_manoeuvre
from lessons.rules.wind import Wind, WindComponents, best_runway, wind_components, worst_crosswind_kt, worst_tailwind_kt
from school.current import school_zone
from school.days import end_of, start_of
from school.models import Runway

# Winds come in whole knots: below one, the caution would be about a rounding error.
MIN_TAILWIND_CAUTION_KT = 1


class WindMark(NamedTuple):
    """The arguments of `{% mark_wind %}`: the wind on a runway in degrees magnetic and knots."""

    runway: str
    heading: int
    direction: int
    speed: int
    label: str


@dataclass(frozen=True)
class RunwayLine:
    """A runway in the wind of the day. `components` is None where the direction of the wind is not known."""

    runway: Runway
    components: WindComponents | None
    chosen: bool
    best: bool


@dataclass(frozen=True)
class OpenFault:
    """An open fault with its cure, where the syllabus in force still has it."""

    standing: FaultStatus
    fault: PublishedFault | None

    @property
    def cure(self) -> str:
        return self.fault.cure if self.fault else ""


def wind_context(lesson: Lesson, releases: Sequence[Release] = ()) -> dict[str, Any]:
    """Return the wind, its components on the runway in use, their mark, and every caution they call for."""
    wind, report, mark, parts = lesson_wind(lesson), lesson_report(lesson), None, None
    # A variable wind has no components: one number for it would look like knowledge.
    if wind is not None and lesson.runway is not None and wind.direction is not None:
        parts = wind_components(wind, lesson.runway.heading_magnetic)
        label = f"Wind {wind.direction:03d}° {wind.speed_kt} kt on runway {lesson.runway.designator}: {parts.words}"
        mark = WindMark(lesson.runway.designator, lesson.runway.heading_magnetic, wind.direction, wind.speed_kt, label)
    return {
        "wind": wind,
        "wind_words": describe_wind(lesson, wind),
        "short_wind": short_wind(lesson, wind, parts),
        "report": report,
        "report_problem": unreadable_report(lesson),
        # A weather report is in UTC, and its parsed time has no zone.
        "report_at": report.at.replace(tzinfo=UTC) if report and report.at else None,
        "components": parts,
        "wind_mark": mark,
        "cautions": wind_cautions(lesson, wind, releases) if wind else [],
    }


def describe_wind(lesson: Lesson, wind: Wind | None) -> str:
    """Return 'Wind 283° magnetic (290° true), 12 kt, gusting 22 kt', which always names the north it is measured
    from.
    """
    if wind is None:
        return ""
    # Not “no gusts”: a report leaves them out below a threshold, and a person who types may not have asked.
    gust = f", gusting {wind.gust_kt} kt" if wind.gust_kt is not None else ", no gust reported"
    if wind.direction is None:
        return "Wind calm" if wind.strongest_kt == 0 else f"Wind variable, {wind.speed_kt} kt{gust}"
    swing = f", varying {wind.varies[0]:03d}° to {wind.varies[1]:03d}°" if wind.varies else ""
    # An entered wind has priority: the direction of the report must not be named beside it.
    report = lesson_report(lesson) if lesson.wind_speed_kt is None else None
    true = report.direction if report else lesson.wind_direction if lesson.wind_reference == "true" else None
    said_true = f" ({true:03d}° true)" if true is not None else ""
    return f"Wind {wind.direction:03d}° magnetic{said_true}{swing}, {wind.speed_kt} kt{gust}"


def short_wind(lesson: Lesson, wind: Wind | None, parts: WindComponents | None) -> str:
    """Return 'Runway 18, 210° 10 kt: crosswind 5 kt from right', for one line over the pad."""
    if wind is None:
        return ""
    where = f"Runway {lesson.runway.designator}, " if lesson.runway else ""
    direction = (
        f"{wind.direction:03d}° " if wind.direction is not None else "calm, " if not wind.strongest_kt else "variable "
    )
    gust = f" gusting {wind.gust_kt}" if wind.gust_kt else ""
    across = ""
    if parts is not None:
        side = "" if parts.side == "none" else f" from {parts.side}"
        across = f": crosswind {round(abs(parts.crosswind_kt))} kt{side}"
    return f"{where}{direction}{wind.speed_kt}{gust} kt{across}"


def wind_cautions(lesson: Lesson, wind: Wind, releases: Sequence[Release]) -> list[str]:
    """Compare the wind with the narrowest limits of the releases in force: which is used is not known before."""
    limit = flown.demonstrated_crosswind_kt if (flown := lesson.type_flown) else None
    cautions = runway_cautions(wind, lesson.runway, limit, releases)
    report = lesson_report(lesson)
    # A report names a day without a month, so an old one that was pasted looks like a new one.
    if report and report.at and report.at.day not in _utc_days_of_month(lesson.on):
        cautions.append(f"The report is from {report.at.day} {report.at:%b}, not from the day of this lesson.")
    return cautions


def runway_cautions(
    wind: Wind, runway: Runway | None, demonstrated_kt: int | None, releases: Sequence[Release]
) -> list[str]:
    """Compare a wind with what was demonstrated for a type and with the narrowest limits of the releases."""
    cautions = []
    if wind.direction is None and wind.strongest_kt:
        cautions.append(f"Wind direction not known or variable: up to {wind.strongest_kt} kt across any runway.")
    if runway is not None:
        # With gusts, and with the worst of a varying wind: a caution errs on the safe side.
        across = worst_crosswind_kt(wind, runway.heading_magnetic)
        if demonstrated_kt is not None and across > demonstrated_kt:
            cautions.append(f"Crosswind including gusts exceeds the {demonstrated_kt} kt demonstrated for this type.")
        allowed = min((release.max_crosswind_kt for release in releases), default=None)
        if allowed is not None and across > allowed:
            cautions.append(f"Crosswind including gusts exceeds the release limit of {allowed} kt.")
        cautions += _tailwind_cautions(runway, wind)
    most = min((release.max_wind_kt for release in releases), default=None)
    if most is not None and wind.strongest_kt > most:
        cautions.append(f"Wind including gusts exceeds the release limit of {most} kt.")
    return cautions


def _utc_days_of_month(on: date) -> set[int]:
    """Return the days of the month that a report of this day at the school may name: a report is in UTC."""
    zone = school_zone()
    return {start_of(on, zone).day, (end_of(on, zone) - timedelta(minutes=1)).day}


def _tailwind_cautions(runway: Runway, wind: Wind) -> list[str]:
    along = -worst_tailwind_kt(wind, runway.heading_magnetic)
    if along > -MIN_TAILWIND_CAUTION_KT:
        return []
    return [f"Tailwind of up to {round(-along)} kt on runway {runway.designator}."]


def runway_lines(lesson: Lesson) -> list[RunwayLine]:
    """Return the runways of the aerodrome, with the one of the most headwind marked."""
    wind = lesson_wind(lesson)
    rows = list(lesson_aerodrome(lesson).runways.order_by("designator"))
    # In calm air no runway is better, and a mark would look like advice.
    best = best_runway(wind, rows) if wind and wind.strongest_kt else None
    # Calm air has no direction and still has components, all zero.
    known = wind is not None and (wind.direction is not None or wind.strongest_kt == 0)
    return [
        RunwayLine(
            row,
            wind_components(wind, row.heading_magnetic) if wind and known else None,
            row.pk == lesson.runway_id,
            row == best,
        )
        for row in rows
    ]


def open_faults_with_cures(
    history: History, syllabus_id: int, manoeuvres: Sequence[str] | None = None
) -> list[OpenFault]:
    """Return open faults, the critical ones first, each with its cure; only those of `manoeuvres`, if given."""
    rows = [row for row in open_faults(history) if manoeuvres is None or row.manoeuvre in manoeuvres]
    # A fault may be seen in several manoeuvres: it is the same row under each.
    known = {row.code: row for faults in faults_by_manoeuvre(syllabus_id).values() for row in faults}
    return [OpenFault(row, known.get(row.code)) for row in rows]


def fault_cures(faults: Iterable[FaultStatus], known: Iterable[OpenFault]) -> list[tuple[str, str]]:
    """Return the name of each fault with its cure, where that is known."""
    cures = {row.standing.code: row.cure for row in known}
    return [(fault.name, cures.get(fault.code, "")) for fault in faults]
