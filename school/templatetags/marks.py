"""Draw marks and write numbers in templates. {% load marks %}"""

import json
from collections.abc import Mapping
from datetime import UTC, date, datetime
from typing import Any

import segno
from django import template
from django.core.serializers.json import DjangoJSONEncoder
from django.utils.safestring import SafeString, mark_safe

from school import marks
from school.current import school_day, school_zone
from school.days import zone_name
from school.formats import write_clock, write_day, write_hours, write_moment

register = template.Library()


# mark_safe is right for all of them: school/marks escapes every text that it draws.
@register.simple_tag
def mark_square(level: str, help: str = "none", px: int = 28, label: str = "") -> SafeString:
    return mark_safe(marks.square(level or "not_observed", help or "none", px, label or None))  # noqa: S308


@register.simple_tag
def mark_help(help: str) -> SafeString:
    return mark_safe(marks.help_dots(help))  # noqa: S308


@register.simple_tag
def mark_triangle(state: str, px: int = 28, label: str = "") -> SafeString:
    return mark_safe(marks.triangle(str(state), px, label or None))  # noqa: S308


@register.simple_tag
def mark_stamp(state: str, px: int = 28, label: str = "") -> SafeString:
    return mark_safe(marks.stamp(state, px, label or None))  # noqa: S308


@register.simple_tag
def mark_storage(place: str, px: int = 22) -> SafeString:
    return mark_safe(marks.storage_mark(place, px))  # noqa: S308


@register.simple_tag
def mark_line(name: str) -> SafeString:
    """Show a line of the pictures of circuits: `thick`, `earlier`, `target` or `not_measured`."""
    return mark_safe(marks.strip_key(name))  # noqa: S308


@register.simple_tag
def mark_ground(name: str) -> SafeString:
    """Show what lies still in a plan: `obstacle`, `north`, `threshold`, `aiming`, or the `touchdown` on the runway."""
    return mark_safe(marks.ground_key(name))  # noqa: S308


@register.simple_tag
def mark_wind_triangle() -> SafeString:
    return mark_safe(marks.wind_key())  # noqa: S308


@register.simple_tag
def mark_streak(length: int, needed: int) -> SafeString:
    return mark_safe(marks.streak_mark(length, needed))  # noqa: S308


@register.simple_tag
def mark_board(state: str, px: int = 20) -> SafeString:
    """Show the state of a student on the board: a seal on its line, a triangle, stuck or slipped."""
    return mark_safe(marks.board_state(state, px))  # noqa: S308


@register.simple_tag
def mark_ten(outcomes: str, met: bool = False, more: int = 0) -> SafeString:
    """Show the last ten attempts of a part; `outcomes`: "1" to standard, "0" not, oldest first."""
    return mark_safe(marks.ten(tuple(each == "1" for each in outcomes), met=met, more=more))  # noqa: S308


@register.simple_tag
def mark_strip(strip: Mapping[str, Any], side: float = 12) -> SafeString:
    """Show the last circuits, as stored with a verdict: `circuits`, `parts` and `words`."""
    circuits = [
        marks.CircuitMarks(
            circuit["number"], {part: marks.PartGrade(**grade) for part, grade in circuit["parts"].items()}
        )
        for circuit in strip["circuits"]
    ]
    parts = {name: marks.PartSpan(**span) for name, span in strip["parts"].items()}
    drawing = marks.circuit_strip(circuits, parts, strip["words"], side)
    return mark_safe(drawing)  # noqa: S308


@register.simple_tag
def mark_chances(figure: Any, narrow: bool = False) -> SafeString:
    """Show how a chance rises: `series`, `horizon`, `marked` and `ticks` in circuits, and `label`."""
    drawing = marks.chance_steps(figure.series, figure.horizon, figure.marked, figure.ticks, figure.label, narrow)
    return mark_safe(drawing)  # noqa: S308


@register.simple_tag
def mark_pointer(place: str) -> SafeString:
    return mark_safe(marks.pointer(place))  # noqa: S308


@register.simple_tag
def mark_deviation(amount: float | None, over: float, under: float, label: str = "") -> SafeString:
    return mark_safe(marks.deviation_scale(amount, over, under, label or None))  # noqa: S308


@register.simple_tag
def mark_wind(runway: str, heading: int, direction: int, speed: int, label: str) -> SafeString:
    return mark_safe(marks.runway_wind(runway, heading, direction, speed, label))  # noqa: S308


@register.simple_tag
def mark_handwriting(drawn: str, px: int = 240, label: str = "") -> SafeString:
    return mark_safe(marks.handwriting(drawn, px, label or None))  # noqa: S308


@register.filter
def hours(minutes: int | None) -> str:
    """Return minutes as tenths of an hour: 90 is "1.5"."""
    return write_hours(minutes)


@register.filter
def long_date(day: date | None) -> str:
    return write_day(day) if day else ""


@register.filter
def short_date(day: date | None) -> str:
    return write_day(day) if day else ""


@register.filter
def utc(at: datetime | None) -> str:
    """Return a moment in UTC: "28 Nov 2026, 14:05 UTC"."""
    return write_moment(at) if at else ""


@register.filter
def utc_clock(at: datetime) -> str:
    """Return the time of day in UTC: "14:05"."""
    return write_clock(at)


@register.filter
def local_time(at: datetime | None) -> str:
    """Return a moment as the school's clock shows it, with its zone: "28 Nov 2026, 14:05 CST"."""
    return write_moment(at, school_zone()) if at else ""


@register.filter
def local_clock(at: datetime) -> str:
    """Return the time of day at the school with its seconds and its zone."""
    zone = school_zone()
    return f"{at.astimezone(zone):%H:%M:%S} {zone_name(at, zone)}"


@register.filter
def local_day(at: datetime | None) -> date | None:
    """Return the school's own day of a moment."""
    return school_day(at) if at else None


@register.filter
def utc_seconds(at: datetime) -> str:
    """Return a time with its seconds, because taps follow each other within seconds."""
    return f"{at.astimezone(UTC):%H:%M:%S} UTC, {long_date(at.astimezone(UTC).date())}"


@register.filter
def words(value: Any) -> str:
    """Return a code in words: "not_observed" is "Not observed"."""
    return str(value or "").replace("_", " ").capitalize()


@register.filter
def level_words(level: Any, help: Any = "none") -> str:
    """Return level and help in words, such as "Practice, prompted"."""
    said = {"took_control": "instructor took control"}.get(str(help), str(help))
    return words(level) if said in ("none", "") else f"{words(level)}, {said}"


@register.filter
def qr_code(text: str) -> SafeString:
    """Return a QR code (ISO/IEC 18004), dark on light in every display mode, so that a telephone reads it."""
    code = segno.make(text, error="m", micro=False)
    drawn = code.svg_inline(omitsize=True, border=4, dark="black", light="white", svgclass=None, lineclass=None)
    return mark_safe(drawn)  # noqa: S308


@register.filter
def json_text(value: Any) -> str:
    """Return the value as JSON, for a data- attribute that a script reads."""
    return json.dumps(value, cls=DjangoJSONEncoder)


@register.filter
def groups_of_four(text: str) -> str:
    """Return "ABCDEFGH" as "ABCD EFGH", which is easier to type from a screen."""
    return " ".join(text[place : place + 4] for place in range(0, len(text), 4))
