"""Filters for printed sheets, whose content is plain JSON: dates are ISO 8601 text."""

from collections.abc import Sequence
from datetime import date, datetime
from typing import Any

from django import template

from school.templatetags.marks import long_date, utc

register = template.Library()


@register.filter
def iso_date(text: str) -> str:
    return long_date(date.fromisoformat(text)) if text else ""


@register.filter
def iso_short(text: str) -> str:
    day = date.fromisoformat(text)
    return f"{day.day} {day:%b %Y}"


@register.filter
def iso_utc(text: str) -> str:
    return utc(datetime.fromisoformat(text)) if text else ""


@register.filter
def groups_of_four(text: str) -> str:
    return " ".join(text[place : place + 4] for place in range(0, len(text), 4))


@register.filter
def last_item(rows: Sequence[Any]) -> Any:
    return rows[-1] if rows else {}


@register.filter
def get(names: dict[str, str], code: str) -> str:
    """Return the name of a code, or the code in words where it has none."""
    return names.get(code) or str(code).replace("_", " ").replace("-", " ")
