"""Run programs side by side until one person stops them all: the web server and its workers on one machine."""

import ctypes
import os
import signal
import subprocess
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

STOP_SIGNALS = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)
STOP_TIMEOUT = 10.0  # seconds a program has to end by itself
POLL_INTERVAL = 0.2  # seconds between two looks at them
RESTART_DELAY = 5.0  # a program that ends within so many seconds of its start is not started again at once
PR_SET_PDEATHSIG = 1  # prctl(2) of Linux


@dataclass
class SupervisedProgram:
    """What to start. An `essential` one ends all the others with it; another is started again."""

    name: str
    command: Sequence[str]
    essential: bool = False
    process: subprocess.Popen[bytes] | None = field(default=None, init=False)
    started: float = field(default=0.0, init=False)
    restart_at: float = field(default=0.0, init=False)


def supervise(
    programs: Sequence[SupervisedProgram], say: Callable[[str], None], look: Callable[[], bool] | None = None
) -> int:
    """Start them, keep them running, stop them on SIGINT, SIGTERM or SIGHUP. Returns the exit status of all.

    `look` is called between two looks at them until it returns True.
    Each has a session of its own, so that a signal from the terminal comes once and through here. On Linux they are
    also ended when this process is killed.
    """
    stop = threading.Event()
    # nohup sets SIGHUP to be ignored, so that its program outlives the terminal; that stays so.
    heard = [number for number in STOP_SIGNALS if signal.getsignal(number) != signal.SIG_IGN or number != signal.SIGHUP]
    before = {number: signal.signal(number, lambda *_: stop.set()) for number in heard}
    status = 0
    try:
        while not stop.is_set():
            for program in programs:
                ended = program.process.poll() if program.process else None
                if program.process is None:
                    _start(program)
                elif ended is not None and program.essential:
                    say(f"The {program.name} ended with status {ended}; everything else is stopped.")
                    status = ended if ended > 0 else 1
                    stop.set()
                elif ended is not None:
                    _restart(program, ended, say)
            if look and not stop.is_set() and look():
                look = None
            stop.wait(POLL_INTERVAL)
    finally:
        _stop(programs, say)
        for number, handler in before.items():
            signal.signal(number, handler)
    return status


def _start(program: SupervisedProgram) -> None:
    if time.monotonic() < program.restart_at:
        return
    program.process = subprocess.Popen(
        program.command,
        start_new_session=True,
        preexec_fn=end_with_parent(os.getpid()),
    )
    program.started = time.monotonic()


def _restart(program: SupervisedProgram, ended: int, say: Callable[[str], None]) -> None:
    now = time.monotonic()
    wait = RESTART_DELAY if now - program.started < RESTART_DELAY else 0.0
    say(f"The {program.name} ended with status {ended}; it is started again{f' in {wait:.0f} s' if wait else ''}.")
    program.process, program.restart_at = None, now + wait


def _stop(programs: Sequence[SupervisedProgram], say: Callable[[str], None]) -> None:
    running = [program for program in programs if program.process and program.process.poll() is None]
    # All are asked first, so that one wait serves for all of them.
    for program in running:
        assert program.process is not None
        program.process.terminate()
    until = time.monotonic() + STOP_TIMEOUT
    for program in running:
        assert program.process is not None
        try:
            program.process.wait(max(0.0, until - time.monotonic()))
        except subprocess.TimeoutExpired:
            say(f"The {program.name} did not end by itself and is killed.")
            # With its children: each program leads a session, so its number is that of its group.
            os.killpg(program.process.pid, signal.SIGKILL)
            program.process.wait()


def end_with_parent(parent: int) -> Callable[[], None] | None:
    """Run in the child before its program: the system sends it SIGTERM when its parent ends, however that ends."""
    prctl = getattr(ctypes.CDLL(None), "prctl", None)
    if prctl is None:
        return None

    def arrange() -> None:
        prctl(PR_SET_PDEATHSIG, signal.SIGTERM)
        if os.getppid() != parent:  # it ended meanwhile
            os._exit(1)

    return arrange
