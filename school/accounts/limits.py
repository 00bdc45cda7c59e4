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
from school.errors import Refused
from school.models import Person

MOST, MINUTES = 10, 5
SIGNING, BESIDE = "wrong password at signing", "wrong password as second person"
NOT_SIGNED = "Nothing was signed; everything you wrote is kept."
Noted = list[tuple[Person, str]]
_noted: ContextVar[Noted | None] = ContextVar("wrong_secrets", default=None)


def is_right(person: Person, secret: str, what: str = SIGNING, kept: str = NOT_SIGNED) -> bool:
    """Whether that is the password, at the moment of an act. Refused unread after too many wrong ones.

    The action refuses a wrong one; `what` the journal says of it, `kept` what became of what was typed.
    """
    if cache.get(_key(person), 0) >= MOST:
        raise Refused(f"Too many wrong passwords: wait {MINUTES} minutes. {kept}")
    right = person.check_password(secret)
    if not right and (noted := _noted.get()) is not None:
        noted.append((person, what))
    return right


@contextmanager
def listening() -> Iterator[Noted]:
    """Collects what is noted meanwhile."""
    noted: Noted = []
    token = _noted.set(noted)
    try:
        yield noted
    finally:
        _noted.reset(token)


@transaction.atomic
def count(noted: Noted, at: datetime) -> None:
    for person, what in noted:
        by = person if what == SIGNING else None  # beside an administrator anybody may have typed it
        journal.record(by=by, at=at, what=what, subject=person, derived=False)
        if not cache.add(_key(person), 1, timeout=MINUTES * 60):
            cache.incr(_key(person))


def _key(person: Person) -> str:
    return f"school.signing.{person.pk}"
