"""What a stranger's file does stays in the process that reads it; few are read at a time over all processes."""

import fcntl
import logging
import os
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import CommandError, call_command
from django.test import Client

from school import file_reader
from school.file_reader import CRASHED, READERS_AT_ONCE, TOO_MUCH_WORK, ReadersBusy, UnreadableFile, read_file
from tests.cast import Cast

HERE = "tests.school.hostile_readers"


@pytest.fixture
def places(settings: Any, tmp_path: Path) -> Path:
    settings.READERS_FOLDER = str(tmp_path / "readers")
    return tmp_path / "readers"


@contextmanager
def all_taken(places: Path) -> Iterator[list[int]]:
    places.mkdir(exist_ok=True)
    held = [os.open(places / f"place-{number}", os.O_RDWR | os.O_CREAT) for number in range(READERS_AT_ONCE)]
    for place in held:
        fcntl.flock(place, fcntl.LOCK_EX)
    try:
        yield held
    finally:
        for place in held:
            os.close(place)


def test_a_reader_has_the_limits_and_none_of_the_servers_secrets(places: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SECRET_KEY", "what nobody else may know")
    told = read_file(f"{HERE}:describe", b"12345")
    assert (told["length"], told["cpu"], told["memory"]) == (5, 3, 300 * 2**20)
    assert told["nice"] == 10
    # LC_CTYPE is Python's own, where the locale is plain C.
    given = {"PATH", "LANG", "PYTHONDONTWRITEBYTECODE", "OPENBLAS_NUM_THREADS"}
    assert set(told["environment"]) - {"LC_CTYPE"} == given


@pytest.mark.parametrize(
    ("reader", "sentence"),
    [
        ("work_without_end", TOO_MUCH_WORK),
        ("fill_memory", TOO_MUCH_WORK),
        ("crash", CRASHED),
        ("fail", CRASHED),
        ("answer_without_end", CRASHED),
        ("no_such_reader", CRASHED),
    ],
)
def test_a_reader_that_fails_is_a_sentence(places: Path, reader: str, sentence: str) -> None:
    with pytest.raises(UnreadableFile, match=sentence):
        read_file(f"{HERE}:{reader}", b"what the file says")
    # Its place is free again.
    assert read_file(f"{HERE}:describe", b"")["length"] == 0


def test_the_log_names_the_error_and_quotes_no_file(places: Path, caplog: pytest.LogCaptureFixture) -> None:
    with caplog.at_level(logging.WARNING), pytest.raises(UnreadableFile):
        read_file(f"{HERE}:fail", b"a name of a person")
    assert "ValueError" in caplog.text
    assert "person" not in caplog.text


def test_a_reader_that_gets_no_time_is_ended_and_blames_no_file(places: Path, settings: Any) -> None:
    before, settings.READER_TIMEOUT = settings.READER_TIMEOUT, 1.0
    with pytest.raises(ReadersBusy):
        read_file(f"{HERE}:sleep", b"/nonexistent")
    settings.READER_TIMEOUT = before
    assert read_file(f"{HERE}:describe", b"")["length"] == 0


def test_no_more_than_two_read_at_one_time_over_all_processes(places: Path, tmp_path: Path) -> None:
    release = tmp_path / "release"
    command = (
        "import django; django.setup(); from django.conf import settings;"
        f"settings.READERS_FOLDER = {str(places)!r}; from school.file_reader import read_file;"
        f"print(read_file({HERE + ':sleep'!r}, {str(release).encode()!r}))"
    )
    environment = {**os.environ, "DJANGO_SETTINGS_MODULE": "tests.settings"}
    start = lambda: subprocess.Popen([sys.executable, "-c", command], env=environment, stdout=subprocess.PIPE)  # noqa: E731
    others = [start() for _ in range(READERS_AT_ONCE)]
    try:
        end = time.monotonic() + 60
        while not both_taken(places):
            assert time.monotonic() < end
            time.sleep(0.05)
        with pytest.raises(ReadersBusy):
            read_file(f"{HERE}:describe", b"")
    finally:
        release.touch()
        answers = [process.communicate(timeout=60)[0] for process in others]
    assert answers == [b"awake\n"] * READERS_AT_ONCE
    assert read_file(f"{HERE}:describe", b"")["length"] == 0


def both_taken(places: Path) -> bool:
    for number in range(READERS_AT_ONCE):
        if not (places / f"place-{number}").exists():
            return False
        with (places / f"place-{number}").open("r+") as place:
            try:
                fcntl.flock(place, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError:
                continue
            return False
    return True


def test_a_place_stays_taken_while_a_reader_lives_whose_server_was_killed(places: Path, tmp_path: Path) -> None:
    release = tmp_path / "release"
    with file_reader._take_place(0) as place:
        reader = subprocess.Popen(
            [sys.executable, "-c", f"import os, time\nwhile not os.path.exists({str(release)!r}): time.sleep(0.02)"],
            pass_fds=(place,),
        )
    # The server's own end of the lock is closed, as the system closes it for a killed process.
    with (places / "place-0").open("r+") as again, pytest.raises(BlockingIOError):
        fcntl.flock(again, fcntl.LOCK_EX | fcntl.LOCK_NB)
    release.touch()
    assert reader.wait(60) == 0
    with (places / "place-0").open("r+") as again:
        fcntl.flock(again, fcntl.LOCK_EX | fcntl.LOCK_NB)


def test_who_has_patience_gets_the_next_free_place(places: Path) -> None:
    with all_taken(places) as held:
        with pytest.raises(ReadersBusy):
            read_file(f"{HERE}:describe", b"", patience=0.2)
        freed = threading.Timer(0.3, lambda: fcntl.flock(held[0], fcntl.LOCK_UN))
        freed.start()
        assert read_file(f"{HERE}:describe", b"abc", patience=30)["length"] == 3
        freed.join()


def test_a_stranger_is_told_to_come_back(cast: Cast, client: Client, places: Path) -> None:
    with all_taken(places):
        reply = client.post("/check/", {"file": SimpleUploadedFile("a.pdf", b"%PDF-1.7 of a stranger")})
    assert (reply.status_code, reply.headers["Retry-After"]) == (503, "60")
    assert "send it again in a minute" in reply.text


def test_a_stranger_is_refused_before_the_file_is_taken_apart(
    cast: Cast, client: Client, places: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def take_apart(*given: Any) -> None:
        raise AssertionError("the body was read")

    # Where each file of a request's body goes.
    monkeypatch.setattr("django.core.files.uploadhandler.MemoryFileUploadHandler.new_file", take_apart)
    sent = {"file": SimpleUploadedFile("a.pdf", b"%PDF-1.7 of a stranger")}
    with all_taken(places):
        assert client.post("/check/", sent).status_code == 503
        assert client.get("/check/").status_code == 200
    with pytest.raises(AssertionError, match="the body was read"):
        client.post("/check/", sent)


def test_the_command_says_so_too(cast: Cast, places: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("grading.management.commands.verify_sheet.PATIENCE_SECONDS", 0)
    file = tmp_path / "a.pdf"
    file.write_bytes(b"%PDF-1.7 of a stranger")
    with all_taken(places), pytest.raises(CommandError, match="try again in a minute"):
        call_command("verify_sheet", str(file))
