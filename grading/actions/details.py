"""The entries of a lesson that are not seen but noted: hours, times, wind, runway, remarks."""

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

from django.core.exceptions import ValidationError

from grading.models import Measure
from lessons.fields import ClockField, HoursField, NumberField, at_time
from lessons.models import Lesson, WindReference
from lessons.weather import BadReport, read_report
from school.models import Aircraft, Runway

Reader = Callable[[Lesson, str], Any]


def _hours(lesson: Lesson, text: str) -> Any:
    return HoursField(required=False).clean(text)


def _count(lesson: Lesson, text: str) -> Any:
    return NumberField(least=0, most=99, what="a count").clean(text) or 0


def _number(least: int, most: int, what: str) -> Reader:
    return lambda lesson, text: NumberField(least=least, most=most, what=what).clean(text)


def _text(lesson: Lesson, text: str) -> Any:
    if len(text) > 4000:
        raise ValidationError("That is longer than 4,000 characters: shorten it. Nothing was lost.")
    return text.replace("\r\n", "\n").replace("\x00", "")


def _off_blocks(lesson: Lesson, text: str) -> Any:
    clock = ClockField(required=False).clean(text)
    return at_time(datetime.combine(lesson.on, datetime.min.time()), clock) if clock else None


def _on_blocks(lesson: Lesson, text: str) -> Any:
    clock = ClockField(required=False).clean(text)
    day = datetime.combine(lesson.on, datetime.min.time())
    return at_time(day, clock, after=lesson.off_blocks) if clock else None


def _runway(lesson: Lesson, text: str) -> Any:
    return _chosen(Runway.objects.all(), text, "runway")


def _aircraft(lesson: Lesson, text: str) -> Any:
    return _chosen(Aircraft.objects.select_related("type"), text, "aircraft")


def _reference(lesson: Lesson, text: str) -> Any:
    if text not in WindReference.values:
        raise ValidationError("The wind is given from magnetic or from true north: choose one.")
    return text


def _report(lesson: Lesson, text: str) -> Any:
    """The METAR as pasted, on one line, if its wind can be read."""
    line = " ".join(text.split())
    if len(line) > 300:
        raise ValidationError("That is longer than a METAR: paste one report only.")
    if line:
        try:
            read_report(line, lesson.on)
        except BadReport as error:
            raise ValidationError(str(error)) from error
    return line


def _chosen(rows: Any, text: str, what: str) -> Any:
    if not text:
        return None
    found = rows.filter(pk=text).first() if text.isascii() and text.isdigit() and len(text) < 19 else None
    if found is None:
        raise ValidationError(f"That {what} is not on record: choose one of the list.")
    return found


READERS: dict[str, Reader] = {
    "dual_minutes": _hours,
    "solo_minutes": _hours,
    "night_minutes": _hours,
    "instrument_minutes": _hours,
    "ground_minutes": _hours,
    "takeoffs": _count,
    "landings": _count,
    "off_blocks": _off_blocks,
    "on_blocks": _on_blocks,
    "wind_direction": _number(0, 360, "a direction in degrees"),
    "wind_speed_kt": _number(0, 99, "a wind speed in knots"),
    "wind_gust_kt": _number(0, 99, "a gust in knots"),
    "wind_reference": _reference,
    "weather_report": _report,
    "runway": _runway,
    "aircraft": _aircraft,
    "outside_release": _text,
    "remarks": _text,
    "next_time": _text,
}


def write(lesson: Lesson, name: str, text: str) -> tuple[str, str]:
    """Write one detail and return what stood there before and stands now, as it would be typed."""
    reader = READERS.get(name)
    if reader is None:
        raise ValidationError(f"“{name[:40]}” is not an entry of a lesson.")
    value = reader(lesson, text)
    before = as_typed(lesson, name)
    if name == "aircraft":
        _refuse_other_gates(lesson, value)
    setattr(lesson, name, value)
    _refuse_contradiction(lesson)
    lesson.save(update_fields=[name])
    return before, as_typed(lesson, name)


def _refuse_other_gates(lesson: Lesson, chosen: Aircraft | None) -> None:
    """Numbers were noted at the gates of one type; those of another are not theirs."""
    if lesson.aircraft is None or (chosen is not None and chosen.type_id == lesson.aircraft.type_id):
        return
    if Measure.objects.filter(attempt__lesson=lesson).exists():
        kind = lesson.aircraft.type.name
        raise ValidationError(f"Numbers are noted at the gates of the {kind}: empty them first, then change the type.")


def _refuse_contradiction(lesson: Lesson) -> None:
    """What the database would refuse too, said in a sentence."""
    if lesson.off_blocks and lesson.on_blocks and lesson.on_blocks <= lesson.off_blocks:
        raise ValidationError("On blocks must be later than off blocks: check both times, in UTC.")
    gust, speed = lesson.wind_gust_kt, lesson.wind_speed_kt
    if gust is not None and (speed is None or gust < speed):
        raise ValidationError("A gust is at least as strong as the wind: enter the wind first, then the gust.")


def as_typed(lesson: Lesson, name: str) -> str:
    """The value of a detail as a person would type it; empty when there is none."""
    value = getattr(lesson, name)
    if name.endswith("_minutes"):
        return f"{value // 60}:{value % 60:02d}" if value else ""
    if isinstance(value, datetime):
        return f"{value.astimezone(UTC):%H:%M}"
    if isinstance(value, Runway | Aircraft):
        return str(value.pk)
    if value in (None, 0) and name not in {"wind_direction", "wind_speed_kt"}:
        return ""
    return "" if value is None else str(value)
