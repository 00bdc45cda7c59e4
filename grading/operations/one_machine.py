"""An installation on one machine: what it needs, its steps before the start, its programs side by side."""

import http.client
import os
import signal
import socket
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from ctypes.util import find_library

from django.conf import settings

from school.errors import Refusal
from school.process_supervisor import SupervisedProgram, end_with_parent, supervise

LIBRARIES = {
    "pango-1.0": "libpango-1.0-0",
    "pangoft2-1.0": "libpangoft2-1.0-0",
    "harfbuzz-subset": "libharfbuzz-subset0",
}
HOST = "127.0.0.1"


def require_libraries() -> None:
    """Refuse where printing would fail: otherwise only the first sheet would, long after the start."""
    missing = [package for library, package in LIBRARIES.items() if not find_library(library)]
    if missing:
        raise Refusal(
            f"Printing needs system libraries that are missing (in Debian {', '.join(missing)}): bash .ci/install"
            " installs them or names the packages of this system."
        )


def require_free_port(port: int) -> None:
    """Refuse a port that cannot be opened, before anything is started."""
    if not 1 <= port <= 65535:
        raise Refusal("A port is a number from 1 to 65535.")
    with socket.socket() as tried:
        # As the web server opens it: a connection of an earlier run that the system still remembers is no hindrance.
        tried.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            tried.bind((HOST, port))
        except PermissionError as refused:
            raise Refusal(f"This account may not open port {port}: choose one from 1024 on with --port.") from refused
        except OSError as taken:
            raise Refusal(
                f"Port {port} is in use on this machine, perhaps by an earlier start: stop that one, or choose another"
                " port with --port."
            ) from taken


def start_command(*command: str, output: int | None = None, **environment: str) -> subprocess.Popen[bytes]:
    """Start a command of manage.py beside this one, which it does not outlive. Ctrl-C in that moment ends both."""
    with _interruption_kept() as interrupted:
        started = subprocess.Popen(
            [sys.executable, str(settings.BASE_DIR / "manage.py"), *command],
            env={**os.environ, **environment},
            stdout=output,
            stderr=output,
            preexec_fn=end_with_parent(os.getpid()),
        )
    if interrupted:
        started.kill()  # it may have begun after the terminal sent it its own
        started.wait()
        raise KeyboardInterrupt
    return started


@contextmanager
def _interruption_kept() -> Iterator[list[int]]:
    """Yield a list of what Ctrl-C sent meanwhile: Python drops an exception that is raised while it forks."""
    before, arrived = signal.getsignal(signal.SIGINT), list[int]()
    if before is not signal.default_int_handler:  # ignored, as in the background of a shell, or somebody else's
        yield arrived
        return
    signal.signal(signal.SIGINT, lambda number, _: arrived.append(number))
    try:
        yield arrived
    finally:
        signal.signal(signal.SIGINT, before)


def wait_for_command(started: subprocess.Popen[bytes], name: str) -> None:
    """Refuse where the command failed. Where Ctrl-C ended it, so it ends this process, which it reached as well."""
    status = started.wait()
    if status == -signal.SIGINT:
        raise KeyboardInterrupt
    if status:
        raise Refusal(f"manage.py {name} failed, see above.")


def serve(port: int, say: Callable[[str], None], opened: Callable[[], None]) -> int:
    """Run the web server and the worker until a signal; call `opened` once a page answers. Returns the exit status."""
    # In every link, QR code and invitation.
    os.environ.setdefault("PUBLIC_ADDRESS", f"http://{HOST}:{port}")
    gunicorn = [sys.executable, "-m", "gunicorn", "school.wsgi", "--bind", f"{HOST}:{port}", "--log-level", "warning"]
    worker = [sys.executable, str(settings.BASE_DIR / "manage.py"), "procrastinate", "worker"]
    os.chdir(settings.BASE_DIR)
    programs = [
        SupervisedProgram("web server", [*gunicorn, "--workers", "2", "--threads", "4"], essential=True),
        SupervisedProgram("worker", worker),
    ]

    def announce() -> bool:
        if not _answers(port):
            return False
        opened()
        return True

    return supervise(programs, say, announce)


def _answers(port: int) -> bool:
    """Return whether the web server answers with a page."""
    connection = http.client.HTTPConnection(HOST, port, timeout=10)
    with suppress(OSError, http.client.HTTPException):
        connection.request("GET", "/login/")
        return connection.getresponse().status < 400
    return False
