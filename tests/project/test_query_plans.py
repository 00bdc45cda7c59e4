"""No main page reads a history from its first row to its last: the plan of every query, in an academy of many rows."""

import json
import re
import uuid
from datetime import date, timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from grading.actions.recording import last_tap
from grading.evidence.erasure_plan import BY_SIGNED_SUBJECT
from grading.models import Sheet, Tap
from grading.reading.inspection_facts import OVERLAPPING_LESSONS_SQL
from lessons.models import Enrolment, Lesson
from school.models import JournalEntry, Person
from tests.benchmarks.academy.build import Academy
from tests.benchmarks.pages import Page, main_pages
from tests.benchmarks.plans import full_scans

STUDENTS = 15
# Reading a table in order costs as much as if it were so many times as long: the planner of six hundred students.
LONGER = 40
SHEETS = 20
TOLD = "“{page}” reads {table} from its first row to its last. Query:\n{sql}\nPlan:\n{plan}"


@pytest.mark.django_db
def test_no_main_page_reads_a_whole_history() -> None:
    """In a year of fifteen students, some 30,000 rows, counted by ANALYZE as a server's own housekeeping would."""
    today = timezone.localdate()
    Academy(STUDENTS, 1, 3, today, lambda words, rows: None).build()
    _create_sheets(today)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
        cursor.execute(f"SET LOCAL seq_page_cost = {LONGER}")
    pages = main_pages(today)
    assert len(pages) == 19
    found = [told for page in pages for told in _full_scans_of_page(page)]
    student = next(page.who for page in pages if page.name == "own progress")
    found += _full_scans_of_journal(student)
    assert not found, "\n\n".join(found)
    _check_scan_is_reported()
    _check_student_plans()
    _check_last_tap_plan()


def _check_last_tap_plan() -> None:
    """Each tap asks for it: what would be taken back."""
    lesson, at = Lesson.objects.unsigned().order_by("pk")[0], timezone.now()
    Tap.objects.bulk_create(
        Tap(uid=uuid.uuid4(), lesson=lesson, at=at, person=lesson.instructor, field="lesson.remarks", after=str(number))
        for number in range(1_000)
    )
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE grading_tap")
    with CaptureQueriesContext(connection) as asked:
        found = last_tap(lesson)
    assert found
    assert found.after == "999"
    with connection.cursor() as cursor:
        cursor.execute("EXPLAIN (ANALYZE, FORMAT JSON) " + asked.captured_queries[-1]["sql"])
        plan = json.dumps(cursor.fetchone()[0])
    read = [int(float(rows)) for rows in re.findall(r'"Actual Rows": ([0-9.]+)', plan)]
    assert read
    assert max(read) == 1, plan


def _check_student_plans() -> None:
    """Not all lessons ever flown in an aircraft, nor all signatures, nor all seals: each grew with the school."""
    enrolment = Enrolment.objects.order_by("pk")[0].pk
    subjects = f"SELECT uid FROM grading_signature WHERE {BY_SIGNED_SUBJECT}".replace("$1", str(enrolment))
    sealed = f"SELECT number FROM grading_seal WHERE kind <> 'erasure' AND subject IN ({subjects})"
    for sql, asked, indices in (
        (OVERLAPPING_LESSONS_SQL, [[enrolment]] * 4, ("lesson_aircraft_on",)),
        (sealed, None, ("seal_subject", "grading_signature_pkey")),
    ):
        with connection.cursor() as cursor:
            cursor.execute(f"EXPLAIN {sql}", asked)
            plan = "\n".join(line for (line,) in cursor.fetchall())
        assert all(index in plan for index in indices), plan


def _create_sheets(today: date) -> None:
    """Printed ones, which the academy has none of: their bytes do not matter to a plan."""
    admin, at = Person.objects.get(username="admin"), timezone.now()
    Sheet.objects.bulk_create(
        Sheet(
            enrolment=enrolment, number=number, on=today, paper="A4", content={}, pdf=b"", digest="", printed_at=at,
            printed_by=admin,
        )
        for enrolment in Enrolment.objects.all()
        for number in range(1, SHEETS + 1)
    )  # fmt: skip


def _full_scans_of_page(page: Page) -> list[str]:
    client = Client()
    client.force_login(page.who)
    client.get(page.address)
    with CaptureQueriesContext(connection) as queries:
        assert page.look(client).status_code == 200, page
    return [TOLD.format(page=page.name, **vars(scan)) for scan in full_scans(queries)]


def _full_scans_of_journal(student: Person) -> list[str]:
    """The account of a person: what concerns them, and what they did."""
    since = timezone.now() - timedelta(days=30)
    with CaptureQueriesContext(connection) as queries:
        assert list(JournalEntry.objects.filter(about_id=student.pk).order_by("-at", "-pk")[:50])
        list(JournalEntry.objects.filter(person_id=student.pk, at__gte=since).order_by("-at")[:50])
    return [TOLD.format(page="journal about a person", **vars(scan)) for scan in full_scans(queries)]


def _check_scan_is_reported() -> None:
    with CaptureQueriesContext(connection) as queries:
        list(JournalEntry.objects.filter(subject_label="nobody"))
    assert [scan.table for scan in full_scans(queries)] == ["school_journalentry"]
