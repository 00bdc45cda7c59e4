"""What an installation lacks is said by every command in one sentence, and a fault of the program keeps its traceback.

SQLSTATE: PostgreSQL 18 documentation, appendix A (08 connection exception, 42P01 undefined_table), from memory; the
tests ask a real server for them.
"""

import errno
import json
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.core.exceptions import ImproperlyConfigured

from school import command_line
from school.embedded import ROLES
from tests.databases import temporary_database

FACTS = '{"student": {"name": "A"}, "aircraft_type": {"code": "x", "name": "x", "tailwheel": true}}'
# Every command with words that lead it to the database, where it needs one.
CALLS: dict[str, list[str]] = {
    "assess": ["FACTS", "--on", "2026-06-11"],
    "back_up": ["FOLDER"],
    "check_records": [],
    "demo": ["--prepare"],
    "derive_verdicts": [],
    "forget_positions": [],
    "load_demo": [],
    "setup_code": [],
    "restore": ["FACTS"],
    "send_reminders": [],
    "signing_certificate": [],
    "start": [],
    "try_forecast": ["--students", "1"],
    "verify_sheet": ["FACTS"],
}
# One process tries them all: each is run as manage.py runs it, and prints how it ended.
PROGRAM = """
import contextlib, io, json, sys
from school.command_line import run
ended = {}
for name, words in json.loads(sys.argv[1]).items():
    said = io.StringIO()
    with contextlib.redirect_stderr(said), contextlib.redirect_stdout(io.StringIO()):
        try:
            status = run(["manage.py", name, *words])
        except SystemExit as end:
            status = end.code
    ended[name] = [status, said.getvalue()]
print(json.dumps(ended))
"""
ENVIRONMENT = {"PATH": "/usr/bin:/bin", "DJANGO_SETTINGS_MODULE": "school.settings", "LANG": "C.UTF-8"}
SERVER = {"SECRET_KEY": "only-of-this-test" * 4, "ALLOWED_HOSTS": "records.example"}
WITHOUT_DATABASE = {"assess", "try_forecast"}


def run_all(tmp_path: Path, **environment: str) -> dict[str, tuple[int, str]]:
    facts = tmp_path / "facts.json"
    facts.write_text(FACTS)
    places = {"FACTS": str(facts), "FOLDER": str(tmp_path)}
    calls = {name: [places.get(word, word) for word in words] for name, words in CALLS.items()}
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM, json.dumps(calls)],
        cwd=settings.BASE_DIR,
        env=ENVIRONMENT | {"SEAL_HEAD_FILE": "", "METRICS_FOLDER": str(tmp_path)} | environment,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    ended: dict[str, tuple[int, str]] = json.loads(done.stdout.splitlines()[-1])
    return ended


def test_every_command_is_tried() -> None:
    commands = (settings.BASE_DIR / "grading/management/commands").glob("[a-z]*.py")
    assert {path.stem for path in commands} == CALLS.keys()


def assert_one_sentence(ended: dict[str, tuple[int, str]], expected: str) -> None:
    for name, (status, said) in ended.items():
        if name in WITHOUT_DATABASE:
            assert status in (0, None), (name, said)
            continue
        assert status == 1, (name, status, said)
        assert "Traceback" not in said, (name, said)
        assert len(said.strip().splitlines()) == 1, (name, said)
    told = [name for name, (_, said) in ended.items() if expected in said]
    assert {"setup_code", "back_up", "check_records", "derive_verdicts", "send_reminders"} <= set(told), ended


def test_a_database_that_cannot_be_reached(tmp_path: Path) -> None:
    ended = run_all(tmp_path, DATABASE_URL="postgres://nobody@127.0.0.1:1/none", **SERVER)
    assert_one_sentence(ended, "The database cannot be reached: start PostgreSQL, or correct DATABASE_URL")


def test_a_database_without_tables(tmp_path: Path, django_db_setup: None, django_db_blocker: Any) -> None:
    with django_db_blocker.unblock(), temporary_database("bare", *ROLES.values()) as database:
        ended = run_all(tmp_path, DATABASE_URL=database.address(database.app), **SERVER)
    assert_one_sentence(ended, "The tables of this version are missing in the database: run manage.py migrate")


@pytest.mark.parametrize("missing", ["SECRET_KEY", "ALLOWED_HOSTS"])
def test_settings_that_are_not_complete(missing: str) -> None:
    given = {name: value for name, value in SERVER.items() if name != missing}
    done = subprocess.run(
        [sys.executable, "manage.py", "setup_code"],
        cwd=settings.BASE_DIR,
        env=ENVIRONMENT | given | {"DATABASE_URL": "postgres://nobody@127.0.0.1:1/none"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 1
    assert done.stderr.startswith("The settings are not complete: ")
    assert missing in done.stderr
    assert len(done.stderr.splitlines()) == 1


@pytest.mark.parametrize(
    ("fault", "words"),
    [
        (ImproperlyConfigured("Set it\nnow."), "The settings are not complete: Set it now. See .env.example."),
        (PermissionError(errno.EACCES, "Permission denied", "/x/secret"), "/x/secret belongs to another account"),
        (
            OSError(errno.ENOSPC, "No space left on device", "/x/a"),
            r"/x/a cannot be written \(No space left on device\)",
        ),
    ],
)
def test_what_the_system_refuses_is_a_sentence(
    fault: Exception, words: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def fail(arguments: list[str]) -> None:
        raise fault

    monkeypatch.setattr(command_line, "execute_from_command_line", fail)
    assert command_line.run(["manage.py", "check"]) == 1
    assert re.match(words, capsys.readouterr().err)
    with pytest.raises(type(fault)):
        command_line.run(["manage.py", "check", "--traceback"])


def test_a_fault_of_the_program_keeps_its_traceback(monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(arguments: list[str]) -> None:
        raise KeyError("a fault")

    monkeypatch.setattr(command_line, "execute_from_command_line", fail)
    with pytest.raises(KeyError, match="a fault"):
        command_line.run(["manage.py", "check"])
