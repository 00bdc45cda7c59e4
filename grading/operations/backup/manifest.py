"""Describe what a backup contains, in the line before the dump."""

from dataclasses import dataclass
from datetime import datetime

import msgspec
from psycopg import Connection, sql
from psycopg.rows import TupleRow

from school import versions

# Without sessions: a person who has a backup must not be logged in by it. After a restore everybody logs in again.
TABLES_WITHOUT_ROWS = ("django_session",)


class ChainHead(msgspec.Struct, frozen=True):
    """The number and digest of the last seal of the chain."""

    number: int
    digest: str


class Manifest(msgspec.Struct, frozen=True):
    """What a backup contains: `rows` by table as dumped, `certificates` as PEM texts, `key` only on request."""

    made_at: datetime
    application: str
    postgresql: int
    migrations: list[tuple[str, str]]
    seals: int
    head: ChainHead | None
    rows: dict[str, int]
    certificates: list[str]
    key: str | None = None

    @property
    def chain(self) -> str:
        if self.head is None:
            return "nothing is sealed"
        return f"{self.seals} seals, the last is {self.head.number}: {self.head.digest}"


@dataclass(frozen=True)
class BackupRequest:
    """What the caller alone knows about the backup that is to be made."""

    at: datetime
    key: str | None
    certificate: str | None


def build_manifest(db: Connection[TupleRow], asked: BackupRequest) -> Manifest:
    """Build the manifest in the transaction of the connection, whose snapshot the dump shares."""
    tables = [name for (name,) in db.execute("SELECT tablename FROM pg_tables WHERE schemaname = 'public' ORDER BY 1")]
    last = db.execute("SELECT number, digest FROM grading_seal ORDER BY number DESC LIMIT 1").fetchone()
    kept = [pem for (pem,) in db.execute("SELECT pem FROM school_signingcertificate ORDER BY id")]
    rows = {table: _count_rows(db, table) for table in tables}
    return Manifest(
        made_at=asked.at,
        application=versions.application_version(),
        postgresql=db.info.server_version // 10000,
        migrations=sorted(db.execute("SELECT app, name FROM django_migrations")),
        seals=rows["grading_seal"],
        head=ChainHead(*last) if last else None,
        rows=rows,
        # The one in use may not be in the table yet, and sheets that it signed must stay verifiable.
        certificates=kept if asked.certificate is None or asked.certificate in kept else [*kept, asked.certificate],
        key=asked.key,
    )


def row_count_differences(db: Connection[TupleRow], rows: dict[str, int]) -> list[str]:
    """Return a sentence for each table whose number of rows differs from the manifest."""
    found = []
    for table, wanted in rows.items():
        there = _count_rows(db, table)
        if there != wanted:
            found.append(f"The table {table} has {there} rows; the backup was made of {wanted}.")
    return found


def _count_rows(db: Connection[TupleRow], table: str) -> int:
    # The dump has this table without its rows.
    if table in TABLES_WITHOUT_ROWS:
        return 0
    found = db.execute(sql.SQL("SELECT count(*) FROM {}").format(sql.Identifier(table))).fetchone()
    assert found is not None
    return int(found[0])
