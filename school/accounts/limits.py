"""Wrong passwords at signing: counted by person, told to the journal.

What an action writes is gone when it refuses, and a wrong password is a refusal. So it is only noted while the action
runs, and counted and written down by the middleware once the request is answered.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import datetime

from django.core.cache import cache

from school.accounts.actions import note
from school.errors import Refused
from school.models import Person

MOST, MINUTES = 10, 5
_noted: ContextVar[list[Person] | None] = ContextVar("wrong_secrets", default=None)


def refuse_if_spent(person: Person) -> None:
    """Before a password is compared at signing."""
    if cache.get(_key(person), 0) >= MOST:
        raise Refused(
            f"Too many wrong passwords: wait {MINUTES} minutes. Nothing was signed; everything you wrote is kept."
        )


def wrong_secret(person: Person) -> None:
    """Just before an action refuses a wrong password."""
    if (noted := _noted.get()) is not None:
        noted.append(person)


@contextmanager
def listening() -> Iterator[list[Person]]:
    """Collects what is noted meanwhile."""
    noted: list[Person] = []
    token = _noted.set(noted)
    try:
        yield noted
    finally:
        _noted.reset(token)


def count(noted: list[Person], at: datetime) -> None:
    for person in noted:
        note(person=person, what="wrong password at signing", by=person, at=at)
        if not cache.add(_key(person), 1, timeout=MINUTES * 60):
            cache.incr(_key(person))


def _key(person: Person) -> str:
    return f"school.signing.{person.pk}"
