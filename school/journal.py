"""Write entries in the journal. This is the only way in; actions call it inside their transaction."""

import json
from datetime import datetime
from typing import Any

from django.core.serializers.json import DjangoJSONEncoder
from django.db import models
from django.dispatch import Signal

from school.models import JournalEntry, Person

# Sent in the transaction of the entry, so that caches of derived values are invalidated with the change or not at all.
entry_recorded = Signal()


def record(
    *,
    by: Person | None,
    at: datetime,
    what: str,
    subject: models.Model,
    before: dict[str, Any] | None = None,
    after: dict[str, Any] | None = None,
    derived: bool = True,
) -> JournalEntry:
    """Write one entry. `before` and `after` hold only the fields that changed; `by` None is the system.

    `derived`: whether a cached value may depend on the change; none depends on log-ins, for example.
    """
    entry = build_entry(by=by, at=at, what=what, subject=subject, before=before, after=after)
    entry.save()
    if derived:
        entry_recorded.send(sender=type(subject), subject=subject)
    return entry


def build_entry(
    *,
    by: Person | None,
    at: datetime,
    what: str,
    subject: models.Model,
    before: dict[str, Any] | None = None,
    after: dict[str, Any] | None = None,
) -> JournalEntry:
    """Build an entry without saving it, for a caller that saves many at once."""
    return JournalEntry(
        at=at,
        person_id=by.pk if by else None,
        # Names are copied as they are now: the entry outlives a change of name and an erasure.
        person_name=by.name if by else "the system",
        what=what,
        subject_kind=subject._meta.label_lower,
        subject_id=subject.pk,
        # Stored, though it follows from the subject now: the rows that lead to the person may be erased later.
        about_id=concerned_person_id(subject),
        subject_label=str(subject)[:200],
        before=_to_json(before),
        after=_to_json(after),
    )


def concerned_person_id(subject: models.Model) -> int | None:
    """Return the key of the person whom a row concerns: itself, its student, or that of its enrolment or lesson."""
    if isinstance(subject, Person):
        return subject.pk
    lesson = getattr(subject, "lesson", None)
    enrolment = getattr(subject, "enrolment", None) or getattr(lesson, "enrolment", None) or subject
    person: int | None = getattr(enrolment, "student_id", None) or getattr(subject, "person_id", None)
    return person


def _to_json(values: dict[str, Any] | None) -> Any:
    # Through text and back: the entry in memory then holds what a reader of its row gets.
    return None if values is None else json.loads(json.dumps(values, cls=DjangoJSONEncoder))
