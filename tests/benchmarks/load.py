"""A busy quarter of an hour in short: instructors tap, chiefs look at the board, students read, all at once.

It asks gunicorn over HTTP from a process of its own, a thread a person, each with a connection that stays open and a
pause between two requests, as people make. Sessions are made in the database: logging in is not what is measured.
"""

import http.client
import itertools
import json
import os
import random
import re
import sys
import threading
import time
import uuid
from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from typing import Any

import django

django.setup()

from django.conf import settings  # noqa: E402 - models are there only after setup
from django.db import connection  # noqa: E402
from django.utils import timezone  # noqa: E402

from lessons.actions import begin_lesson  # noqa: E402
from lessons.models import Enrolment, Lesson, Unit  # noqa: E402
from school.models import Aircraft, Person, Role, Runway  # noqa: E402
from tests.benchmarks.background_work import BackgroundWork  # noqa: E402
from tests.benchmarks.figures import percentile  # noqa: E402
from tests.benchmarks.processes import (  # noqa: E402
    HOST,
    THREADS,
    TIMEOUT,
    child_processes,
    create_session,
    memory_of,
    start_server,
)

INSTRUCTORS, CHIEFS, STUDENTS = 20, 5, 50
PAUSES = {"tap": 2.0, "board": 5.0, "own progress": 3.0}  # seconds between two requests of one person, on average
WORKERS = 2
WARM_UP_REQUESTS = 12  # requests before the clock runs: each worker reads its templates once
CIRCUIT_UNIT = 8
TOKEN = re.compile(r'name="csrfmiddlewaretoken" value="(\w+)"')
SINCE = re.compile(r'data-since="(\d+)"')
TAPPED_PARTS = ("takeoff", "downwind", "approach", "landing")
ALONE_SHARE = 0.25  # of the time before, the instructors tap without the others

Act = Callable[[float], None]


@dataclass
class Counts:
    """Seconds of each answer and the errors, by what was asked. One for each thread: nothing is shared."""

    seconds: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    errors: dict[str, list[str]] = field(default_factory=lambda: defaultdict(list))


class Browser:
    """One person with a session and a connection that stays open."""

    def __init__(self, person: Person, port: int, seed: int) -> None:
        self.cookies, self.port = create_session(person), port
        self.draw, self.counts = random.Random(seed), Counts()
        self.connection = http.client.HTTPConnection(HOST, port, timeout=TIMEOUT)
        self.token = ""

    def send(self, what: str, address: str, sent: dict[str, Any]) -> str:
        """JSON, as the tablet's own script sends it."""
        return self.ask(what, address, json.dumps(sent), **{"X-CSRFToken": self.token})

    def ask(self, what: str, address: str, body: str | None = None, **headers: str) -> str:
        """Counted under `what`; an answer other than 200, and none, is an error."""
        begun = time.perf_counter()
        try:
            cookie = "; ".join(f"{name}={value}" for name, value in self.cookies.items())
            known = {"Cookie": cookie, "Content-Type": "application/json"}
            self.connection.request("POST" if body is not None else "GET", address, body, known | headers)
            answer = self.connection.getresponse()
            text = answer.read().decode(errors="replace")
        except (OSError, http.client.HTTPException) as failed:
            self.connection.close()
            self.counts.errors[what].append(repr(failed))
            return ""
        self.counts.seconds[what].append(time.perf_counter() - begun)
        if answer.status != http.client.OK:
            self.counts.errors[what].append(f"status {answer.status}")
        for header in answer.headers.get_all("Set-Cookie", []):
            name, _, value = header.split(";")[0].partition("=")
            self.cookies[name] = value
        return text

    def pause(self, what: str, until: float) -> None:
        time.sleep(max(0.0, min(self.draw.expovariate(1 / PAUSES[what]), until - time.monotonic())))


def reading_act(browser: Browser, what: str, address: str) -> Act:
    def read(until: float) -> None:
        while True:
            browser.pause(what, until)
            if time.monotonic() >= until:
                return
            browser.ask(what, address)

    return read


def tapping_act(browser: Browser, lesson: Lesson) -> Act:
    """Opens the lesson once, then taps one level after the other, circuit after circuit, as its tablet sends them."""
    address = f"/lessons/{lesson.uid}/"
    batch: dict[str, Any] = {"person": lesson.instructor_id, "device": str(uuid.uuid4()), "since": 0, "show": "changed"}

    def tap(until: float) -> None:
        browser.pause("tap", until)
        opened = browser.ask("lesson opened", address)
        if (token := TOKEN.search(opened)) and (since := SINCE.search(opened)):
            browser.token, batch["since"] = token[1], int(since[1])
        for turn in itertools.count():
            browser.pause("tap", until)
            if time.monotonic() >= until:
                return
            number, part = 1 + turn // len(TAPPED_PARTS) % 10, TAPPED_PARTS[turn % len(TAPPED_PARTS)]
            event = {
                "id": str(uuid.uuid4()),
                "kind": "entry",
                "seq": turn,
                "at": int(time.time() * 1000),
                "field": f"circuit.{number}.{part}.level",
                "value": browser.draw.choice(("practice", "perform")),
            }
            answer = browser.send("tap", f"{address}entries/batch/", batch | {"events": [event], "circuit": number})
            batch["since"] = json.loads(answer or "{}").get("since", batch["since"])

    return tap


def lessons_to_tap(today: date) -> list[Lesson]:
    """Those being written, and as many more as there are instructors without one."""
    found = {row.instructor_id: row for row in Lesson.objects.unsigned().select_related("instructor")}
    runway, unit = Runway.objects.order_by("pk")[0], Unit.objects.filter(number=CIRCUIT_UNIT).order_by("pk")[0]
    free = Person.objects.active_with_role(Role.INSTRUCTOR).exclude(pk__in=found).order_by("pk")
    for teacher in free[: max(0, INSTRUCTORS - len(found))]:
        student = Enrolment.objects.active(today).filter(instructor=teacher, enrolled_on__lt=today).for_pages().first()
        if student is None:
            continue
        found[teacher.pk] = begin_lesson(
            enrolment=student, unit=unit, on=today, instructor=teacher, by=teacher, at=timezone.now(), runway=runway,
            aircraft=Aircraft.objects.filter(type=student.aircraft_type).order_by("pk")[0],
        )  # fmt: skip
    return [row for row in found.values() if row.unit.flies_circuits][:INSTRUCTORS]


def all_people(ports: list[int]) -> list[tuple[Browser, Act]]:
    today = timezone.localdate()
    people: list[tuple[Browser, Act]] = []
    seeds, port = itertools.count(), itertools.cycle(ports)
    lessons = lessons_to_tap(today)
    for place in range(INSTRUCTORS):
        lesson = lessons[place % len(lessons)]
        browser = Browser(lesson.instructor, next(port), next(seeds))
        people.append((browser, tapping_act(browser, lesson)))
    chief = Person.objects.get(username="chief")
    for _ in range(CHIEFS):
        browser = Browser(chief, next(port), next(seeds))
        people.append((browser, reading_act(browser, "board", "/students/")))
    students = list(Enrolment.objects.active(today).select_related("student").order_by("pk")[:STUDENTS])
    for place in range(STUDENTS):
        browser = Browser(students[place % len(students)].student, next(port), next(seeds))
        people.append((browser, reading_act(browser, "own progress", "/me/")))
    return people


def warm_up(people: list[tuple[Browser, Act]]) -> None:
    for browser, _ in people[INSTRUCTORS :: (CHIEFS + STUDENTS) // WARM_UP_REQUESTS]:
        for address in ("/students/", "/me/", "/lessons/"):
            browser.ask("warm", address)
        browser.counts = Counts()


def result_table(counts: list[Counts], seconds: float) -> str:
    lines = [
        "| asked | answers | a second | p50 ms | p95 ms | p99 ms | most | errors |", "|---|" + "---:|" * 6 + "---:|"
    ]  # fmt: skip
    for what in dict.fromkeys(name for one in counts for name in (*one.seconds, *one.errors)):
        taken = sorted(value for one in counts for value in one.seconds[what])
        errors = [error for one in counts for error in one.errors[what]]
        numbers = [f"{percentile(taken, part) * 1000:,.0f}" for part in (0.5, 0.95, 0.99, 1.0)] if taken else [""] * 4
        said = f"{len(errors)}" + (f" ({errors[0]})" if errors else "")
        lines.append(f"| {what} | {len(taken)} | {len(taken) / seconds:,.1f} | {' | '.join(numbers)} | {said} |")
    return "\n".join(lines)


def main(seconds: float, port: int, apart: bool = False) -> None:
    """`apart`: two web servers of one process each and two workers, each in a process group, as on four machines."""
    ports = [port, port + 1] if apart else [port]
    people = all_people(ports)
    behind = BackgroundWork() if apart else None
    connection.close()
    servers = [start_server(each, WORKERS // len(ports)) for each in ports]
    alone = 0.0 if apart else seconds * ALONE_SHARE
    try:
        warm_up(people)
        if alone:
            run_all(people[:INSTRUCTORS], alone)
        counted_alone = fresh_counts(people)
        run_all(people, seconds, behind.kill_one if behind else None)
        workers = [worker for server in servers for worker in child_processes(server.pid)]
        memory = ", ".join(f"{memory_of(worker, 'VmHWM'):,.0f} MiB" for worker in workers)
    finally:
        for server in servers:
            server.terminate()
            server.wait(TIMEOUT)
        printed = behind.end() if behind else ""
    out, load = sys.stdout, ", ".join(f"{value:.1f}" for value in os.getloadavg())
    out.write(f"\nLoad, {settings.STUDENTS} students: {INSTRUCTORS} instructors, {CHIEFS} chiefs, {STUDENTS} students")
    out.write(f" for {seconds:.0f} s, {len(servers)} servers with {WORKERS} workers of {THREADS} threads in all;")
    out.write(f" load {load}; workers {memory}\n\n")
    counted = [browser.counts for browser, _ in people]
    out.write(result_table(counted, seconds) + "\n" + printed + "\n")
    if alone:
        out.write(f"\nBefore it the instructors alone, for {alone:.0f} s\n\n{result_table(counted_alone, alone)}\n")
    if any(errors for counts in counted + counted_alone for errors in counts.errors.values()):
        raise SystemExit("Some requests failed.")


def run_all(people: list[tuple[Browser, Act]], seconds: float, meanwhile: Callable[[], None] | None = None) -> None:
    """Everybody acts for so long; `meanwhile` is done once, at the beginning."""
    until = time.monotonic() + seconds
    threads = [threading.Thread(target=act, args=(until,)) for _, act in people]
    for thread in threads:
        thread.start()
    if meanwhile:
        meanwhile()
    for thread in threads:
        thread.join()


def fresh_counts(people: list[tuple[Browser, Act]]) -> list[Counts]:
    """What was counted until now; it begins anew, with new connections: the server ended those nobody used."""
    counted = [browser.counts for browser, _ in people]
    for browser, _ in people:
        browser.counts = Counts()
        browser.connection.close()
    return counted


if __name__ == "__main__":
    main(float(sys.argv[1]), int(sys.argv[2]), apart="apart" in sys.argv[3:])
