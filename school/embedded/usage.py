"""The processes that use a cluster: it starts with the first that needs it and stops with the last.

Each process holds a shared lock (flock) on one file from its first connection until it ends. The system releases
the lock however the process ends, so one that was killed does not count. A process that ends asks for the same lock
exclusively, without waiting, and stops the server if it gets it. Both happen under the cluster's own lock
(place.locked): a process that begins while another stops the server waits, and then starts it again.
"""

import atexit
import fcntl
import os
import signal
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TextIO

from school.embedded import server
from school.embedded.place import locked, socket_folder

ENDING = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)


@dataclass(frozen=True)
class Use:
    lock: TextIO
    socket: Path


_uses: dict[Path, Use] = {}
# Threads of one process connect at the same time: the first starts the server, the others wait for it.
_turn = threading.Lock()


def use(folder: Path) -> Path:
    """Start the server of this folder unless it runs, and return the folder of its socket.

    The server runs until this process has ended, and then on while another one uses it.
    """
    folder = folder.absolute()
    with _turn:
        if folder not in _uses:
            _exit_on_signals()
            # An interruption between the start of the server and the note of its use would leave it running.
            with locked(folder) as home, _deferred_signals() as arrived:
                _uses[folder] = _begin(folder, home)
                atexit.register(_leave, folder)
            # The first is enough to end the process; another would interrupt its exit.
            for number in arrived[:1]:
                signal.raise_signal(number)
        return _uses[folder].socket


def _begin(folder: Path, home: Path) -> Use:
    lock = folder.with_name(f"{folder.name}.users").open("a")
    fcntl.flock(lock, fcntl.LOCK_SH)  # it never waits: nobody has the lock exclusively outside of locked()
    try:
        server.bring_up(home, durable=True, on_demand=True)
    except Exception:
        _stop_unless_used(home, lock)  # it may be running and not yet answer
        raise
    return Use(lock, socket_folder(home))


def _leave(folder: Path) -> None:
    with _turn:
        # A forked child has this exit of its parent's, but no use of its own; a folder may be deleted meanwhile.
        if folder in _uses and folder.exists():
            with _deferred_signals(), locked(folder) as home:
                _stop_unless_used(home, _uses.pop(folder).lock)


def _stop_unless_used(home: Path, lock: TextIO) -> None:
    """Give up the use that this lock stands for, and stop the server if it was the last."""
    with lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return
        server.stop_on_demand(home)


def _forget_after_fork() -> None:
    """Leave the parent's use to the parent: a child that connects begins its own.

    Closing the child's copy of the file does not release the lock, which the parent's copy holds.
    """
    global _turn
    _turn = threading.Lock()  # another thread of the parent may have held the old one
    for inherited in _uses.values():
        inherited.lock.close()
    _uses.clear()


os.register_at_fork(after_in_child=_forget_after_fork)


def _exit_on_signals() -> None:
    """Let SIGTERM and SIGHUP end this process by sys.exit, as Ctrl-C ends it by an exception.

    Only then does it leave the server. A process that has its own answer to these signals keeps it.
    """
    if threading.current_thread() is threading.main_thread():
        for number in (signal.SIGTERM, signal.SIGHUP):
            if signal.getsignal(number) == signal.SIG_DFL:
                signal.signal(number, lambda caught, _: sys.exit(128 + caught))


@contextmanager
def _deferred_signals() -> Iterator[list[int]]:
    """Note the signals that would end this process instead of obeying them; yield the list of them."""
    arrived: list[int] = []
    if threading.current_thread() is not threading.main_thread():
        yield arrived  # a signal interrupts the main thread only
        return
    before = {number: signal.getsignal(number) for number in ENDING}
    obeyed = {number: handler for number, handler in before.items() if handler not in (None, signal.SIG_IGN)}
    for number in obeyed:
        signal.signal(number, lambda caught, _: arrived.append(caught))
    try:
        yield arrived
    finally:
        for number, handler in obeyed.items():
            signal.signal(number, handler)
