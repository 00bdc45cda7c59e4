"""Rows of many tables on their way into the database, as lines of COPY text, in the order in which tables refer."""

import json
from collections import defaultdict, deque
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import date, datetime
from operator import attrgetter
from typing import Any, Self

from django.core.serializers.json import DjangoJSONEncoder
from django.db import DEFAULT_DB_ALIAS, connection, connections, models
from django.db.backends.base.base import BaseDatabaseWrapper

from grading.models import (
    Attempt,
    CriterionSeen,
    FaultSeen,
    Grade,
    Measure,
    Release,
    Seal,
    SetAside,
    Signature,
    Tap,
)
from lessons.models import Circuit, Endorsement, Enrolment, KnowledgeTest, Lesson
from school.models import JournalEntry, Paper, Person

# Lessons come after all that belongs to them, signed already: the triggers let nothing into a signed one that is there,
# and whether each part has its lesson is checked once the batch is written.
COPY_ORDER: tuple[type[models.Model], ...] = (
    Person,
    Paper,
    Enrolment,
    KnowledgeTest,
    Endorsement,
    SetAside,
    Circuit,
    Attempt,
    FaultSeen,
    CriterionSeen,
    Measure,
    Grade,
    Tap,
    Lesson,
    Release,
    Signature,
    Seal,
    JournalEntry,
)
# Nothing refers to these by key, so the database gives it to them.
MODELS_WITHOUT_KEY = {FaultSeen, CriterionSeen, Measure, Grade, Tap, Signature, JournalEntry}
# Of nine rows in ten: written as lines where they are drawn (flown.py), in this order of columns.
LINE_COLUMNS: dict[type[models.Model], tuple[str, ...]] = {
    Circuit: ("id", "lesson_id", "number", "ending", "closed", "landing_kind", "shown"),
    Attempt: (
        "id",
        "lesson_id",
        "circuit_id",
        "part",
        "manoeuvre_id",
        "ordinal",
        "level",
        "step",
        "help",
        "kept",
        "by_closing",
        "counted",
    ),
    FaultSeen: ("attempt_id", "fault_id"),
    CriterionSeen: ("attempt_id", "criterion_id", "done"),
    Measure: ("attempt_id", "target_id", "value", "unit"),
    Tap: ("uid", "lesson_id", "at", "person_id", "field", "before", "after"),
}
# More than a batch needs, so that nothing waits for keys while the connection writes one.
KEY_BATCH_SIZES: dict[type[models.Model], int] = {Lesson: 2_000, Circuit: 10_000, Attempt: 40_000}
DEFAULT_KEY_BATCH_SIZE = 500
# What COPY text asks to be written otherwise.
COPY_ESCAPES = str.maketrans({"\\": "\\\\", "\t": "\\t", "\n": "\\n", "\r": "\\r"})

# The changes of written rows, each allowed once by its trigger: the columns are key, moment, and who or how.
UPDATE_SQL = {
    "reviewed": "UPDATE lessons_knowledgetest l SET reviewed_on = s.at::date, reviewed_by_id = s.said::bigint",
    "ended": 'UPDATE lessons_enrolment l SET ended_on = s.at::date, "end" = s.said',
}
UPDATE_FROM_SQL = " FROM unnest(%s::bigint[], %s::timestamptz[], %s::text[]) AS s (id, at, said) WHERE l.id = s.id"


def copy_text(value: Any) -> str:
    """A value as COPY text has it; a list of plain words as an array."""
    if value is None:
        return "\\N"
    if isinstance(value, str):
        return value.translate(COPY_ESCAPES)
    if isinstance(value, bool):
        return "t" if value else "f"
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, list):
        return "{" + ",".join(value) + "}"
    return str(value)


def copy_json(value: Any) -> str:
    return "\\N" if value is None else json.dumps(value, cls=DjangoJSONEncoder).translate(COPY_ESCAPES)


@dataclass
class CopyBatch:
    """What is gathered until it is written. `changes`: key, moment, who or how, by the names in CHANGES."""

    lines: dict[type[models.Model], list[str]] = field(default_factory=lambda: {model: [] for model in COPY_ORDER})
    changes: dict[str, list[tuple[int, datetime, str]]] = field(
        default_factory=lambda: {name: [] for name in UPDATE_SQL}
    )


class BulkTables:
    """`written`: rows copied so far. One batch is copied while the next is gathered, on one and the same connection:
    whoever asks it anything else waits first."""

    def __init__(self) -> None:
        self.batch = CopyBatch()
        self.line_writers = {model: _line_writer(model) for model in COPY_ORDER if model not in LINE_COLUMNS}
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
            self._fetch_keys(model)
        return keys.popleft()

    def _fetch_keys(self, model: type[models.Model]) -> None:
        with connection.cursor() as cursor:
            cursor.execute(
                "SELECT nextval(pg_get_serial_sequence(%s, 'id')) FROM generate_series(1, %s)",
                [model._meta.db_table, KEY_BATCH_SIZES.get(model, DEFAULT_KEY_BATCH_SIZE)],
            )
            self.keys[model].extend(key for (key,) in cursor.fetchall())

    def add(self, row: models.Model) -> None:
        self.batch.lines[type(row)].append(self.line_writers[type(row)](row))

    def lines(self, model: type[models.Model]) -> list[str]:
        """Where lines of a table in AS_LINES are put."""
        return self.batch.lines[model]

    def change(self, what: str, row: models.Model, at: datetime, said: str) -> None:
        """Of a row that this batch or an earlier one writes; made once everything in the batch is written."""
        self.batch.changes[what].append((row.pk, at, said))

    @property
    def gathered(self) -> int:
        """Taps that wait to be written: two rows of five, and quickly counted."""
        return len(self.batch.lines[Tap])

    def flush(self) -> None:
        """Begin to copy what was gathered, once the batch before it is written."""
        self.wait()
        for model, keys in self.keys.items():
            if len(keys) < KEY_BATCH_SIZES.get(model, DEFAULT_KEY_BATCH_SIZE) // 2:
                self._fetch_keys(model)
        batch, self.batch = self.batch, CopyBatch()
        self.written += sum(map(len, batch.lines.values()))
        self.under_way = self.writer.submit(_copy_batch, connections[DEFAULT_DB_ALIAS], batch)

    def wait(self) -> None:
        """Until the database has everything that was flushed."""
        if self.under_way is not None:
            self.under_way.result()
            self.under_way = None


def _copy_batch(connection: BaseDatabaseWrapper, batch: CopyBatch) -> None:
    """Foreign keys are checked at once, so that a wrong one is told where it is."""
    with connection.cursor() as cursor:
        for model, lines in batch.lines.items():
            if lines:
                columns = ", ".join(f'"{column}"' for column in _copy_columns(model))
                with cursor.copy(f'COPY "{model._meta.db_table}" ({columns}) FROM STDIN') as copy:
                    copy.write("\n".join(lines) + "\n")
        for name, rows in batch.changes.items():
            if rows:
                cursor.execute(UPDATE_SQL[name] + UPDATE_FROM_SQL, [list(column) for column in zip(*rows, strict=True)])
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        cursor.execute("SET CONSTRAINTS ALL DEFERRED")


def _copy_columns(model: type[models.Model]) -> tuple[str, ...]:
    return LINE_COLUMNS.get(model) or tuple(field.column for field in _copy_fields(model))


def _copy_fields(model: type[models.Model]) -> list[Any]:
    return [field for field in model._meta.concrete_fields if not (field.primary_key and model in MODELS_WITHOUT_KEY)]


def _line_writer(model: type[models.Model]) -> Callable[[Any], str]:
    """What writes a row of a table as its line."""
    fields = _copy_fields(model)
    read = attrgetter(*(field.attname for field in fields))
    written = [copy_json if isinstance(field, models.JSONField) else copy_text for field in fields]

    def line(row: Any) -> str:
        return "\t".join([write(value) for write, value in zip(written, read(row), strict=True)])

    return line
