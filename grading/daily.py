"""The work of every day, each part as one function that tells in words what it did. A worker or cron calls them."""

from datetime import date

from grading import verdicts
from grading.mailing import send_reminders
from grading.sealing import first_broken, head, whole_chain
from lessons.models import Enrolment
from school.models import School


class RecordsAltered(Exception):
    """The chain of seals does not hold; the text names the first broken link."""


def derive_verdicts(on: date) -> str:
    """The verdict of every student in training, derived and kept."""
    enrolments = list(Enrolment.objects.active(on).for_pages().order_by("pk"))
    verdicts.store(enrolments, on)
    return f"{len(enrolments)} verdicts derived."


def remind(on: date) -> str:
    """Letters about papers that run out. A database without a school has nobody to write to."""
    if not School.objects.exists():
        return "There is no school yet."
    return send_reminders(on)


def check_records() -> str:
    """The whole chain of seals, from its beginning. Raises RecordsAltered at the first link that does not hold."""
    broken = first_broken(whole_chain())
    if broken:
        raise RecordsAltered(f"Seal {broken.number}: {broken.why}.")
    last = head()
    return f"{last.number} seals hold, the last is {last.digest}." if last else "Nothing is sealed yet."
