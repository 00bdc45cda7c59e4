"""Rows of many tables on their way into the database, copied in the order in which they refer to each other."""

from collections import defaultdict, deque
from collections.abc import Callable
from datetime import datetime
from operator import attrgetter
from typing import Any

from django.db import connection, models
from psycopg.types.json import Jsonb

from grading.models import (
    Attempt,
    CriterionSeen,
    FaultSeen,
    Grade,
    Measure,
    Release,
    Seal,
    Signature,
    Tap,
)
from lessons.models import Circuit, Endorsement, Enrolment, KnowledgeTest, Lesson
from school.models import JournalEntry, Paper, Person

# Lessons come before all that belongs to them and are signed after it: the triggers let nothing into a signed one.
IN_ORDER: tuple[type[models.Model], ...] = (
    Person, Paper, Enrolment, KnowledgeTest, Endorsement, Lesson, Circuit, Attempt, FaultSeen, CriterionSeen, Measure,
    Grade, Tap, Release, Signature, Seal, JournalEntry,
)  # fmt: skip
# Nothing refers to these by key, so the database gives it to them.
WITHOUT_KEY = {FaultSeen, CriterionSeen, Measure, Grade, Tap, Signature, JournalEntry}
KEYS_AT_ONCE = 5_000


class Tables:
    """`written`: rows copied so far."""

    def __init__(self) -> None:
        self.rows: dict[type[models.Model], list[tuple[Any, ...]]] = {model: [] for model in IN_ORDER}
        self.values = {model: _values_of(model) for model in IN_ORDER}
        self.keys: dict[type[models.Model], deque[int]] = defaultdict(deque)
        self.signed: list[tuple[int, datetime, int]] = []
        self.ended: list[tuple[int, datetime, str]] = []
        self.written = 0

    def key(self, model: type[models.Model]) -> int:
        """The next key of a table, from its own sequence."""
        keys = self.keys[model]
        if not keys:
            with connection.cursor() as cursor:
                cursor.execute(
                    "SELECT nextval(pg_get_serial_sequence(%s, 'id')) FROM generate_series(1, %s)",
                    [model._meta.db_table, KEYS_AT_ONCE],
                )
                keys.extend(key for (key,) in cursor.fetchall())
        return keys.popleft()

    def add(self, row: models.Model) -> None:
        self.rows[type(row)].append(self.values[type(row)](row))

    def sign(self, lesson: Lesson, at: datetime) -> None:
        """The one change of a lesson that its trigger allows, made once everything in it is written."""
        self.signed.append((lesson.pk, at, lesson.instructor_id))

    def end(self, enrolment: Enrolment, at: datetime, how: str) -> None:
        self.ended.append((enrolment.pk, at, how))

    def flush(self) -> None:
        """Copy what was gathered. Foreign keys are checked at once, so that a wrong one is told where it is."""
        with connection.cursor() as cursor:
            for model, rows in self.rows.items():
                if rows:
                    self.written += len(rows)
                    columns = ", ".join(f'"{field.column}"' for field in _fields_of(model))
                    with cursor.copy(f'COPY "{model._meta.db_table}" ({columns}) FROM STDIN') as copy:
                        for row in rows:
                            copy.write_row(row)
                    rows.clear()
            if self.signed:
                cursor.execute(
                    "UPDATE lessons_lesson l SET signed_at = s.at, signed_by_id = s.by"
                    " FROM unnest(%s::bigint[], %s::timestamptz[], %s::bigint[]) AS s (id, at, by) WHERE l.id = s.id",
                    [list(column) for column in zip(*self.signed, strict=True)],
                )
            if self.ended:
                cursor.execute(
                    'UPDATE lessons_enrolment e SET ended_on = s.at::date, "end" = s.how'
                    " FROM unnest(%s::bigint[], %s::timestamptz[], %s::text[]) AS s (id, at, how) WHERE e.id = s.id",
                    [list(column) for column in zip(*self.ended, strict=True)],
                )
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
            cursor.execute("SET CONSTRAINTS ALL DEFERRED")
        self.signed.clear()
        self.ended.clear()


def _fields_of(model: type[models.Model]) -> list[Any]:
    return [field for field in model._meta.concrete_fields if not (field.primary_key and model in WITHOUT_KEY)]


def _values_of(model: type[models.Model]) -> Callable[[Any], tuple[Any, ...]]:
    """What reads a row's columns; JSON is wrapped for the driver."""
    fields = _fields_of(model)
    read = attrgetter(*(field.attname for field in fields))
    wrapped = [place for place, field in enumerate(fields) if isinstance(field, models.JSONField)]
    if not wrapped:
        return read

    def with_json(row: Any) -> tuple[Any, ...]:
        values = list(read(row))
        for place in wrapped:
            values[place] = None if values[place] is None else Jsonb(values[place])
        return tuple(values)

    return with_json
