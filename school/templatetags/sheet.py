"""Filters for printed sheets, whose content is plain JSON: dates are ISO 8601 text."""

from datetime import date, datetime

from django import template

from school.formats import write_day, write_days_within, write_hours, write_moment

register = template.Library()


@register.filter
def iso_date(text: str) -> str:
    return write_day(date.fromisoformat(text)) if text else ""


@register.filter
def iso_utc(text: str) -> str:
    return write_moment(datetime.fromisoformat(text)) if text else ""


@register.filter
def cat(words: str, more: object) -> str:
    """Return both, one after the other: `add` would leave out a number behind words."""
    return f"{words}{more}"


@register.filter
def hours_or_dash(minutes: int) -> str:
    """Return hours, and a dash where there are none, so that a column shows at once where time was flown."""
    return write_hours(minutes) if minutes else "–"


@register.filter
def rules_name(rules: str) -> str:
    """Return "14 CFR part 61" of "United States, 14 CFR part 61": the state is that of the school."""
    return rules.partition(", ")[2] or rules


@register.filter
def days_within(words: str) -> str:
    return write_days_within(words)


@register.filter
def first_capital(words: str) -> str:
    """Return words with a capital, the others as they are: "English proficiency"."""
    return words[:1].upper() + words[1:]


@register.filter
def groups_of_four(text: str) -> str:
    return " ".join(text[place : place + 4] for place in range(0, len(text), 4))


@register.filter
def get(names: dict[str, str], code: str) -> str:
    """Return the name of a code, or the code in words where it has none."""
    return names.get(code) or str(code).replace("_", " ").replace("-", " ")
