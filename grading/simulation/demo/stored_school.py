"""The demo school as rows in a file: built once through the actions, copied into each new demo, its days moved.

The file holds the rows of every table as PostgreSQL's COPY text, as of the day they were built. Loading moves every
day by the same number, and then makes again what was computed over them: the digests of the journal, the chain of
seals, and the proof of each signature with this installation's own key. `audit_records()` finds nothing in the result,
and the tests compare it row by row with a school that the actions built on that day.

What hangs on the calendar itself is moved like the rest: an age said in a sealed verdict, or the end of a month.
"""

import json
import lzma
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import rfc8785
from django.conf import settings
from django.db import connection, transaction

from grading.evidence import outside_head, register
from grading.evidence.chain import link_digest
from grading.evidence.fact_payloads import KINDS_BY_NAME
from grading.models import FlightTrack, Seal, Signature
from grading.reading import verdict_cache
from grading.simulation.demo.moved_days import move_days, move_report
from lessons.models import Enrolment, Lesson
from lessons.rules.flight_track.packed_track import pack_positions, unpack_positions
from school import signature_keys
from school.models import JournalEntry

STORED_SCHOOL = settings.BASE_DIR / "fixtures" / "demo" / "school.json.xz"
# Filled by migrations, or of a visit, or derived from the other tables.
LEFT_OUT = {
    "django_migrations",
    "django_content_type",
    "auth_permission",
    "django_session",
    "school_cache",
    "usersessions_usersession",
    "grading_storedverdict",
}
# What is published on days of its own, whenever the demo is opened.
UNMOVED = {"grading_standard", "lessons_gateset"}
UNMOVED_FACTS = {"standard", "gates"}
GUARDED_SQL = """
SELECT DISTINCT relname FROM pg_trigger JOIN pg_class ON pg_class.oid = tgrelid
WHERE NOT tgisinternal AND relname = ANY(%s)
"""
COLUMNS_SQL = """
SELECT column_name FROM information_schema.columns
WHERE table_schema = 'public' AND table_name = %s AND is_generated = 'NEVER' ORDER BY ordinal_position
"""
SEQUENCES_SQL = """
SELECT table_name, column_name, pg_get_serial_sequence(quote_ident(table_name), column_name)
FROM information_schema.columns
WHERE table_schema = 'public' AND table_name = ANY(%s)
AND pg_get_serial_sequence(quote_ident(table_name), column_name) IS NOT NULL
"""


class StoredSchoolUnfit(RuntimeError):
    """The file was written for other tables than this database has; the text says what to do."""


def write_school(path: Path, built_on: date) -> None:
    """Write the rows of the school in this database to a file."""
    stored = {"built_on": built_on.isoformat(), "tables": read_rows()}
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(lzma.compress(json.dumps(stored, sort_keys=True).encode(), preset=9))


def read_rows() -> dict[str, dict[str, Any]]:
    """Return the columns and the rows, as COPY text, of each table of the school that has any."""
    tables = {}
    with connection.cursor() as cursor:
        for table in sorted(_tables()):
            columns = _columns(table)
            every = f"SELECT {_quoted(columns)} FROM {table} ORDER BY 1"  # noqa: S608 - names of the database's own
            with cursor.copy(f"COPY ({every}) TO STDOUT") as rows:
                text = b"".join(bytes(part) for part in rows).decode()
            if text:
                tables[table] = {"columns": columns, "rows": text}
    return tables


@transaction.atomic
def load_school(path: Path, today: date) -> None:
    """Fill the empty tables of this database with the school of a file, as of today. Needs the role of the owner.

    StoredSchoolUnfit: the tables have changed since the file was written.
    """
    stored = json.loads(lzma.decompress(path.read_bytes()))
    days = (today - date.fromisoformat(stored["built_on"])).days
    tables = stored["tables"]
    _require_same_columns(tables)
    with connection.cursor() as cursor:
        # The guards look at each row, and refuse a circuit of a lesson that is signed already.
        guarded = _guarded(list(tables))
        for table in guarded:
            cursor.execute(f"ALTER TABLE {table} DISABLE TRIGGER USER")
        for table, rows in tables.items():
            text = rows["rows"] if table in UNMOVED else move_days(rows["rows"], days)
            with cursor.copy(f"COPY {table} ({_quoted(rows['columns'])}) FROM STDIN") as put:
                put.write(text)
        _continue_sequences(list(tables))
        _move_weather_reports()
        _move_tracks(days)
        _seal_again()
        connection.check_constraints()
        for table in guarded:
            cursor.execute(f"ALTER TABLE {table} ENABLE TRIGGER USER")
    # So that the first look at the board need not derive them.
    verdict_cache.derive_and_store(list(Enrolment.objects.active(today).for_pages()), today)


def _tables() -> set[str]:
    return {
        name
        for name in connection.introspection.table_names()
        if name not in LEFT_OUT and not name.startswith("procrastinate_")
    }


def _columns(table: str) -> list[str]:
    with connection.cursor() as cursor:
        cursor.execute(COLUMNS_SQL, [table])
        return [name for (name,) in cursor.fetchall()]


def _quoted(columns: list[str]) -> str:
    return ", ".join(connection.ops.quote_name(name) for name in columns)


def _guarded(tables: list[str]) -> list[str]:
    with connection.cursor() as cursor:
        cursor.execute(GUARDED_SQL, [tables])
        return sorted(table for (table,) in cursor.fetchall())


def _require_same_columns(tables: dict[str, Any]) -> None:
    known = _tables()
    for table, rows in tables.items():
        if table not in known or rows["columns"] != _columns(table):
            raise StoredSchoolUnfit(
                f"The stored demo school was written before the table {table} changed:"
                " rebuild it with manage.py load_demo --rebuild in an empty database."
            )


def _continue_sequences(tables: list[str]) -> None:
    with connection.cursor() as cursor:
        cursor.execute(SEQUENCES_SQL, [tables])
        for table, column, sequence in cursor.fetchall():
            newest = f"SELECT max({column}) FROM {table}"  # noqa: S608 - names of the database's own
            cursor.execute(f"SELECT setval(%s, ({newest}))", [sequence])


def _move_weather_reports() -> None:
    """Give each report the day of its lesson."""
    lessons = list(Lesson.objects.exclude(weather_report=""))
    for lesson in lessons:
        lesson.weather_report = move_report(lesson.weather_report, lesson.on)
    Lesson.objects.bulk_update(lessons, ["weather_report"])


def _move_tracks(days: int) -> None:
    """Move the positions of flight tracks, whose times are packed."""
    tracks = list(FlightTrack.objects.all())
    for track in tracks:
        fixes = unpack_positions(bytes(track.positions), by_pressure=track.by_pressure)
        track.positions = pack_positions(replace(fixes, seconds=fixes.seconds + days * 86_400))
    FlightTrack.objects.bulk_update(tracks, ["positions"])


def _seal_again() -> None:
    """Compute the entries' digests, the links of the chain and the proofs over the records with their moved days."""
    entries = {entry.pk: register.entry_digest(entry) for entry in JournalEntry.objects.all()}
    signatures = {str(row.uid): row for row in Signature.objects.all()}
    seals, signed = [], []
    previous = ""
    for seal in Seal.objects.order_by("number"):
        seal.canonical = _canonical(seal, entries)
        seal.previous, seal.digest = previous, link_digest(previous, seal.canonical)
        previous = seal.digest
        seals.append(seal)
        signed += list(_proved(seal, signatures))
    Seal.objects.bulk_update(seals, ["canonical", "previous", "digest"], batch_size=250)
    Signature.objects.bulk_update(signed, ["proof"], batch_size=250)
    if seals:
        transaction.on_commit(lambda: outside_head.record(seals[-1]))


def _canonical(seal: Seal, entries: dict[int, str]) -> str:
    if seal.kind == Seal.Kind.JOURNAL:
        record = json.loads(seal.canonical)
        for entry in record["entries"]:
            entry[1] = entries[entry[0]]
        return rfc8785.dumps(record).decode()
    if seal.kind == Seal.Kind.FACT:
        record = json.loads(seal.canonical)
        if record["fact"] in UNMOVED_FACTS:
            kind = KINDS_BY_NAME[record["fact"]]
            record["values"] = register.current_values(kind, kind.rows().get(pk=record["row"]))
        return rfc8785.dumps(record).decode()
    if seal.kind == Seal.Kind.LESSON:
        return move_report(seal.canonical, date.fromisoformat(json.loads(seal.canonical)["date"]))
    return seal.canonical


def _proved(seal: Seal, signatures: dict[str, Signature]) -> Iterator[Signature]:
    """Yield the signature under a sealed record, if it has one, with its proof made by this installation's key."""
    given = json.loads(seal.canonical).get("signature")
    if given:
        signature = signatures[given["id"]]
        signature.proof = signature_keys.make_proof(
            signature.uid, signature.person_id, signature.signed_at, seal.canonical
        )
        yield signature
