"""What a reader of a stranger's file may be made to do, for tests/school/test_file_reader.py."""

import os
import resource
import signal
import sys
import time
from typing import Any


def describe(content: bytes) -> dict[str, Any]:
    names = {"cpu": resource.RLIMIT_CPU, "memory": resource.RLIMIT_AS, "output": resource.RLIMIT_FSIZE}
    limits = {name: resource.getrlimit(kind)[0] for name, kind in names.items()}
    return {"length": len(content), "environment": sorted(os.environ), "nice": os.nice(0), **limits}


def work_without_end(content: bytes) -> None:
    while True:
        pass


def fill_memory(content: bytes) -> int:
    return len(b"x" * (400 * 2**20))


def crash(content: bytes) -> None:
    os.kill(os.getpid(), signal.SIGSEGV)


def fail(content: bytes) -> None:
    raise ValueError(content.decode())


def answer_without_end(content: bytes) -> str:
    sys.stdout.write("x" * (40 * 2**20))
    sys.stdout.flush()
    return ""


def sleep(content: bytes) -> str:
    """Until the file that the content names is there."""
    while not os.path.exists(content):
        time.sleep(0.02)
    return "awake"
