"""Send e-mails about documents that expire: to each person, and a list of all to those who see to them.

The chief instructor gets everything; the administrator what expires of aircraft, which nobody else holds.
"""

from collections import defaultdict
from datetime import date

from django.core.mail import send_mail

from grading.reading.expiring import (
    RELEASE,
    Expiry,
    due_today,
    expiries_of_aircraft,
    expiries_of_instructors,
    expiries_of_students,
)
from grading.reading.student_summary import summarise_students
from lessons.models import Enrolment
from school.models import Person, Role, School

CLOSING_CAUTION = "This reminds and decides nothing: the document itself and the rules in force say what is valid."


def send_reminders(on: date) -> str:
    """Send what is due on this day; return how many e-mails went out and who has no address, as a sentence."""
    rows = summarise_students(list(Enrolment.objects.active(on).for_pages().order_by("pk")), on)
    # Releases have e-mails of their own, which go to the instructors too: release_mail.py.
    documents = [row for row in expiries_of_students(rows, on) if row.what != RELEASE]
    expiries = due_today(documents) + due_today(expiries_of_instructors(on))
    school = School.objects.get()
    by_person: dict[Person, list[Expiry]] = defaultdict(list)
    for row in expiries:
        if isinstance(row.holder, Person):
            by_person[row.holder].append(row)
    sent = sum(_send(school, person, [row.words for row in of_one]) for person, of_one in by_person.items())
    fleet = due_today(expiries_of_aircraft(on))
    if expiries or fleet:
        chiefs = list(Person.objects.active_with_role(Role.CHIEF))
        sent += sum(_send(school, chief, _named(expiries + fleet)) for chief in chiefs)
    if fleet:
        others = [person for person in Person.objects.active_with_role(Role.ADMIN) if not person.is_chief]
        sent += sum(_send(school, person, _named(fleet)) for person in others)
    summary = f"{len(expiries) + len(fleet)} due on {on}, {sent} e-mails sent."
    # Named for the office: nobody else would notice who got no reminder.
    without = sorted(person.name for person in by_person if not person.email)
    return f"{summary}\nWithout an e-mail address: {', '.join(without)}." if without else summary


def _named(expiries: list[Expiry]) -> list[str]:
    return [f"{row.name}: {row.words}" for row in expiries]


def _send(school: School, person: Person, words: list[str]) -> int:
    if not person.email:
        return 0
    body = "\n".join([*words, "", CLOSING_CAUTION, school.name])
    return send_mail(f"{school.name}: documents that expire soon", body, None, [person.email])
