"""Count wrong passwords at signing and of a second person, and write them in the journal.

A refusal rolls the action's transaction back, and a wrong password is a refusal. So the failure is only noted while
the action runs; the middleware counts it and writes it down once the request is answered.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import datetime
from typing import NamedTuple

from django.core.cache import cache
from django.db import transaction

from school import journal
from school.errors import Refusal
from school.models import Person

# As many as allauth allows for an account at log-in (ACCOUNT_RATE_LIMITS), so that signing is no easier place to guess.
# Over minutes and not over days: a longer count would let a stranger keep somebody from signing.
MAX_ATTEMPTS, LOCKOUT_MINUTES = 10, 5
SIGNING_FAILURE, SECOND_PERSON_FAILURE = "wrong password at signing", "wrong password as second person"
NOTHING_SIGNED = "Nothing was signed; everything you wrote is still here."
# Each kind has its own counter: who types a second person's password wrongly keeps nobody from signing.
COUNTERS = {SIGNING_FAILURE: "signing", SECOND_PERSON_FAILURE: "second"}


class FailedAttempt(NamedTuple):
    """Whose password was wrong, the journal's word for it, and the counter it belongs to."""

    person: Person
    what: str
    counter: str


class _Request(NamedTuple):
    """The failures of one request, and how it names the device of a person."""

    failures: list[FailedAttempt]
    device_name: Callable[[Person], str]


_request: ContextVar[_Request | None] = ContextVar("password_attempts", default=None)


def verify_password(person: Person, secret: str, what: str = SIGNING_FAILURE, kept: str = NOTHING_SIGNED) -> bool:
    """Return whether this is the person's password. Refuses without checking after too many wrong ones.

    The action refuses a wrong one. `what` is the journal's word for it, `kept` says what happened to the entries.
    """
    request, counter = _request.get(), _counter(person, what)
    # Refused without a check, so that during the wait not even the right guess shows itself.
    if cache.get(counter, 0) >= MAX_ATTEMPTS:
        raise Refusal(f"Too many wrong passwords: wait {LOCKOUT_MINUTES} minutes. {kept}")
    right = person.check_password(secret)
    if not right and request is not None:
        request.failures.append(FailedAttempt(person, what, counter))
    return right


@contextmanager
def collect_failures(device_name: Callable[[Person], str]) -> Iterator[list[FailedAttempt]]:
    """Collect the failures that are noted in the block; `device_name` as in school/accounts/devices.py."""
    request = _Request([], device_name)
    token = _request.set(request)
    try:
        yield request.failures
    finally:
        _request.reset(token)


@transaction.atomic
def record_failures(noted: list[FailedAttempt], at: datetime) -> None:
    """Write each failure in the journal and count it."""
    for person, what, counter in noted:
        # At signing the person is logged in; a second person's password may have been typed by anybody.
        by = person if what == SIGNING_FAILURE else None
        journal.record(by=by, at=at, what=what, subject=person, derived=False)
        # The lockout runs from the first failure: incr does not extend the counter's life.
        if not cache.add(counter, 1, timeout=LOCKOUT_MINUTES * 60):
            cache.incr(counter)


def _counter(person: Person, what: str) -> str:
    request = _request.get()
    # At signing the device that its person logged in with has a counter of its own, as at log-in. A second person types
    # at somebody else's device.
    device = request.device_name(person) if request and what == SIGNING_FAILURE else ""
    return f"school.{COUNTERS[what]}.{person.pk}.{device}"
