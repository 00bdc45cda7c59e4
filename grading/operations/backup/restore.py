"""Read a backup and restore it: completely and into an empty database, or not at all."""

import os
import subprocess
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

import msgspec
from django.core.management import call_command
from django.db import connection, transaction
from django.db.migrations.loader import MigrationLoader

from grading.evidence import outside_head
from grading.evidence.audit.check import audit_records
from grading.evidence.audit.database_guards import guard_findings
from grading.evidence.lesson_payload import utc_timestamp
from grading.models import Seal
from grading.operations.backup.container import ALTERED, read_body
from grading.operations.backup.manifest import Manifest, row_count_differences
from school import journal, postgres
from school.errors import Refusal
from school.models import School

MAX_MANIFEST_BYTES = 16 << 20


@dataclass(frozen=True)
class RestoreResult:
    """The outcome of a restore: migrations the backup was behind, and the audit's findings as sentences."""

    manifest: Manifest
    migrated: int
    seals: int
    findings: list[str]


def read_backup(source: Path, passphrase: str | None, whole: bool = False) -> Manifest:
    """Read a backup from its first byte to its last and return its manifest; refuse it where one byte differs.

    With `whole`, pg_restore reads the dump to its end as well, and writes nothing.
    """
    with source.open("rb") as file:
        body = read_body(file, passphrase)
        manifest, rest = _split_body(body)
        if whole:
            _pg_restore(["--file=/dev/null"], manifest, rest)
        else:
            for _ in rest:
                pass
    return manifest


def restore_backup(*, source: Path, passphrase: str | None, at: datetime) -> RestoreResult:
    """Restore a backup into the database of this installation, bring it to this version, and check every record."""
    # Rows of two databases could not be separated again, and a chain has one head.
    if not postgres.is_database_empty():
        raise Refusal(
            "This database is not empty, and a backup is restored into an empty one only. Nothing was changed: make a"
            " new database, or drop this one if you do not need its contents."
        )
    # Read twice: without a passphrase the digest at the end is the only proof, and nothing may be written before it.
    manifest = read_backup(source, passphrase)
    _refuse_newer(manifest)
    with source.open("rb") as file:
        _, dump = _split_body(read_body(file, passphrase))
        database, _ = postgres.connection_arguments()
        # Without owners and grants: roles may have other names here, and the application's rights are granted below.
        into = ["--single-transaction", "--exit-on-error", "--no-owner", "--no-privileges", "--no-password"]
        _pg_restore([*into, f"--dbname={database}"], manifest, dump)
    # Counted before the migrations, which may move rows to other tables.
    with postgres.connect() as db:
        findings = row_count_differences(db, manifest.rows)
    migrated = _migrate_to_current(manifest)
    postgres.grant_application_rights()
    seals, audit_findings = _check_restored(manifest)
    # Last: this entry is not in the backup, whose rows were counted before.
    _record_in_journal(manifest, source, at, _set_outside_head_aside(manifest, at))
    return RestoreResult(manifest, migrated, seals, findings + audit_findings)


def write_key(manifest: Manifest, path: Path) -> None:
    """Write the school's key from a backup that contains it into a new file that only its owner can read."""
    if manifest.key is None:
        raise Refusal("This backup holds no key. The school's key is kept apart from it.")
    try:
        # O_EXCL: never over a key that is in use; 0o600 from the first byte on.
        file = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except OSError as failed:
        raise Refusal(f"The key was not written: {path}, {failed.strerror}.") from failed
    with os.fdopen(file, "w") as writer:
        writer.write(manifest.key)


def _split_body(body: Iterator[bytes]) -> tuple[Manifest, Iterator[bytes]]:
    """Return the manifest and the pieces of the dump; nothing is proved yet where the backup is not encrypted."""
    begun = b""
    # Bounded: a stranger's file may have no line feed at all.
    while b"\n" not in begun:
        piece = next(body, None)
        if piece is None or len(begun) > MAX_MANIFEST_BYTES:
            raise Refusal(ALTERED)
        begun += piece
    line, _, rest = begun.partition(b"\n")
    try:
        manifest = msgspec.json.decode(line, type=Manifest)
    except (msgspec.DecodeError, UnicodeDecodeError) as wrong:
        raise Refusal(ALTERED) from wrong

    def dump() -> Iterator[bytes]:
        yield rest
        yield from body

    return manifest, dump()


def _refuse_newer(manifest: Manifest) -> None:
    major, words = postgres.server_version()
    # An older server may not understand what a newer pg_dump wrote.
    if manifest.postgresql > major:
        raise Refusal(
            f"This backup is of PostgreSQL {manifest.postgresql} and the server is {words}: restore into a server of"
            " that version or a newer one. Nothing was changed."
        )
    migrations = set(MigrationLoader(None).disk_migrations)
    # There is no way back: this version does not know what later tables mean.
    unknown = [f"{app} {name}" for app, name in manifest.migrations if (app, name) not in migrations]
    if unknown:
        raise Refusal(
            f"This backup was made by version {manifest.application} of the program, which knows {unknown[-1]} and this"
            " one does not: install that version or a newer one. Nothing was changed."
        )


def _pg_restore(how: list[str], manifest: Manifest, dump: Iterator[bytes]) -> None:
    """Feed the dump to pg_restore; one transaction, so that after any failure the database is as it was."""
    _, environment = postgres.connection_arguments()
    command = [str(postgres.find_program("pg_restore", manifest.postgresql)), *how]
    with (
        # Not a pipe: nobody reads it while the dump is fed, and a full pipe would stop pg_restore.
        tempfile.TemporaryFile() as messages,
        subprocess.Popen(
            command, stdin=subprocess.PIPE, stdout=subprocess.DEVNULL, stderr=messages, env=environment
        ) as process,
    ):
        assert process.stdin is not None
        try:
            for piece in dump:
                process.stdin.write(piece)
            process.stdin.close()
        except BrokenPipeError:
            for _ in dump:  # it gave up: an altered file is named as that before its words are believed
                pass
        # An interrupt must not leave pg_restore waiting for more with its transaction open.
        except BaseException:
            process.kill()
            raise
        if process.wait() != 0:
            messages.seek(0)
            raise Refusal(f"pg_restore refused the dump: {messages.read().decode(errors='replace').strip()}")


def _migrate_to_current(manifest: Manifest) -> int:
    behind = set(MigrationLoader(connection).graph.nodes) - set(manifest.migrations)
    if behind:
        call_command("migrate", interactive=False, verbosity=0)
    return len(behind)


def _check_restored(manifest: Manifest) -> tuple[int, list[str]]:
    report = audit_records()
    findings = [*map(str, report.findings), *guard_findings()]
    # A chain cut off at its end is whole in itself: only the manifest shows what is missing.
    if report.seals != manifest.seals:
        findings.append(f"The chain has {report.seals} seals; the backup was made of {manifest.seals}.")
    if manifest.head and not Seal.objects.filter(number=manifest.head.number, digest=manifest.head.digest).exists():
        findings.append(f"Seal {manifest.head.number} is not the one that the backup names, {manifest.head.digest}.")
    return report.seals, findings


def _set_outside_head_aside(manifest: Manifest, at: datetime) -> dict[str, Any]:
    """Set the head outside the database aside where it is later than the backup, and return it for the journal.

    The audit above has named it. From here on the chain grows from the backup, and every check would name it again.
    """
    known = outside_head.read()
    if known is None or (manifest.head is not None and known.number <= manifest.head.number):
        return {}
    outside_head.set_aside(at)
    return {"seals lost": known.number - manifest.seals, "last head seen": known.digest}


@transaction.atomic
def _record_in_journal(manifest: Manifest, source: Path, at: datetime, lost: dict[str, Any]) -> None:
    school = School.objects.first()
    if school is not None:
        after = {"file": source.name, "made at": utc_timestamp(manifest.made_at), "seals": manifest.seals} | lost
        journal.record(by=None, at=at, what="backup restored", subject=school, after=after)
