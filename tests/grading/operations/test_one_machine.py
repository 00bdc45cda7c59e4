"""What is refused before the start, and what is said once the first page answers."""

import contextlib
import os
import signal
import socket
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from http.server import BaseHTTPRequestHandler, HTTPServer
from typing import Any

import pytest

from grading.operations import one_machine
from school.errors import Refusal
from school.process_supervisor import SupervisedProgram


class Page(BaseHTTPRequestHandler):
    def do_GET(self) -> None:
        self.send_response(200)
        self.end_headers()

    def log_message(self, *_: object) -> None:
        """Not onto the terminal of the tests."""


@pytest.fixture
def taken() -> Iterator[socket.socket]:
    with socket.socket() as held:
        held.bind((one_machine.HOST, 0))
        held.listen()
        yield held


def test_a_port_in_use_is_refused_in_a_sentence(taken: socket.socket) -> None:
    port = taken.getsockname()[1]
    with pytest.raises(Refusal, match=f"Port {port} is in use on this machine.*choose another port with --port"):
        one_machine.require_free_port(port)
    taken.close()
    one_machine.require_free_port(port)


@pytest.mark.parametrize("port", [0, -1, 65536])
def test_a_number_that_is_no_port_is_refused(port: int) -> None:
    with pytest.raises(Refusal, match="from 1 to 65535"):
        one_machine.require_free_port(port)


def test_a_command_that_fails_is_named_and_one_that_was_interrupted_ends_this_one_too() -> None:
    def start(act: str) -> subprocess.Popen[bytes]:
        return subprocess.Popen([sys.executable, "-c", f"import os, signal, sys; {act}"])

    one_machine.wait_for_command(start("sys.exit(0)"), "migrate")
    with pytest.raises(Refusal, match=r"manage.py migrate failed"):
        one_machine.wait_for_command(start("sys.exit(3)"), "migrate")
    interrupted = "signal.signal(signal.SIGINT, signal.SIG_DFL); os.kill(os.getpid(), signal.SIGINT)"
    with pytest.raises(KeyboardInterrupt):
        one_machine.wait_for_command(start(interrupted), "migrate")


def test_an_interruption_while_a_command_is_started_is_not_lost(monkeypatch: pytest.MonkeyPatch) -> None:
    """As Python's own callbacks around a fork drop it: what they raise is printed and forgotten."""
    started, real = [], subprocess.Popen

    def start_and_interrupt(*given: Any, **more: Any) -> subprocess.Popen[bytes]:
        with contextlib.suppress(KeyboardInterrupt):
            signal.raise_signal(signal.SIGINT)
        started.append(real([sys.executable, "-c", "import time; time.sleep(60)"]))
        return started[0]

    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        monkeypatch.setattr(subprocess, "Popen", start_and_interrupt)
        with pytest.raises(KeyboardInterrupt):
            one_machine.start_command("migrate")
        assert signal.getsignal(signal.SIGINT) is signal.default_int_handler
    finally:
        signal.signal(signal.SIGINT, before)
    assert started[0].returncode == -signal.SIGKILL


def test_a_missing_library_is_named_by_its_package(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(one_machine, "find_library", lambda name: None if name == "pangoft2-1.0" else name)
    with pytest.raises(Refusal, match=r"in Debian libpangoft2-1\.0-0\): bash \.ci/install"):
        one_machine.require_libraries()


def test_the_chosen_port_stands_in_every_address_and_is_said_once_a_page_answers(
    taken: socket.socket, monkeypatch: pytest.MonkeyPatch
) -> None:
    port, opened, seen = taken.getsockname()[1], [], []
    taken.close()
    monkeypatch.delenv("PUBLIC_ADDRESS", raising=False)
    monkeypatch.setattr(os, "chdir", seen.append)

    def supervise(programs: Sequence[SupervisedProgram], say: Callable[[str], None], look: Callable[[], bool]) -> int:
        # Every program has it from the environment (PUBLIC_ADDRESS of the settings).
        assert os.environ["PUBLIC_ADDRESS"] == f"http://127.0.0.1:{port}"
        assert [one.name for one in programs] == ["web server", "worker"]
        assert f"127.0.0.1:{port}" in programs[0].command
        assert (look(), opened) == (False, [])
        with HTTPServer((one_machine.HOST, port), Page) as server:
            threading.Thread(target=server.serve_forever, daemon=True).start()
            assert (look(), opened) == (True, ["open"])
            server.shutdown()
        return 7

    monkeypatch.setattr(one_machine, "supervise", supervise)
    try:
        assert one_machine.serve(port, print, lambda: opened.append("open")) == 7
    finally:
        os.environ.pop("PUBLIC_ADDRESS")  # monkeypatch brings back only what it has removed itself
