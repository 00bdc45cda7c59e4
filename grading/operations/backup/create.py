"""Make a backup: the whole database at one moment, the school's certificates, and its key only on request."""

import os
import re
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import BinaryIO

import msgspec
from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding
from django.conf import settings
from django.db import transaction
from psycopg import IsolationLevel

from grading.operations.backup.container import CHUNK_BYTES, BackupWriter
from grading.operations.backup.manifest import TABLES_WITHOUT_ROWS, BackupRequest, Manifest, build_manifest
from school import journal, postgres
from school.errors import Refusal
from school.models import JournalEntry, School

BACKUP_MADE = "backup made"
BACKUP_NAME = re.compile(r"training-record-\d{8}T\d{6}Z\.backup")


@dataclass(frozen=True)
class Backup:
    path: Path
    bytes: int
    manifest: Manifest
    encrypted: bool


def create_backup(*, target: Path, passphrase: str | None, with_key: bool, at: datetime) -> Backup:
    """Write a backup into a folder, under a name of its own, or to a file that does not exist yet."""
    # The key signs in the school's name: a copy that travels needs more than the passphrase of the key file, if any.
    if with_key and passphrase is None:
        raise Refusal("The school's key leaves this machine encrypted or not at all: give a passphrase.")
    path = target / f"training-record-{at.astimezone(UTC):%Y%m%dT%H%M%SZ}.backup" if target.is_dir() else target
    if path.exists():
        raise Refusal(f"{path} is there already, and a backup is never overwritten: give another name.")
    certificate, key = _certificate_and_key()
    with _new_file(path) as file:
        sealed = BackupWriter(file, passphrase)
        manifest = _write_snapshot(sealed, BackupRequest(at, key if with_key else None, certificate))
        sealed.close()
    backup = Backup(path, sealed.written, manifest, passphrase is not None)
    # Only once the file is on the disk: an entry about a backup that failed would be believed.
    _record_in_journal(backup, at)
    return backup


def remove_older_backups(folder: Path, keep: int) -> list[Path]:
    """Remove all but the newest backups of a folder; only files with a name that `back_up` gives are removed."""
    if keep < 1:
        raise Refusal("Keep at least one backup.")
    # The name has the time in UTC, so the order of names is the order of age.
    mine = sorted(path for path in folder.iterdir() if BACKUP_NAME.fullmatch(path.name) and path.is_file())
    for path in mine[:-keep]:
        path.unlink()
    return mine[:-keep]


def newest_backup_at(folder: Path) -> datetime | None:
    """Return when the newest backup of a folder was made, by its name."""
    names = [path.name for path in folder.iterdir() if BACKUP_NAME.fullmatch(path.name)]
    if not names:
        return None
    return datetime.strptime(max(names), "training-record-%Y%m%dT%H%M%SZ.backup").replace(tzinfo=UTC)


def last_backup() -> JournalEntry | None:
    """Return the journal's entry of the last backup of this database. One query."""
    return JournalEntry.objects.filter(what=BACKUP_MADE).newest_first().first()


def _write_snapshot(sealed: BackupWriter, asked: BackupRequest) -> Manifest:
    """Write the manifest and the dump from the same snapshot, while others may go on writing."""
    # Only an exported snapshot makes the manifest's counts and head those of the dump: the connection that exported it
    # must stay open until pg_dump has ended.
    with postgres.connect() as db:
        db.isolation_level, db.read_only = IsolationLevel.REPEATABLE_READ, True
        row = db.execute("SELECT pg_export_snapshot()").fetchone()
        assert row is not None
        manifest = build_manifest(db, asked)
        sealed.write(msgspec.json.encode(manifest) + b"\n")
        _dump(sealed, row[0], manifest.postgresql)
    return manifest


def _dump(sealed: BackupWriter, snapshot: str, major: int) -> None:
    database, environment = postgres.connection_arguments()
    left_out = [f"--exclude-table-data=public.{table}" for table in TABLES_WITHOUT_ROWS]
    command = [
        str(postgres.find_program("pg_dump", major)),
        "--format=custom",
        "--no-password",
        f"--snapshot={snapshot}",
        *left_out,
        f"--dbname={database}",
    ]
    with (
        # Not a pipe: nobody reads it while the dump is read, and a full pipe would stop pg_dump.
        tempfile.TemporaryFile() as messages,
        subprocess.Popen(command, stdout=subprocess.PIPE, stderr=messages, env=environment) as process,
    ):
        assert process.stdout is not None
        try:
            while piece := process.stdout.read(CHUNK_BYTES):
                sealed.write(piece)
        # Whatever stops the writing (a full disk, an interrupt) must not leave pg_dump waiting for its reader.
        except BaseException:
            process.kill()
            raise
        # Refused before the file gets its name: a dump that ended early never looks like a backup.
        if process.wait() != 0:
            messages.seek(0)
            raise Refusal(f"pg_dump failed and no backup was made: {messages.read().decode(errors='replace').strip()}")


@contextmanager
def _new_file(path: Path) -> Iterator[BinaryIO]:
    """Open a file that takes the place of its target once it is whole and on the disk; never overwrite."""
    # In the same folder, because a hard link cannot cross file systems.
    half = path.with_name(f".{path.name}.{os.getpid()}.half")
    try:
        # Only its owner may read it, from the first byte on: without a passphrase the dump is plain text.
        file = os.open(half, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except OSError as failed:
        raise Refusal(f"No backup was made: {half} cannot be written ({failed.strerror}).") from failed
    try:
        with os.fdopen(file, "wb") as writer:
            yield writer
            writer.flush()
            os.fsync(writer.fileno())
        os.link(half, path)  # unlike a rename it refuses a name that has come up meanwhile
    except FileExistsError as taken:
        raise Refusal(f"{path} is there already, and a backup is never overwritten: give another name.") from taken
    finally:
        half.unlink(missing_ok=True)
    # The name is safe only once its folder is on the disk as well.
    folder = os.open(path.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)


def _certificate_and_key() -> tuple[str | None, str | None]:
    """Return the PEM text of the certificate in use, and the file of the key as stored, under its own passphrase."""
    path = Path(settings.SIGNING_KEY_FILE)
    if not path.exists():
        return None, None
    text = path.read_bytes()
    certificate = x509.load_pem_x509_certificate(text).public_bytes(Encoding.PEM).decode()
    return certificate, text.decode()


@transaction.atomic
def _record_in_journal(made: Backup, at: datetime) -> None:
    """Record the backup in the journal; a database without a school has no journal to write to."""
    school = School.objects.first()
    if school is not None:
        after = {
            "file": made.path.name,
            "bytes": made.bytes,
            "seals": made.manifest.seals,
            "head": made.manifest.head.digest if made.manifest.head else "",
            "encrypted": made.encrypted,
        }
        journal.record(by=None, at=at, what=BACKUP_MADE, subject=school, after=after)
