"""Keep the head of the chain in a file outside the database: an older copy of the database then contradicts it.

The file holds one JSON object, {"number", "digest", "at"}. Its number only grows. It lies with the secrets of the
server, which a backup of the database does not hold; each server of an installation keeps its own.
"""

import fcntl
import json
import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from django.conf import settings

from grading.evidence.lesson_payload import utc_timestamp
from grading.models import Seal


@dataclass(frozen=True)
class OutsideHead:
    """The newest seal that this server has seen committed."""

    number: int
    digest: str
    at: str


def read() -> OutsideHead | None:
    """Return the head on file; None where there is no file, or none is kept (SEAL_HEAD_FILE)."""
    path = Path(settings.SEAL_HEAD_FILE)
    if not settings.SEAL_HEAD_FILE or not path.exists():
        return None
    return OutsideHead(**json.loads(path.read_text()))


def record(seal: Seal) -> None:
    """Write a seal that was committed, unless the file knows a later one."""
    if not settings.SEAL_HEAD_FILE:
        return
    with _locked() as path:
        known = read()
        if known is not None and known.number >= seal.number:
            return
        head = {"number": seal.number, "digest": seal.digest, "at": utc_timestamp(seal.sealed_at)}
        # Written beside and moved into place: whoever reads it meets the one before or this one, never half of it.
        half = path.with_name(f"{path.name}.{os.getpid()}")
        half.touch(mode=0o600)
        half.write_text(json.dumps(head) + "\n")
        half.replace(path)


def set_aside(at: datetime) -> Path | None:
    """Move the file aside after an older backup was restored on purpose; return where it is now."""
    path = Path(settings.SEAL_HEAD_FILE)
    if read() is None:
        return None
    return path.rename(path.with_name(f"{path.name}.before-{at:%Y%m%dT%H%M%S}"))


@contextmanager
def _locked() -> Iterator[Path]:
    path = Path(settings.SEAL_HEAD_FILE)
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    # Two processes that commit at once: the later number stays, whoever writes last.
    with path.with_name(f"{path.name}.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        yield path
