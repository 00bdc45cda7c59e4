"""Rows of many tables on their way into the database, copied in the order in which they refer to each other."""

from collections import defaultdict, deque
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import datetime
from operator import attrgetter
from typing import Any, Self, TypeVar

from django.db import DEFAULT_DB_ALIAS, connection, connections, models
from django.db.backends.base.base import BaseDatabaseWrapper
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
KEYS_AT_ONCE: dict[type[models.Model], int] = {Lesson: 1_000, Circuit: 5_000, Attempt: 20_000}
FEW_KEYS = 100


Row = TypeVar("Row", bound=models.Model)


def referring(model: type[Row], columns: tuple[Any, ...], **others: models.Model | None) -> Row:
    """A row made from its columns, with what they refer to at hand. Setting each by name takes four times as long."""
    row = model(*columns)
    row._state.fields_cache.update(others)
    return row


@dataclass
class Batch:
    """What is gathered until it is written. `signed`: lesson, moment, instructor; `ended`: enrolment, moment, how."""

    rows: dict[type[models.Model], list[tuple[Any, ...]]] = field(default_factory=lambda: {m: [] for m in IN_ORDER})
    signed: list[tuple[int, datetime, int]] = field(default_factory=list)
    ended: list[tuple[int, datetime, str]] = field(default_factory=list)


class Tables:
    """`written`: rows copied so far. One batch is copied while the next is gathered, on one and the same connection:
    whoever asks it anything else waits first."""

    def __init__(self) -> None:
        self.batch = Batch()
        self.values = {model: _values_of(model) for model in IN_ORDER}
        self.keys: dict[type[models.Model], deque[int]] = defaultdict(deque)
        self.writer = ThreadPoolExecutor(max_workers=1)
        self.under_way: Future[None] | None = None
        self.written = 0

    def __enter__(self) -> Self:
        connection.inc_thread_sharing()
        return self

    def __exit__(self, *error: object) -> None:
        self.writer.shutdown()
        connection.dec_thread_sharing()

    def key(self, model: type[models.Model]) -> int:
        """The next key of a table, from its own sequence."""
        keys = self.keys[model]
        if not keys:
            self.wait()
            with connection.cursor() as cursor:
                cursor.execute(
                    "SELECT nextval(pg_get_serial_sequence(%s, 'id')) FROM generate_series(1, %s)",
                    [model._meta.db_table, KEYS_AT_ONCE.get(model, FEW_KEYS)],
                )
                keys.extend(key for (key,) in cursor.fetchall())
        return keys.popleft()

    def add(self, row: models.Model) -> None:
        self.batch.rows[type(row)].append(self.values[type(row)](row))

    def add_taps(self, taps: list[tuple[Any, ...]]) -> None:
        """Two rows of five are taps: as plain columns, in the order of the model."""
        self.batch.rows[Tap] += taps

    def sign(self, lesson: Lesson, at: datetime) -> None:
        """The one change of a lesson that its trigger allows, made once everything in it is written."""
        self.batch.signed.append((lesson.pk, at, lesson.instructor_id))

    def end(self, enrolment: Enrolment, at: datetime, how: str) -> None:
        self.batch.ended.append((enrolment.pk, at, how))

    def flush(self) -> None:
        """Begin to copy what was gathered, once the batch before it is written."""
        self.wait()
        batch, self.batch = self.batch, Batch()
        self.written += sum(map(len, batch.rows.values()))
        self.under_way = self.writer.submit(_write, connections[DEFAULT_DB_ALIAS], batch)

    def wait(self) -> None:
        """Until the database has everything that was flushed."""
        if self.under_way is not None:
            self.under_way.result()
            self.under_way = None


def _write(connection: BaseDatabaseWrapper, batch: Batch) -> None:
    """Foreign keys are checked at once, so that a wrong one is told where it is."""
    with connection.cursor() as cursor:
        for model, rows in batch.rows.items():
            if rows:
                columns = ", ".join(f'"{field.column}"' for field in _fields_of(model))
                with cursor.copy(f'COPY "{model._meta.db_table}" ({columns}) FROM STDIN') as copy:
                    for row in rows:
                        copy.write_row(row)
        if batch.signed:
            cursor.execute(
                "UPDATE lessons_lesson l SET signed_at = s.at, signed_by_id = s.by"
                " FROM unnest(%s::bigint[], %s::timestamptz[], %s::bigint[]) AS s (id, at, by) WHERE l.id = s.id",
                [list(column) for column in zip(*batch.signed, strict=True)],
            )
        if batch.ended:
            cursor.execute(
                'UPDATE lessons_enrolment e SET ended_on = s.at::date, "end" = s.how'
                " FROM unnest(%s::bigint[], %s::timestamptz[], %s::text[]) AS s (id, at, how) WHERE e.id = s.id",
                [list(column) for column in zip(*batch.ended, strict=True)],
            )
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        cursor.execute("SET CONSTRAINTS ALL DEFERRED")


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
