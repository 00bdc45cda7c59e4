"""Measures one academy: each main page, a tap, the engine, the whole school, a sheet, each beside its floor."""

import hashlib
import json
import os
import platform
import sys
import tempfile
import uuid
from datetime import date, datetime
from pathlib import Path
from typing import Any

import django

django.setup()

from django.conf import settings  # noqa: E402 - models are there only after setup
from django.db import connection, transaction  # noqa: E402
from django.test import Client  # noqa: E402
from django.test.utils import CaptureQueriesContext  # noqa: E402
from django.utils import timezone  # noqa: E402

from grading.actions import recording, sheets  # noqa: E402
from grading.evidence.sheet_payload import canonical_bytes  # noqa: E402
from grading.models import Attempt, Tap  # noqa: E402
from grading.reading.facts import facts_for_all, standard_in_force  # noqa: E402
from grading.rules.readiness import assess  # noqa: E402
from grading.rules.readiness.facts import Facts  # noqa: E402
from grading.sheets import pdf  # noqa: E402
from lessons.models import Circuit, Enrolment, Lesson  # noqa: E402
from lessons.rules.scale import Help  # noqa: E402
from school.models import Person, School  # noqa: E402
from tests.benchmarks.figures import TABLE_HEAD, Figure, measure_time  # noqa: E402
from tests.benchmarks.long_lesson import fly_long_lesson  # noqa: E402
from tests.benchmarks.pages import Page, main_pages  # noqa: E402
from tests.benchmarks.processes import memory_of  # noqa: E402
from tests.benchmarks.whole_school import whole_school  # noqa: E402


def page_figure(asked: Page, repeats: int = 30) -> Figure:
    """Against a bare view of as many rows behind the same middleware."""
    client = Client()
    client.force_login(asked.who)
    content = client.get(asked.address).content
    rows = content.count(b"<tr") + content.count(b"<li")
    floor = measure_time(lambda: client.get(f"/bare/{rows}/"), repeats)
    taken = measure_time(lambda: asked.look(client), repeats)
    with CaptureQueriesContext(connection) as queries:
        asked.look(client)
    return Figure(asked.name, taken, floor, f"{len(queries)} queries, {rows} rows, {len(content) / 1024:,.0f} KiB")


def tap_figure() -> Figure:
    """Saved in a lesson that is being written, against its two rows written and nothing else; each committed."""
    lesson = Lesson.objects.unsigned().select_related("instructor").order_by("pk")[0]
    levels = ["perform", "practice"]

    def save() -> None:
        levels.reverse()
        recording.apply_tap(
            lesson=lesson, field="circuit.1.takeoff.level", value=levels[0], by=lesson.instructor, at=timezone.now()
        )

    attempt = Attempt.objects.filter(lesson=lesson, circuit__isnull=False).order_by("pk")[0]

    def bare() -> None:
        with transaction.atomic():
            Attempt.objects.filter(pk=attempt.pk).update(level="perform")
            Tap.objects.create(
                lesson=lesson, at=timezone.now(), person=lesson.instructor, field="bare", uid=uuid.uuid4()
            )

    return Figure(
        "a tap saved", measure_time(save, 100), measure_time(bare, 100), "committed; floor: the same two rows"
    )


def engine_figure(today: date) -> Figure:
    """Measure assess() for the student whose circuits are nearest to a hundred, against one look at each attempt."""
    enrolments = list(Enrolment.objects.active(today).for_pages().order_by("pk")[:200])
    facts = facts_for_all(enrolments, today)
    chosen = min(facts.values(), key=lambda row: abs(sum(len(lesson.circuits) for lesson in row.lessons) - 100))
    standard = standard_in_force(School.objects.get(), today)
    circuits = sum(len(lesson.circuits) for lesson in chosen.lessons)
    note = f"{circuits} circuits; floor: each attempt and number looked at once, no reasons"
    floor = measure_time(lambda: count_to_standard(chosen), 50)
    return Figure("assess() alone", measure_time(lambda: assess(chosen, standard, today), 50), floor, note)


def count_to_standard(facts: Facts) -> int:
    """Look once at every attempt and every number in the order flown, and count what is clean and what lies inside.

    A row of good attempts, the last level, an open fault and the numbers at a gate all hang on the order and on every
    single attempt, so no engine answers with less. It gives no reason, no evidence and no date.
    """
    found = 0
    for lesson in sorted(facts.lessons, key=lambda row: (row.on, row.number)):
        for attempt in lesson.attempts:
            found += attempt.observed and attempt.help is Help.NONE and not attempt.critical
            found += sum(-number.under <= number.amount <= number.over for number in attempt.numbers)
    return found


def sheet_figures(today: date) -> list[Figure]:
    student = Enrolment.objects.active(today).for_pages().order_by("pk")[0]
    admin = Person.objects.get(username="admin")
    at = timezone.now()
    kept: list[Any] = []

    def make() -> None:
        kept.append(sheets.print_progress_sheet(enrolment=student, on=today, paper="A4", by=admin, at=at))

    made = measure_time(make, 3)
    content = kept[0].content
    record = canonical_bytes(content)
    html = pdf.render_sheet_html(sheets.TEMPLATES[kept[0].kind], content, hashlib.sha256(record).hexdigest(), "A4")
    laid_out = measure_time(lambda: pdf.render_pdf(html, record, at), 3)
    printed = Figure("progress sheet", made, laid_out, "sealed, signed and kept; floor: WeasyPrint of the same HTML")
    client = Client()
    client.force_login(admin)
    size = len(bytes(kept[0].pdf))
    with tempfile.NamedTemporaryFile(suffix=".pdf") as file:
        Path(file.name).write_bytes(bytes(kept[0].pdf))
        floor = measure_time(lambda: client.get(f"/bare-file/{Path(file.name).name}").getvalue(), 50)
    served = measure_time(lambda: client.get(f"/sheets/{kept[0].uid}.pdf").getvalue(), 50)
    return [printed, Figure("stored sheet", served, floor, f"{size / 1024:,.0f} KiB; floor: a file of its size")]


def main() -> None:
    today, students = timezone.localdate(), settings.STUDENTS
    fly_long_lesson()
    figures = [page_figure(asked) for asked in main_pages(today)]
    own = memory_of(os.getpid(), "VmHWM")
    figures += [tap_figure(), engine_figure(today), *whole_school(today), *sheet_figures(today)]
    memory = f"{own:,.0f} MiB after the pages, {memory_of(os.getpid(), 'VmHWM'):,.0f} MiB after all"
    memory += f"; its database process {memory_of(connection.connection.info.backend_pid, 'RssAnon'):,.0f} MiB"
    rows = f"{Lesson.objects.count():,} lessons, {Circuit.objects.count():,} circuits"
    load = ", ".join(f"{value:.1f}" for value in os.getloadavg())
    machine = f"{os.cpu_count()} cores, {platform.machine()}, Python {platform.python_version()}, load {load}"
    out = sys.stdout
    size = f"{students} students, {settings.YEARS} years, {rows}"
    out.write(f"\n{datetime.now():%Y-%m-%d}, {size}; {machine}\nMemory: {memory}\n\n")
    out.write(TABLE_HEAD + "\n".join(row.line for row in figures) + "\n")
    if results := os.environ.get("BENCHMARK_RESULTS"):
        with Path(results).open("a") as file:
            kept = {"students": students, "years": settings.YEARS, "figures": [row.kept for row in figures]}
            file.write(json.dumps(kept) + "\n")


if __name__ == "__main__":
    main()
