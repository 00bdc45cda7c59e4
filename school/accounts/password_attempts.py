"""Count wrong passwords at signing and of a second person, and write them in the journal.

A refusal rolls the action's transaction back, and a wrong password is a refusal. So the failure is only noted while
the action runs; the middleware counts it and writes it down once the request is answered.
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

# As many as allauth allows for an account at log-in (ACCOUNT_RATE_LIMITS), so that signing is no easier place to guess.
# Over minutes and not over days: a longer count would let a stranger keep somebody from signing.
MAX_ATTEMPTS, LOCKOUT_MINUTES = 10, 5
SIGNING_FAILURE, SECOND_PERSON_FAILURE = "wrong password at signing", "wrong password as second person"
NOTHING_SIGNED = "Nothing was signed; everything you wrote is kept."
FailedAttempts = list[tuple[Person, str]]
_failed_attempts: ContextVar[FailedAttempts | None] = ContextVar("wrong_secrets", default=None)


def verify_password(person: Person, secret: str, what: str = SIGNING_FAILURE, kept: str = NOTHING_SIGNED) -> bool:
    """Return whether this is the person's password. Refuses without checking after too many wrong ones.

    The action refuses a wrong one. `what` is the journal's word for it, `kept` says what happened to the entries.
    """
    # Refused without a check, so that during the wait not even the right guess shows itself.
    if cache.get(_cache_key(person), 0) >= MAX_ATTEMPTS:
        raise Refusal(f"Too many wrong passwords: wait {LOCKOUT_MINUTES} minutes. {kept}")
    right = person.check_password(secret)
    if not right and (noted := _failed_attempts.get()) is not None:
        noted.append((person, what))
    return right


@contextmanager
def collect_failures() -> Iterator[FailedAttempts]:
    """Collect the failures that are noted in the block."""
    noted: FailedAttempts = []
    token = _failed_attempts.set(noted)
    try:
        yield noted
    finally:
        _failed_attempts.reset(token)


@transaction.atomic
def record_failures(noted: FailedAttempts, at: datetime) -> None:
    """Write each failure in the journal and count it for its person."""
    for person, what in noted:
        # At signing the person is logged in; a second person's password may have been typed by anybody.
        by = person if what == SIGNING_FAILURE else None
        journal.record(by=by, at=at, what=what, subject=person, derived=False)
        # The lockout runs from the first failure: incr does not extend the counter's life.
        if not cache.add(_cache_key(person), 1, timeout=LOCKOUT_MINUTES * 60):
            cache.incr(_cache_key(person))


def _cache_key(person: Person) -> str:
    return f"school.signing.{person.pk}"
