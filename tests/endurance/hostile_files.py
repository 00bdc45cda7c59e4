"""Twenty hostile files come from one address to the page where anybody has a sheet checked; people go on working.

What is held against each other: the slowest page of somebody who is logged in, while nothing comes and while they come.
"""

import secrets
import threading
import time
from collections import Counter
from dataclasses import dataclass, field
from http.client import HTTPConnection, HTTPException
from typing import Any

from django.conf import settings

from tests import hostile_files
from tests.endurance.browser import Browser
from tests.endurance.installation import Installation
from tests.factories import fly_lesson

FILES, ROUNDS = 20, 3  # as many as one address may send in a minute; times over
QUIET_SECONDS = 15.0
PAUSE = 0.1  # seconds between two pages of one person
TIMEOUT = 120.0
MOST_SLOWER = 2.0


@dataclass
class Outcome:
    quiet: list[float] = field(default_factory=list)
    attacked: list[float] = field(default_factory=list)
    answers: Counter[str] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)
    attack_seconds: float = 0.0

    @property
    def fine(self) -> bool:
        return not self.wrong and max(self.attacked) <= MOST_SLOWER * max(self.quiet)

    def report(self) -> str:
        lines = [f"{ROUNDS} times {FILES} files, {self.attack_seconds:.0f} s; answers: {dict(self.answers)}"]
        for name, seconds in (("quiet", self.quiet), ("while they come", self.attacked)):
            ranked = sorted(seconds)
            median, late = ranked[len(ranked) // 2], ranked[int(len(ranked) * 0.95)]
            lines.append(
                f"{name}: {len(ranked)} pages, median {median * 1000:.0f} ms, 95 % within {late * 1000:.0f} ms,"
                f" slowest {ranked[-1] * 1000:.0f} ms"
            )
        lines.append(f"slowest against the quiet one: {max(self.attacked) / max(self.quiet):.2f}")
        return "\n".join([*lines, *self.wrong[:5]])


def read_pages_while_files_come(found: Installation, cast: Any) -> Outcome:
    for days in range(8):
        fly_lesson(cast, circuits=6, days_ago=days)
    outcome = Outcome()
    people = [
        (Browser(found.port, cast.amelia), "/students/"),
        (Browser(found.port, cast.amelia), f"/students/{cast.enrolment.uid}/"),
        (Browser(found.port, cast.bert), "/lessons/"),
        (Browser(found.port, cast.dora), "/me/"),
        (Browser(found.port, cast.frida), "/records/"),
    ]
    files = [hostile_files.long_list(), hostile_files.long_list(8000), hostile_files.deep_list()]
    _read(people, [], outcome.wrong, 5.0)  # each worker reads its templates once
    for _ in range(ROUNDS):
        # A minute's worth of one address each time: the limit by address is not what is measured.
        _read(people, outcome.quiet, outcome.wrong, QUIET_SECONDS)
        _attack(found.port, files, people, outcome)
        time.sleep(max(0.0, 61 - QUIET_SECONDS - outcome.attack_seconds / ROUNDS))
    return outcome


def _attack(port: int, files: list[bytes], people: list[tuple[Browser, str]], outcome: Outcome) -> None:
    threads = [
        threading.Thread(target=_send, args=(port, files[place % len(files)], outcome)) for place in range(FILES)
    ]
    begun = time.monotonic()
    for thread in threads:
        thread.start()
    while any(thread.is_alive() for thread in threads):
        _read(people, outcome.attacked, outcome.wrong, 1.0)
    outcome.attack_seconds += time.monotonic() - begun


def _send(port: int, content: bytes, outcome: Outcome) -> None:
    token, mark = secrets.token_hex(16), secrets.token_hex(16)
    head = f'--{mark}\r\nContent-Disposition: form-data; name="file"; filename="sheet.pdf"\r\n\r\n'
    body = head.encode() + content + f"\r\n--{mark}--\r\n".encode()
    headers = {
        "Content-Type": f"multipart/form-data; boundary={mark}",
        "Cookie": f"{settings.CSRF_COOKIE_NAME}={token}",
        "X-CSRFToken": token,
    }
    connection = HTTPConnection("127.0.0.1", port, timeout=TIMEOUT)
    try:
        connection.request("POST", "/check/", body, headers)
        status = connection.getresponse().status
        outcome.answers[str(status)] += 1
        if status not in (200, 429, 503):
            outcome.wrong.append(f"a file was answered with {status}")
    except BrokenPipeError:
        # Refused before all of it was sent; behind nginx, which holds the whole request, that is an answer too.
        outcome.answers["refused while sending"] += 1
    except (OSError, HTTPException) as error:
        outcome.answers[type(error).__name__] += 1
    finally:
        connection.close()


def _read(people: list[tuple[Browser, str]], into: list[float], wrong: list[str], seconds: float) -> None:
    end = time.monotonic() + seconds

    def read(browser: Browser, address: str) -> None:
        while time.monotonic() < end:
            begun = time.monotonic()
            status, _, _ = browser.ask("GET", address)
            into.append(time.monotonic() - begun)
            if status != 200:
                wrong.append(f"{address} was answered with {status}")
            time.sleep(PAUSE)

    threads = [threading.Thread(target=read, args=person) for person in people]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
