"""Send e-mails about releases for solo: to the student and their instructors at each change, and before one expires."""

from collections.abc import Iterable, Sequence
from datetime import date, timedelta

from django.conf import settings
from django.urls import reverse

from grading.models import Release
from grading.reading.release_status import ReleasePhase, ReleaseStatus, status_of
from lessons.models import Enrolment
from school.accounts import emails
from school.formats import write_list
from school.models import Person, Role

REMINDER_DAYS = (14, 7, 1, -1)  # to the last day; -1: the day after it (the project's own choice)
CAUTION = "This tells and decides nothing: your instructor says on the day whether you fly alone."


class ReleaseMailNotSent(Exception):
    """Some e-mails about releases were not sent; the text names who was not told."""


def tell_of_change(releases: Sequence[Release], on: date, by: Person | None = None) -> str:
    """E-mail student and instructors what has become of these releases of one student; `by`: who did it, not told.

    Return who has to be told by word of mouth, as a sentence, or nothing: what was signed stands in any case.
    """
    told: dict[int, Person] = {}
    for release in releases:
        told |= {person.pk: person for person in _concerned(release)}
    if by is not None:
        told.pop(by.pk, None)
    statuses = [status_of(release, on) for release in releases]
    missed = [person.name for person in told.values() if not _sent(person, statuses)]
    return f"No e-mail reached {write_list(missed)}: tell them yourself." if missed else ""


def remind_of_releases(on: date) -> str:
    """E-mail about each release that expires in some days or expired yesterday; return what was done as a sentence.

    Raise ReleaseMailNotSent once all were tried, where the mail server took one of them not.
    """
    due = [status_of(release, on) for release in _releases_due(on)]
    missed, without, sent = [], [], 0
    for person, statuses in _by_person(due):
        if not person.email:
            without.append(person.name)
        elif _sent(person, statuses):
            sent += 1
        else:
            missed.append(person.name)
    said = f"Releases due on {on}: {len(due)}, {sent} e-mails sent."
    if missed:
        raise ReleaseMailNotSent(f"{said} Not sent to {write_list(missed)}.")
    return f"{said}\nWithout an e-mail address: {write_list(without)}." if without else said


def _releases_due(on: date) -> list[Release]:
    """Return the releases in force or just expired whose last day is near, unless another of its kind follows."""
    last_days = [on + timedelta(days=days) for days in REMINDER_DAYS]
    active = Release.objects.filter(enrolment__in=Enrolment.objects.active(on), withdrawn_at=None)
    rows = active.filter(valid_until__in=last_days).select_related(
        "enrolment__student", "enrolment__instructor", "endorsed_by", "withdrawn_by"
    )
    newest: dict[tuple[int, str], date] = {}
    for enrolment, kind, until in active.values_list("enrolment", "kind", "valid_until"):
        newest[enrolment, kind] = max(until, newest.get((enrolment, kind), until))
    return [row for row in rows.order_by("pk") if row.valid_until == newest[row.enrolment_id, row.kind]]


def _by_person(due: Iterable[ReleaseStatus]) -> list[tuple[Person, list[ReleaseStatus]]]:
    """Return each person with what concerns them: student, instructors, and every chief instructor all of it."""
    chiefs = list(Person.objects.active_with_role(Role.CHIEF))
    people: dict[int, tuple[Person, list[ReleaseStatus]]] = {}
    for status in due:
        for person in {row.pk: row for row in [*_concerned(status.release), *chiefs]}.values():
            people.setdefault(person.pk, (person, []))[1].append(status)
    return list(people.values())


def _concerned(release: Release) -> list[Person]:
    enrolment = release.enrolment
    return [enrolment.student, enrolment.instructor, release.endorsed_by]


def _sent(person: Person, statuses: Sequence[ReleaseStatus]) -> bool:
    """Send one e-mail with all of it; return whether the mail server took it. Without an address nothing is sent."""
    if not person.email:
        return False
    own = all(status.release.enrolment.student_id == person.pk for status in statuses)
    lines = [_line(status, own=own) for status in statuses]
    try:
        emails.send_email(person, "Release for solo", "\n\n".join([*lines, *(_after(statuses) if own else ())]))
    except emails.EmailNotSent:
        return False
    return True


def _line(status: ReleaseStatus, *, own: bool) -> str:
    student = status.release.enrolment.student
    said = status.headline_to_student if own else f"{student.name}, {student.reference}: {status.headline}"
    return f"{said}\nReason: {status.reason}" if status.reason else said


def _after(statuses: Iterable[ReleaseStatus]) -> list[str]:
    """Return what follows for the student: a withdrawal is to be confirmed."""
    if any(status.phase is ReleasePhase.WITHDRAWN for status in statuses):
        page = settings.PUBLIC_ADDRESS.rstrip("/") + reverse("grading:own_progress")
        return [f"Confirm on your page that you have read it:\n{page}", CAUTION]
    return [CAUTION]
