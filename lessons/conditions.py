"""Find the wind of a lesson in degrees magnetic, from what was entered or from its weather report."""

from lessons.models import Lesson, WindReference
from lessons.rules.wind import Wind, to_magnetic
from lessons.weather import MetarReport, UnreadableReport, parse_metar
from school.current import get_school
from school.models import Aerodrome


def lesson_aerodrome(lesson: Lesson) -> Aerodrome:
    """Return the aerodrome of a lesson's runway, or the school's own."""
    return lesson.runway.aerodrome if lesson.runway else get_school().aerodrome


def lesson_report(lesson: Lesson) -> MetarReport | None:
    """Return the report of a lesson; None without one, and for a stored one that cannot be read any more."""
    return _read_report(lesson)[0]


def unreadable_report(lesson: Lesson) -> str:
    """Return in a sentence why the stored report cannot be read; empty where it can, or where there is none."""
    problem = _read_report(lesson)[1]
    return f"The stored report cannot be read: {lesson.weather_report}. {problem}" if problem else ""


def _read_report(lesson: Lesson) -> tuple[MetarReport | None, str]:
    if not lesson.weather_report:
        return None, ""
    # Read each time and not stored beside the text: an undo then has one entry to change.
    try:
        return parse_metar(lesson.weather_report, lesson.on), ""
    except UnreadableReport as error:
        # It could be read when it was typed, or it would have been refused; a later reader may be stricter, and no page
        # may fail for it. The record itself is the text.
        return None, str(error)


def lesson_wind(lesson: Lesson) -> Wind | None:
    """Return the entered wind, or else that of the report; None while neither has a speed."""
    if lesson.wind_speed_kt is not None:
        # Runway headings here are magnetic, and wind and runway can only be compared against one north.
        direction = lesson.wind_direction
        if direction is not None and lesson.wind_reference == WindReference.TRUE:
            direction = to_magnetic(direction, float(lesson_aerodrome(lesson).variation_deg))
        return Wind(direction, lesson.wind_speed_kt, lesson.wind_gust_kt)
    report = lesson_report(lesson)
    return report.wind(float(lesson_aerodrome(lesson).variation_deg)) if report else None


def fill_wind_from_report(lesson: Lesson) -> None:
    """Copy the wind of the report into a lesson without an entered one. Does not save."""
    report = lesson_report(lesson)
    if lesson.wind_speed_kt is None and report is not None:
        # As the report writes it: a direction that was turned first would be a number that nobody reported.
        lesson.wind_reference = WindReference.TRUE
        lesson.wind_direction, lesson.wind_speed_kt, lesson.wind_gust_kt = (
            report.direction,
            report.speed_kt,
            report.gust_kt,
        )


def lesson_gusts(lesson: Lesson) -> Wind | None:
    """Return only the speeds of a lesson's wind, which is all that targets need, without a query."""
    if lesson.wind_speed_kt is None:
        # A wind that is only in the report is copied when the lesson is signed (fill_wind_from_report).
        return None
    # The direction would need the variation of the aerodrome, which may be a query for each lesson.
    return Wind(None, lesson.wind_speed_kt, lesson.wind_gust_kt)
