"""Wrong passwords at signing and of a second person: counted by person, told to the journal.

What an action writes is gone when it refuses, and a wrong password is a refusal. So it is only noted while the action
runs, and counted and written down by the middleware once the request is answered.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import datetime

from django.core.cache import cache
from django.db import transaction

from school import journal
from school.errors import Refusal
from school.models import Person

MAX_ATTEMPTS, LOCKOUT_MINUTES = 10, 5
SIGNING_FAILURE, SECOND_PERSON_FAILURE = "wrong password at signing", "wrong password as second person"
NOTHING_SIGNED = "Nothing was signed; everything you wrote is kept."
FailedAttempts = list[tuple[Person, str]]
_failed_attempts: ContextVar[FailedAttempts | None] = ContextVar("wrong_secrets", default=None)


def verify_password(person: Person, secret: str, what: str = SIGNING_FAILURE, kept: str = NOTHING_SIGNED) -> bool:
    """Whether that is the password, at the moment of an act. Refused unread after too many wrong ones.

    The action refuses a wrong one; `what` the journal says of it, `kept` what became of what was typed.
    """
    if cache.get(_cache_key(person), 0) >= MAX_ATTEMPTS:
        raise Refusal(f"Too many wrong passwords: wait {LOCKOUT_MINUTES} minutes. {kept}")
    right = person.check_password(secret)
    if not right and (noted := _failed_attempts.get()) is not None:
        noted.append((person, what))
    return right


@contextmanager
def collect_failures() -> Iterator[FailedAttempts]:
    """Collects what is noted meanwhile."""
    noted: FailedAttempts = []
    token = _failed_attempts.set(noted)
    try:
        yield noted
    finally:
        _failed_attempts.reset(token)


@transaction.atomic
def record_failures(noted: FailedAttempts, at: datetime) -> None:
    for person, what in noted:
        by = person if what == SIGNING_FAILURE else None  # beside an administrator anybody may have typed it
        journal.record(by=by, at=at, what=what, subject=person, derived=False)
        if not cache.add(_cache_key(person), 1, timeout=LOCKOUT_MINUTES * 60):
            cache.incr(_cache_key(person))


def _cache_key(person: Person) -> str:
    return f"school.signing.{person.pk}"
