"""Render expiry dates as a calendar (RFC 5545): a student's own, an instructor's students', or everybody's."""

from collections.abc import Sequence
from datetime import date, datetime, timedelta

from django.utils.text import slugify
from icalendar import Calendar, Event

from grading.reading import verdict_cache
from grading.reading.expiring import (
    Expiry,
    expiries_of_aircraft,
    expiries_of_instructors,
    expiries_of_student,
)
from grading.reading.facts import releases_in_force
from lessons.models import Enrolment
from school.models import Person

DAYS_AHEAD = 1900  # days: a medical certificate's five years and a little (14 CFR 61.23(d)(3)(i))
CAUTION = "From the school's record. The document itself and the rules in force decide."


def expiries_for(person: Person, on: date) -> list[Expiry]:
    """Return the expiry dates that this person should see, the nearest first. A fixed number of queries."""
    enrolments = Enrolment.objects.active(on).for_pages()
    if not (person.is_chief or person.is_records_admin):
        enrolments = enrolments.filter(instructor=person) if person.is_instructor else enrolments.filter(student=person)
    students = list(enrolments)
    stored, releases = verdict_cache.get_or_derive(students, on), releases_in_force(students, on)
    expiries = []
    for row in students:
        # From the stored row of the board: a calendar program asks again and again, and deriving costs far more.
        papers = [(p["what"], date.fromisoformat(p["until"])) for p in stored[row.pk].row["papers"]]
        expiries += expiries_of_student(row.student, papers, releases.get(row.pk), on, DAYS_AHEAD)
    if person.is_instructor or person.is_chief or person.is_records_admin:
        everybody = person.is_chief or person.is_records_admin
        expiries += expiries_of_instructors(on, DAYS_AHEAD, only=None if everybody else person)
        # An instructor flies every aircraft of the school.
        expiries += expiries_of_aircraft(on, DAYS_AHEAD)
    return sorted(expiries, key=lambda row: (row.until, getattr(row.holder, "family_name", row.name)))


def render_ics(found: Sequence[Expiry], title: str, at: datetime) -> bytes:
    """Render an all-day event on the last day of each, as free time. `at` is the moment of the request."""
    calendar = Calendar()
    calendar.add("prodid", "-//Training record//Expiry dates//EN")
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    calendar.add("x-wr-calname", title)
    for row in found:
        event = Event()
        # The same text for the same date at each request, so that a calendar replaces the event and does not add
        # another one.
        event.add("uid", f"{slugify(row.reference)}-{slugify(row.what)}-{row.until}@training-record")
        event.add("dtstamp", at)
        event.add("dtstart", row.until)
        # The end of an all-day event is exclusive (RFC 5545): the last valid day itself is the whole event.
        event.add("dtend", row.until + timedelta(days=1))
        event.add("transp", "TRANSPARENT")
        event.add("summary", f"{row.what} of {row.name} expires")
        # A calendar shows the event far from the school's pages, so the caution must travel with it.
        event.add("description", CAUTION)
        calendar.add_component(event)
    text: bytes = calendar.to_ical()
    return text
