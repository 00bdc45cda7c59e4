"""A backup is whole or refused, and what is restored from it is what was there: the drill.

Sources: RFC 7914 (scrypt) and NIST SP 800-38D (AES-GCM) by the implementations of Python's hashlib and `cryptography`,
which read here what the project wrote, after the words of grading/operations/backup/container.py.
"""

import base64
import hashlib
import io
import json
import os
import re
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import msgspec
import pytest
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import connection
from django.utils import timezone

from grading.actions.sheets import print_progress_sheet
from grading.evidence.audit.database_guards import role_findings
from grading.models import Seal
from grading.operations.backup import container, create, restore
from grading.operations.backup.container import BackupWriter, read_body
from grading.operations.backup.manifest import ChainHead, Manifest
from grading.operations.backup.passphrase import read_passphrase
from lessons.models import Enrolment
from school import embedded, postgres
from school.errors import Refusal
from school.models import JournalEntry, Person
from tests.databases import Database, connected_to, load_older_version, table_digests, temporary_database

PASSPHRASE = "a passphrase of this test"


@pytest.fixture(autouse=True)
def cheap_passphrase(monkeypatch: pytest.MonkeyPatch) -> None:
    """scrypt as slow as it should be is slow."""
    monkeypatch.setattr(container, "SCRYPT_COST", 1 << 4)


def write_container(body: bytes, passphrase: str | None) -> bytes:
    file = io.BytesIO()
    writer = BackupWriter(file, passphrase)
    for start in range(0, len(body), 700):
        writer.write(body[start : start + 700])
    writer.close()
    assert writer.written == len(file.getvalue())
    return file.getvalue()


def read_container(text: bytes, passphrase: str | None) -> bytes:
    return b"".join(read_body(io.BytesIO(text), passphrase))


@pytest.mark.parametrize("length", [0, 1, 999, 1000, 1001, 2000, 4567])
@pytest.mark.parametrize("passphrase", [None, PASSPHRASE])
def test_what_was_written_is_read(length: int, passphrase: str | None, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(container, "CHUNK_BYTES", 1000)
    body = os.urandom(length)
    text = write_container(body, passphrase)
    assert read_container(text, passphrase) == body
    if passphrase is None:
        assert text.endswith(body + hashlib.sha256(text[:-32]).digest())


@pytest.mark.parametrize("passphrase", [None, PASSPHRASE])
def test_no_byte_can_be_changed_cut_off_or_moved(passphrase: str | None, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(container, "CHUNK_BYTES", 100)
    text = write_container(bytes(range(250)), passphrase)
    for place in range(len(text)):
        altered = text[:place] + bytes([text[place] ^ 1]) + text[place + 1 :]
        with pytest.raises(Refusal, match=r"altered|has format \d"):
            read_container(altered, passphrase)
        with pytest.raises(Refusal, match="altered"):
            read_container(text[:place], passphrase)
    with pytest.raises(Refusal, match="altered"):
        read_container(text + b"\0", passphrase)
    begins = text.index(b"\n") + 1
    first, second, rest = text[begins : begins + 116], text[begins + 116 : begins + 232], text[begins + 232 :]
    for moved in (second + first + rest, first + rest, first + first + second + rest):
        with pytest.raises(Refusal, match="altered"):
            read_container(text[:begins] + moved, passphrase)


def test_it_is_read_by_its_description_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(container, "CHUNK_BYTES", 100)
    body = os.urandom(250)
    text = write_container(body, PASSPHRASE)
    line, _, rest = text.partition(b"\n")
    said = json.loads(line)
    salt, prefix = base64.b64decode(said["salt"]), base64.b64decode(said["nonce"])
    key = hashlib.scrypt(PASSPHRASE.encode(), salt=salt, n=said["n"], r=said["r"], p=said["p"], dklen=32)
    chunks = [rest[start : start + said["chunk"] + 16] for start in range(0, len(rest), said["chunk"] + 16)]
    found = b""
    for number, chunk in enumerate(chunks):
        nonce = prefix + number.to_bytes(4, "big") + bytes([number == len(chunks) - 1])
        found += AESGCM(key).decrypt(nonce, chunk, line + b"\n")
    assert found == body
    assert write_container(body, PASSPHRASE) != text  # another salt, another key


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"format": 2}, "has format 2"),
        ({"kind": "something else"}, "no backup of a training record"),
        ({"n": 1 << 30}, "altered"),  # a file does not make this machine work for hours
        ({"chunk": 1 << 40}, "altered"),
        ({"nonce": "?"}, "altered"),
    ],
)
def test_a_strangers_first_line_is_refused(change: dict[str, Any], words: str) -> None:
    line, _, rest = write_container(b"body", PASSPHRASE).partition(b"\n")
    with pytest.raises(Refusal, match=words):
        read_container(json.dumps(json.loads(line) | change).encode() + b"\n" + rest, PASSPHRASE)


def test_a_passphrase_is_asked_for_and_must_be_the_one() -> None:
    text = write_container(b"body", PASSPHRASE)
    with pytest.raises(Refusal, match="encrypted: give its passphrase"):
        read_container(text, None)
    with pytest.raises(Refusal, match="The passphrase is not the one of this backup"):
        read_container(text, PASSPHRASE + "x")


def test_a_passphrase_comes_from_a_file_or_the_environment(tmp_path: Path, settings: Any) -> None:
    assert read_passphrase(None) is None
    settings.BACKUP_PASSPHRASE = PASSPHRASE
    assert read_passphrase(None) == PASSPHRASE
    file = tmp_path / "passphrase"
    file.write_text("another passphrase\n")
    assert read_passphrase(file) == "another passphrase"
    file.write_text("short\n")
    with pytest.raises(Refusal, match="has 5 characters: 12 at least"):
        read_passphrase(file)
    with pytest.raises(Refusal, match="cannot be read"):
        read_passphrase(tmp_path / "none")


# From here on there is a school


@dataclass(frozen=True)
class Older:
    """What a backup of an older version holds."""

    migrations: list[tuple[str, ...]]
    dump: bytes


def read_older(database: Database) -> Older:
    migrations = database.psql("postgres", "-c", "SELECT app, name FROM django_migrations").splitlines()
    program = str(postgres.find_program("pg_dump", 16))
    command = [program, "-Fc", "-h", database.host, "-U", "postgres", database.name]
    dump = subprocess.run(command, capture_output=True, check=True).stdout
    return Older([tuple(line.split("|")) for line in migrations], dump)


@pytest.fixture(scope="module")
def schools(django_db_blocker: Any) -> Iterator[tuple[Older, Database]]:
    """A small school in a database of its own, with two signed lessons and a printed sheet; and as it was before."""
    with django_db_blocker.unblock(), temporary_database("drill", "record_owner", "record_app") as database:
        load_older_version(database)
        older = read_older(database)
        with connected_to(database, database.owner):
            call_command("migrate", verbosity=0)
            frida, now = Person.objects.get(username="frida"), timezone.now()
            enrolment = Enrolment.objects.get(student__username="dora")
            print_progress_sheet(enrolment=enrolment, on=now.date(), paper="A4", by=frida, at=now)
        yield older, database


@pytest.fixture(scope="module")
def older(schools: tuple[Older, Database]) -> Older:
    return schools[0]


@pytest.fixture(scope="module")
def school(schools: tuple[Older, Database]) -> Database:
    return schools[1]


@pytest.fixture
def database(school: Database, django_db_blocker: Any) -> Iterator[Database]:
    """What is asked here is asked of that school, by the application's role."""
    with django_db_blocker.unblock(), connected_to(school, school.app):
        yield school


def test_a_backup_is_restored_in_a_fresh_server_and_is_the_same(
    database: Database, older: Older, tmp_path: Path, settings: Any, capsys: pytest.CaptureFixture[str]
) -> None:
    settings.BACKUP_PASSPHRASE = PASSPHRASE
    call_command("back_up", tmp_path, "--with-key", "--keep", "3")
    (file,) = tmp_path.iterdir()
    said = capsys.readouterr().out
    head = Seal.objects.get(number=3)
    assert said.startswith(f"{file}: ")
    assert re.search(r": \d+\.\d MB in \d+\.\d s\n3 seals, the last is 3: " + head.digest + "\n$", said)
    assert file.stat().st_mode & 0o777 == 0o600
    entry = create.last_backup()
    assert entry is not None
    assert entry.after == {
        "file": file.name, "bytes": file.stat().st_size, "seals": 3, "head": head.digest, "encrypted": True,
    }  # fmt: skip
    call_command("restore", file, "--check")
    assert f"3 seals, the last is 3: {head.digest}" in capsys.readouterr().out

    before = table_digests(database)
    with fresh_server() as host, temporary_database("again", "other_owner", "other_app", host) as target:
        with connected_to(target, target.owner):
            key = tmp_path / "key.pem"
            call_command("restore", file, "--key-to", str(key))
            assert "Every record holds, and the head of the chain is that of the backup." in capsys.readouterr().out
            assert key.read_bytes() == Path(settings.SIGNING_KEY_FILE).read_bytes()
            assert key.stat().st_mode & 0o777 == 0o600
            entry = JournalEntry.objects.get(what="backup restored")
            assert entry.after is not None
            assert entry.after["seals"] == 3
            with pytest.raises(CommandError, match="not empty, and a backup is restored into an empty one only"):
                call_command("restore", file)
        assert table_digests(target) == before
        with connected_to(target, target.app):
            assert role_findings() == []
            may = "SELECT has_function_privilege(%s, 'erase_enrolment(bigint, date)', 'EXECUTE')"
            with connection.cursor() as cursor:
                found = [cursor.execute(may, [role]).fetchone()[0] for role in ("other_app", "record_app")]
            assert found == [True, False]
        check_backup_with_foreign_head(older, host, tmp_path, capsys)


@contextmanager
def fresh_server() -> Iterator[str]:
    """A cluster of its own, in a place that its account may pass; the folder of its socket."""
    with tempfile.TemporaryDirectory(dir="/tmp") as folder:
        Path(folder).chmod(0o711)
        yield embedded.database(Path(folder) / "postgres", durable=False)["HOST"]
        embedded.remove(Path(folder) / "postgres")


def check_backup_with_foreign_head(older: Older, host: str, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """It is brought to this version, and the exit status says that its chain is not the one it was made of."""
    with temporary_database("new", "record_owner", "record_app", host) as new:
        counts = {"grading_seal": 2, "lessons_lesson": 3}
        manifest = Manifest(timezone.now(), "0.9", 16, older.migrations, 2, ChainHead(2, "0" * 64), counts, [])
        body = msgspec.json.encode(manifest) + b"\n" + older.dump
        file = folder / "older"
        file.write_bytes(write_container(body, PASSPHRASE))
        with connected_to(new, new.owner), pytest.raises(SystemExit) as ended:
            call_command("restore", file)
        assert ended.value.code == 1
        told = capsys.readouterr()
        assert re.search(r"Restored, with \d\d migrations to this version\.", told.out)
        assert told.err.splitlines()[:2] == [
            "The table lessons_lesson has 2 rows; the backup was made of 3.",
            f"Seal 2 is not the one that the backup names, {'0' * 64}.",
        ]
        assert len(told.err.splitlines()) == 3


def test_without_a_passphrase_any_program_reads_it_and_it_is_said(
    database: Database, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "plain.backup"
    call_command("back_up", file)
    assert "It is not encrypted" in capsys.readouterr().out
    dump = subprocess.run(f"tail -n +3 {file} | head -c -32", shell=True, capture_output=True, check=True).stdout
    listed = subprocess.run(
        [str(postgres.find_program("pg_restore", 16)), "--list"], input=dump, capture_output=True, check=True
    )
    assert b"TABLE DATA public grading_seal" in listed.stdout
    assert b"TABLE DATA public django_session" not in listed.stdout
    assert b"PRIVATE KEY" not in file.read_bytes()
    with pytest.raises(CommandError, match="is there already, and a backup is never overwritten"):
        call_command("back_up", file)
    with pytest.raises(CommandError, match="leaves this machine encrypted or not at all"):
        call_command("back_up", tmp_path / "other.backup", "--with-key")
    assert [path.name for path in tmp_path.iterdir()] == ["plain.backup"]
    text = bytearray(file.read_bytes())
    text[len(text) // 2] ^= 1
    (tmp_path / "altered.backup").write_bytes(text)
    for arguments in (["--check"], []):
        with pytest.raises(CommandError, match=r"altered|not empty"):
            call_command("restore", tmp_path / "altered.backup", *arguments)


def test_a_backup_that_stops_half_way_leaves_nothing(
    database: Database, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    broken = tmp_path / "pg_dump"
    broken.write_text("#!/bin/sh\nhead -c 3000000 /dev/zero\necho 'the disk went away' >&2\nexit 1\n")
    broken.chmod(0o755)
    kept = tmp_path / "kept"
    kept.mkdir()
    monkeypatch.setattr(postgres, "find_program", lambda name, major: broken)
    with pytest.raises(CommandError, match="pg_dump failed and no backup was made: the disk went away"):
        call_command("back_up", kept)
    assert list(kept.iterdir()) == []


def test_a_backup_of_a_newer_program_is_refused(database: Database, monkeypatch: pytest.MonkeyPatch) -> None:
    newer = Manifest(timezone.now(), "9.0", 16, [("grading", "0999_from_the_future")], 0, None, {}, [])
    with pytest.raises(Refusal, match=r"made by version 9\.0 of the program, which knows grading 0999_from_the_future"):
        restore._refuse_newer(newer)
    with pytest.raises(Refusal, match="is of PostgreSQL 99 and the server is"):
        restore._refuse_newer(msgspec.structs.replace(newer, postgresql=99))
    with pytest.raises(Refusal, match="there is no pg_dump of that version here or of a newer one"):
        postgres.find_program("pg_dump", 99)


def test_only_own_names_are_removed(tmp_path: Path) -> None:
    names = [f"training-record-2026010{day}T023000Z.backup" for day in range(1, 6)]
    others = ["training-record-20260101T023000Z.backup.txt", "old.backup", "training-record-notes.backup"]
    for name in (*names, *others):
        (tmp_path / name).touch()
    assert [path.name for path in create.remove_older_backups(tmp_path, 2)] == names[:3]
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted([*names[3:], *others])
    with pytest.raises(Refusal, match="at least one backup"):
        create.remove_older_backups(tmp_path, 0)
