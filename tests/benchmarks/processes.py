"""Gunicorn for the benchmarks that ask over HTTP, sessions for their people, and the memory of a process."""

import http.client
import subprocess
import sys
import time
from pathlib import Path

from django.conf import settings
from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY
from django.contrib.sessions.backends.db import SessionStore

from school.models import Person

HOST, THREADS, TIMEOUT = "127.0.0.1", 4, 30.0


def start_server(port: int, workers: int) -> "subprocess.Popen[bytes]":
    """Start gunicorn in a process group of its own; return once it answers."""
    command = [sys.executable, "-m", "gunicorn", "school.wsgi", "--bind", f"{HOST}:{port}", "--workers", str(workers)]
    more = ["--threads", str(THREADS), "--keep-alive", "75", "--log-level", "warning"]
    server = subprocess.Popen([*command, *more], stdin=subprocess.DEVNULL, start_new_session=True)
    until = time.monotonic() + TIMEOUT
    while time.monotonic() < until:
        asked = http.client.HTTPConnection(HOST, port, timeout=TIMEOUT)
        try:
            asked.request("GET", "/login/")
            asked.getresponse().read()
        except OSError:
            time.sleep(0.2)
        else:
            return server
        finally:
            asked.close()
    server.terminate()
    raise SystemExit(f"gunicorn did not answer on port {port} within {TIMEOUT:.0f} s.")


def create_session(person: Person) -> dict[str, str]:
    """Return the cookie of a new session. Logging in by the form is not what is measured."""
    session = SessionStore()
    session[SESSION_KEY] = str(person.pk)
    session[BACKEND_SESSION_KEY] = settings.AUTHENTICATION_BACKENDS[0]
    session[HASH_SESSION_KEY] = person.get_session_auth_hash()
    session.create()
    return {settings.SESSION_COOKIE_NAME: str(session.session_key)}


def child_processes(process: int) -> list[int]:
    listed = Path(f"/proc/{process}/task/{process}/children").read_text()
    return [int(word) for word in listed.split()]


def memory_of(process: int, what: str) -> float:
    """Return MiB: VmHWM is the most it ever held, RssAnon what it holds now without what it shares."""
    status = Path(f"/proc/{process}/status").read_text()
    return next(int(line.split()[1]) / 1024 for line in status.splitlines() if line.startswith(f"{what}:"))
