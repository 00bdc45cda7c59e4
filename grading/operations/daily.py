"""The work of every day, each part as one function that tells in words what it did. A worker or cron calls them."""

from datetime import date, datetime

from grading.evidence.audit.check import run_audit
from grading.operations.reminder_mail import send_reminders
from grading.reading import verdict_cache
from lessons.models import Enrolment
from school.accounts.housekeeping import delete_expired
from school.models import School


class RecordsAltered(Exception):
    """Something in the records does not hold; the text names the first of it."""


def derive_verdicts(on: date) -> str:
    """The verdict of every student in training, derived and kept."""
    enrolments = list(Enrolment.objects.active(on).for_pages().order_by("pk"))
    verdict_cache.derive_and_store(enrolments, on)
    return f"{len(enrolments)} verdicts derived."


def remind_of_expiries(on: date) -> str:
    """Letters about papers that run out. A database without a school has nobody to write to."""
    if not School.objects.exists():
        return "There is no school yet."
    return send_reminders(on)


def check_records(at: datetime) -> str:
    """Every record against its seal, kept with what it found. Raises RecordsAltered where something does not hold."""
    check = run_audit(by=None, at=at)
    if check.found:
        raise RecordsAltered(f"{check.findings[0]} ({check.found} in all).")
    return f"{check.seals} seals hold." if check.seals else "Nothing is sealed yet."


def clear_sessions(at: datetime) -> str:
    """Sessions and counters whose time is over."""
    sessions, counters = delete_expired(at)
    return f"{sessions} sessions and {counters} counters had run out."
