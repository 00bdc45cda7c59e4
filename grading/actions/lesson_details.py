"""Read and write the details of a lesson: hours, times, wind, runway, remarks."""

from collections.abc import Callable
from typing import Any

from django.core.exceptions import ValidationError

from grading.models import Measure
from lessons.detail_text import detail_text
from lessons.fields import HoursField, NumberField, TimeOfDayField, combine_utc
from lessons.models import Lesson, WindReference
from lessons.rules.units import MINUTES_PER_DAY
from lessons.weather import UnreadableReport, parse_metar
from school.current import school_zone
from school.models import Aircraft, Runway

DetailParser = Callable[[Lesson, str], Any]


def _parse_hours(lesson: Lesson, text: str) -> Any:
    return HoursField(required=False).clean(text)


def _parse_count(lesson: Lesson, text: str) -> Any:
    # Empty is zero: signing counts both from the circuits where neither was entered.
    return NumberField(least=0, most=99, what="a count").clean(text) or 0


def _number_parser(least: int, most: int, what: str) -> DetailParser:
    return lambda lesson, text: NumberField(least=least, most=most, what=what).clean(text)


def _parse_text(lesson: Lesson, text: str) -> Any:
    if len(text) > 4000:
        raise ValidationError("That is longer than 4,000 characters: shorten it. Nothing was lost.")
    # A form posts line ends as CRLF, a script as LF, and one text must be equal to itself. PostgreSQL refuses NUL.
    return text.replace("\r\n", "\n").replace("\x00", "")


def _parse_off_blocks(lesson: Lesson, text: str) -> Any:
    clock = TimeOfDayField(required=False).clean(text)
    return combine_utc(lesson.on, clock, school_zone()) if clock else None


def _parse_on_blocks(lesson: Lesson, text: str) -> Any:
    clock = TimeOfDayField(required=False).clean(text)
    # Only the clock is typed: a flight over midnight ends on the next day.
    return combine_utc(lesson.on, clock, school_zone(), after=lesson.off_blocks) if clock else None


def _parse_runway(lesson: Lesson, text: str) -> Any:
    return _find_chosen_row(Runway.objects.all(), text, "runway")


def _parse_aircraft(lesson: Lesson, text: str) -> Any:
    return _find_chosen_row(Aircraft.objects.select_related("type"), text, "aircraft")


def _parse_wind_reference(lesson: Lesson, text: str) -> Any:
    if text not in WindReference.values:
        raise ValidationError("The wind is given from magnetic or from true north: choose one.")
    return text


def _parse_weather_report(lesson: Lesson, text: str) -> Any:
    """Return the pasted METAR on one line; refuse one whose wind cannot be read."""
    line = " ".join(text.split())
    if len(line) > 300:
        raise ValidationError("That is longer than a METAR: paste one report only.")
    if line:
        # Refused now: the report is parsed each time it is needed, and an unreadable one would fail on every page.
        try:
            parse_metar(line, lesson.on)
        except UnreadableReport as error:
            raise ValidationError(str(error)) from error
    return line


def _find_chosen_row(rows: Any, text: str, what: str) -> Any:
    if not text:
        return None
    # isdigit() accepts “²”, which int() does not, and a longer number does not fit into the key: both would be errors.
    found = rows.filter(pk=text).first() if text.isascii() and text.isdigit() and len(text) < 19 else None
    if found is None:
        raise ValidationError(f"That {what} is not on record: choose one of the list.")
    return found


DETAIL_PARSERS: dict[str, DetailParser] = {
    "dual_minutes": _parse_hours,
    "solo_minutes": _parse_hours,
    "night_minutes": _parse_hours,
    "instrument_minutes": _parse_hours,
    "ground_minutes": _parse_hours,
    "takeoffs": _parse_count,
    "landings": _parse_count,
    "off_blocks": _parse_off_blocks,
    "on_blocks": _parse_on_blocks,
    "wind_direction": _number_parser(0, 360, "a direction in degrees"),
    "wind_speed_kt": _number_parser(0, 99, "a wind speed in knots"),
    "wind_gust_kt": _number_parser(0, 99, "a gust in knots"),
    "wind_reference": _parse_wind_reference,
    "weather_report": _parse_weather_report,
    "runway": _parse_runway,
    "aircraft": _parse_aircraft,
    "outside_release": _parse_text,
    "remarks": _parse_text,
    "next_time": _parse_text,
}


def write_detail(lesson: Lesson, name: str, text: str) -> tuple[str, str]:
    """Write one detail and return its text before and after, as a person would type it."""
    reader = DETAIL_PARSERS.get(name)
    if reader is None:
        raise ValidationError(f"“{name[:40]}” is not an entry of a lesson.")
    value = reader(lesson, text)
    # As text that the same parser reads: undo types it in again.
    before = detail_text(lesson, name)
    if name == "aircraft":
        _refuse_other_type(lesson, value)
    setattr(lesson, name, value)
    _refuse_contradiction(lesson)
    lesson.save(update_fields=[name])
    return before, detail_text(lesson, name)


def _refuse_other_type(lesson: Lesson, chosen: Aircraft | None) -> None:
    """Refuse another aircraft type once numbers are recorded: they belong to the gates of one type."""
    if lesson.aircraft is None or (chosen is not None and chosen.type_id == lesson.aircraft.type_id):
        return
    if Measure.objects.filter(attempt__lesson=lesson).exists():
        kind = lesson.aircraft.type.name
        raise ValidationError(f"Numbers are noted at the gates of the {kind}: empty them first, then change the type.")


def _refuse_contradiction(lesson: Lesson) -> None:
    """Refuse with a sentence what a constraint of the database would refuse too."""
    if lesson.off_blocks and lesson.on_blocks and lesson.on_blocks <= lesson.off_blocks:
        raise ValidationError("On blocks must be later than off blocks: check both times, in UTC.")
    if lesson.flight_minutes > MINUTES_PER_DAY:
        raise ValidationError("Dual and solo are together more than a day: check the hours of this lesson.")
    gust, speed = lesson.wind_gust_kt, lesson.wind_speed_kt
    # Without a speed it waits: a wind is entered, and cleared, in whichever order (unfinished_wind).
    if gust is not None and speed is not None and gust < speed:
        raise ValidationError(
            f"A gust is at least as strong as the wind: {gust} kt is less than {speed} kt. Correct one of the two."
        )


def unfinished_wind(lesson: Lesson) -> str:
    """Return in a sentence what a wind without its speed lacks; empty for a whole wind, and for none."""
    if lesson.wind_speed_kt is not None:
        return ""
    left = [
        name
        for name, value in (("direction", lesson.wind_direction), ("gust", lesson.wind_gust_kt))
        if value is not None
    ]
    return f"A wind has a speed: enter it, or clear the {' and the '.join(left)}." if left else ""
