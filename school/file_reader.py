"""Read files of strangers outside the web processes, few at a time on this machine.

Anybody may have made such a file. Whatever it does to the library that reads it, the pages of everybody else go on:
the reader is a process with limits (school.reader_process), and as many as there are places run at one time, over all
processes of the application on this machine.
"""

import fcntl
import json
import logging
import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryFile
from typing import IO, Any

from django.conf import settings

log = logging.getLogger(__name__)

READERS_AT_ONCE = 2
RETRY_AFTER_SECONDS = 60
POLL_INTERVAL_SECONDS = 0.1
# How long somebody who is logged in waits for a place; who is not is told at once to come back.
PATIENCE_SECONDS = 10.0

TOO_MUCH_WORK = "It takes more work to read than any file that belongs here, so it was not read to its end."
# The second where not even the first could be made any more.
OUT_OF_MEMORY = ("MemoryError", "SystemError")
CRASHED = "It could not be read: something in it stops the reading."
EXCEPTION_NAME = re.compile(r"\s*([A-Za-z_.]{1,80})(?::|$)")


@dataclass(frozen=True)
class Limits:
    """What one reader may use, its start included."""

    cpu_seconds: int = 3
    memory_megabytes: int = 300


LIMITS = Limits()


class ReadersBusy(Exception):
    """Every place is taken, or the machine is so busy that a reader did not end; nothing was read."""


class UnreadableFile(ValueError):
    """The reader of a file crashed or needed more than its limits; the message is a sentence for the person."""


def read_file(reader: str, content: bytes, *, limits: Limits = LIMITS, patience: float = 0.0) -> Any:
    """Return what the function `reader` ("module:function") says of the bytes, out of JSON.

    Waits up to `patience` seconds for a place. Raises ReadersBusy where there is none, or no time to read on it;
    UnreadableFile for a file at which the reader fails.
    """
    with _take_place(patience) as place, TemporaryFile() as given, TemporaryFile() as result, TemporaryFile() as errors:
        given.write(content)
        given.seek(0)
        command = [reader, str(limits.cpu_seconds), str(limits.memory_megabytes)]
        status = _run_reader(command, place, given, result, errors)
        if status != 0:
            name = _exception_name(errors)
            log.warning("a reader of %s ended with status %s, %s", reader, status, name)
            too_much = -status in (signal.SIGXCPU, signal.SIGKILL) or name in OUT_OF_MEMORY
            raise UnreadableFile(TOO_MUCH_WORK if too_much else CRASHED)
        result.seek(0)
        return json.load(result)


def _run_reader(command: list[str], place: int, given: IO[bytes], result: IO[bytes], errors: IO[bytes]) -> int:
    """Run the process and return its exit status, negative for a signal."""
    process = subprocess.Popen(
        [sys.executable, "-m", "school.reader_process", *command],
        stdin=given,
        stdout=result,
        stderr=errors,
        cwd=settings.BASE_DIR,
        # None of the server's secrets; and no threads of a library for linear algebra, which take room each.
        env={"PATH": os.defpath, "LANG": "C.UTF-8", "PYTHONDONTWRITEBYTECODE": "1", "OPENBLAS_NUM_THREADS": "1"},
        # The reader holds its place by itself: a web process that is killed does not give it away too early.
        pass_fds=(place,),
    )
    try:
        return process.wait(settings.READER_TIMEOUT)
    except subprocess.TimeoutExpired as slow:
        raise ReadersBusy from slow
    finally:
        # Also where this process is asked to stop meanwhile: no reader is left behind.
        process.kill()
        process.wait()


@contextmanager
def _take_place(patience: float) -> Iterator[int]:
    """Take one of the places, a file descriptor with a lock that ends with its last holder."""
    end = time.monotonic() + patience
    while (place := _find_free_place()) is None:
        if time.monotonic() >= end:
            raise ReadersBusy
        time.sleep(POLL_INTERVAL_SECONDS)
    try:
        yield place
    finally:
        os.close(place)


def all_places_taken() -> bool:
    """Return whether no reader could begin at this moment. Nothing is taken."""
    place = _find_free_place()
    if place is not None:
        os.close(place)
    return place is None


def strangers_file(view: Callable[..., Any]) -> Callable[..., Any]:
    """Mark a view that reads a file of whoever asks: while every place is taken, a stranger is refused early."""
    view.reads_strangers_file = True  # type: ignore[attr-defined]
    return view


def _find_free_place() -> int | None:
    folder = Path(settings.READERS_FOLDER)
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    for number in range(READERS_AT_ONCE):
        place = os.open(folder / f"place-{number}", os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
        try:
            fcntl.flock(place, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            os.close(place)
        else:
            return place
    return None


def _exception_name(errors: IO[bytes]) -> str:
    """Return the name of the error that ended the reader; what it says may quote the file and stays out of the log."""
    errors.seek(0)
    lines = errors.read().decode(errors="replace").strip().splitlines()
    name = EXCEPTION_NAME.match(lines[-1]) if lines else None
    return name[1] if name else "no error named"
