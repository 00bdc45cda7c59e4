"""Findings from the database: the bridge, the pages, the file, and the demo school."""

import csv
import random
import re
from datetime import datetime, timedelta
from io import StringIO
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from grading.actions import corrections, decisions, signing
from grading.models import Signature
from grading.reading import inspection_facts
from grading.reading.inspection_facts import collect_findings
from grading.reading.release_limits import find_breaches
from grading.rules.inspection import Finding
from grading.simulation.demo.demo_school import utc_datetime
from lessons import actions as lesson_actions
from lessons.models import Enrolment, KnowledgeTest, Lesson
from school import actions as school_actions
from school import csv_text
from school.models import Role
from tests import factories
from tests.cast import SECRET, Cast
from tests.database_guards import guards_off
from tests.factories import begin_lesson, record_entries, sign_lesson
from tests.ready_student import make_ready, sign_release
from tests.shared_state import shared_state


def lesson_with_times(cast: Cast, off: str, on: str, days_ago: int = 1, signed: bool = True, **who: Any) -> Lesson:
    """A lesson of one circuit with its block times, UTC."""
    lesson = begin_lesson(cast, 8, days_ago, **who)
    record_entries(cast, lesson, **{"lesson.off_blocks": off, "lesson.on_blocks": on, "lesson.dual_minutes": "1.0"})
    factories.record_circuit(cast, lesson, 1)
    return sign_lesson(cast, lesson, days_ago) if signed else lesson


def add_documents(cast: Cast, *people: Any) -> None:
    """So that nothing is found of students who have flown no lesson yet."""
    for person in people:
        school_actions.record_paper(
            person=person, kind="identity", issued=cast.at(8, 90).date(), by=cast.frida, at=cast.at(8, 90)
        )


def findings_today(cast: Cast, at: datetime | None = None, whole: bool = True) -> list[Finding]:
    return collect_findings(Enrolment.objects.for_pages(), at or cast.at(12), whole_school=whole)


def kinds_of(findings: list[Finding], enrolment: Enrolment) -> list[str]:
    return sorted(finding.kind for finding in findings if finding.enrolment == enrolment.pk)


def test_what_is_read_of_a_lesson(cast: Cast) -> None:
    """Its circuits where no landing is counted, its answer, and neither a replaced version nor a draft."""
    add_documents(cast, cast.dora)
    lesson = begin_lesson(cast, 8, 1)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0", "lesson.takeoffs": "2"})
    factories.record_circuit(cast, lesson, 1)
    sign_lesson(cast, lesson, 1)
    assert kinds_of(findings_today(cast), cast.enrolment) == ["no_block_times", "no_counts"]
    signing.acknowledge_lesson(lesson=lesson, secret=SECRET, by=cast.dora, at=cast.at(12, 1), remark="No.", refuse=True)
    assert kinds_of(findings_today(cast), cast.enrolment) == ["no_block_times", "no_counts", "refused"]
    version = corrections.begin_correction(lesson=lesson, reason="Landings", by=cast.bert, at=cast.at(12))
    assert kinds_of(findings_today(cast), cast.enrolment) == ["no_block_times", "no_counts", "refused"]
    assert "correction_open" in kinds_of(findings_today(cast, cast.at(13) + timedelta(days=1)), cast.enrolment)
    record_entries(cast, version, **{"lesson.off_blocks": "09:00", "lesson.on_blocks": "10:00", "lesson.landings": "1"})
    signing.sign_lesson(lesson=version, secret=SECRET, by=cast.bert, at=cast.at(13))
    assert kinds_of(findings_today(cast, cast.at(14)), cast.enrolment) == []


def test_a_student_ready_for_solo_has_nothing_missing_for_solo(cast: Cast) -> None:
    make_ready(cast)
    sign_release(cast)
    kinds = set(kinds_of(findings_today(cast), cast.enrolment))
    assert kinds == {"no_block_times", "student_waits", "long_gap"}


def test_an_endorsement_withdrawn_under_a_release(cast: Cast) -> None:
    make_ready(cast)
    released = sign_release(cast)
    row = released.enrolment.endorsements.get(kind="pre_solo_training")
    row.withdrawn_at, row.withdrawn_by, row.withdrawal_reason = cast.at(11), cast.bert, "Given too early"
    row.save()
    assert "release_endorsement" in kinds_of(findings_today(cast), cast.enrolment)


def test_solo_outside_a_release_is_read_as_signing_reads_it(cast: Cast) -> None:
    make_ready(cast)
    sign_release(cast)
    lesson = begin_lesson(cast, 17)
    record_entries(
        cast, lesson, **{"lesson.solo_minutes": "1.0", "lesson.wind_direction": "180", "lesson.wind_speed_kt": "30"}
    )
    factories.record_circuit(cast, lesson, 1)
    record_entries(cast, lesson, **{"lesson.outside_release": "The wind rose after takeoff."})
    sign_lesson(cast, lesson)
    [finding] = [row for row in findings_today(cast) if row.kind == "solo_with_reason"]
    assert "Wind up to 30 kt, released for 12 kt." in finding.sentence
    decisions.withdraw_release(release=first_release(cast), reason="Wind", by=cast.bert, at=cast.at(16))
    [finding] = [row for row in findings_today(cast) if row.kind.startswith("solo_")]
    assert (finding.kind, finding.weight) == ("solo_after_withdrawal", "odd")
    assert "by Bert Example. Off blocks is not recorded" in finding.sentence
    assert "Reason: The wind rose after takeoff." in finding.sentence


def solo_after_withdrawal(cast: Cast, begun: str) -> list[Finding]:
    """A solo of today begun at an hour and not signed; the release was withdrawn at 10:00."""
    make_ready(cast)
    release = sign_release(cast, at=cast.at(8))
    lesson = begin_lesson(cast, 17)
    record_entries(cast, lesson, **{"lesson.off_blocks": begun, "lesson.solo_minutes": "1.0"})
    decisions.withdraw_release(release=release, reason="Bounced", by=cast.bert, at=cast.at(10))
    return [row for row in findings_today(cast) if row.kind == "solo_after_withdrawal"]


def test_a_solo_after_a_withdrawal_is_found_while_it_is_written(cast: Cast) -> None:
    [finding] = solo_after_withdrawal(cast, "10:01")
    assert finding.weight == "missing"
    assert "by Bert Example. No reason is written. The lesson is not signed yet." in finding.sentence


def test_a_solo_that_began_before_the_withdrawal_was_released(cast: Cast) -> None:
    assert solo_after_withdrawal(cast, "09:59") == []
    lesson = Lesson.objects.for_pages().get(unit__kind="solo")
    assert [breach.kind for breach in find_breaches(lesson)] == ["not_compared"]


def first_release(cast: Cast) -> Any:
    return decisions.Release.objects.get(enrolment=cast.enrolment)


def test_one_student_alone_is_told_of_overlaps_with_others_as_the_whole_school_is(cast: Cast) -> None:
    add_documents(cast, cast.dora, cast.emil)
    lesson_with_times(cast, "09:00", "10:00")
    lesson_with_times(cast, "09:59", "10:59", enrolment=cast.other_enrolment)
    lesson_with_times(cast, "11:00", "12:00", enrolment=cast.other_enrolment)
    whole = [row for row in findings_today(cast) if row.enrolment == cast.enrolment.pk]
    alone = collect_findings([Enrolment.objects.for_pages().get(pk=cast.enrolment.pk)], cast.at(12))
    assert alone == whole
    assert [row.kind for row in alone] == ["overlap"]
    assert "of Emil Example, with Bert Example and in QQ-XXA" in alone[0].sentence


def test_overlap_over_midnight_is_found_for_one_student(cast: Cast) -> None:
    add_documents(cast, cast.dora, cast.emil)
    lesson_with_times(cast, "23:30", "00:30", days_ago=2)
    lesson_with_times(cast, "00:10", "01:10", days_ago=1, enrolment=cast.other_enrolment)
    alone = collect_findings([Enrolment.objects.for_pages().get(pk=cast.enrolment.pk)], cast.at(12))
    assert [row.kind for row in alone] == ["overlap"]


def test_tests_and_the_end(cast: Cast) -> None:
    add_documents(cast, cast.dora)
    lesson_actions.record_knowledge_test(
        enrolment=cast.enrolment, aircraft_type=cast.type, taken_on=cast.today - timedelta(days=8), topics=[],
        questions=20, wrong=3, reviewed_on=None, given_by=cast.bert, by=cast.bert, at=cast.at(), title="Weather",
    )  # fmt: skip
    with guards_off():
        KnowledgeTest.objects.update(title=" ")
    lesson_actions.end_enrolment(enrolment=cast.enrolment, on=cast.today, end="terminated", by=cast.frida, at=cast.at())
    assert kinds_of(findings_today(cast), cast.enrolment) == ["end_not_certified", "test_not_reviewed", "test_unnamed"]


def test_a_number_on_the_certificate_of_the_instructor(cast: Cast) -> None:
    add_documents(cast, cast.dora)
    lesson = lesson_with_times(cast, "09:00", "10:00")
    assert kinds_of(findings_today(cast), cast.enrolment) == []
    paper = cast.bert.papers.get()
    school_actions.void_paper(paper=paper, reason="Wrong person", by=cast.frida, at=cast.at())
    [finding] = [row for row in findings_today(cast) if row.enrolment == cast.enrolment.pk]
    assert finding.sentence.startswith("Lessons of Bert Example on")
    assert finding.uid == lesson.uid


def create_students(cast: Cast, students: int) -> None:
    """Students with two lessons each, some findings of every query, and lessons of another at the same times."""
    make_ready(cast)
    sign_release(cast)
    lesson_with_times(cast, "09:00", "10:00", enrolment=cast.other_enrolment)
    for number in range(students):
        student = factories.add_person(f"Student{number}", f"N-{number}", Role.STUDENT, at=cast.at(8, 100))
        enrolment = lesson_actions.enrol(
            student=student, syllabus=cast.enrolment.syllabus, aircraft_type=cast.type, instructor=cast.bert,
            on=cast.at(8, 100).date(), by=cast.frida, at=cast.at(8, 100),
        )  # fmt: skip
        lesson_with_times(cast, "09:00", "10:00", enrolment=enrolment)
        lesson_with_times(cast, "09:30", "10:30", days_ago=2, enrolment=enrolment)


@shared_state
def school_of_one(cast: Cast) -> None:
    create_students(cast, 1)


@shared_state
def school_of_three(cast: Cast) -> None:
    create_students(cast, 3)


QUERIES = pytest.mark.parametrize(("who", "page", "queries"), [
    ("frida", "/findings/", 16),
    ("bert", "/findings/", 16),
    ("amelia", "/findings.csv", 17),
    ("frida", "/records/{enrolment}/", 28),
])  # fmt: skip


@QUERIES
@pytest.mark.usefixtures("school_of_one")
def test_queries_of_a_page(cast: Cast, client: Client, who: str, page: str, queries: int) -> None:
    assert_query_count(client, cast, who, page, queries)


@QUERIES
@pytest.mark.usefixtures("school_of_three")
def test_queries_do_not_grow_with_the_students(cast: Cast, client: Client, who: str, page: str, queries: int) -> None:
    assert_query_count(client, cast, who, page, queries)


def assert_query_count(client: Client, cast: Cast, who: str, page: str, queries: int) -> None:
    client.force_login(getattr(cast, who))
    url = page.format(enrolment=Enrolment.objects.exclude(student=cast.dora).latest("pk").uid)
    client.get(url)
    with CaptureQueriesContext(connection) as asked:
        assert client.get(url).getvalue()
    assert len(asked) == queries


def test_the_page_groups_by_student_and_shows_what_is_asked_for(cast: Cast, client: Client) -> None:
    lesson_with_times(cast, "09:00", "10:00", signed=False, days_ago=3)
    lesson_with_times(cast, "09:30", "10:30", days_ago=3, enrolment=cast.other_enrolment, instructor=cast.cleo)
    client.force_login(cast.amelia)
    text = " ".join(client.get("/findings/?by=student").text.split())  # as it is read: a line may end in a sentence
    assert "Findings in the records: 1 missing, 4 to check, 0 for information." in text
    assert text.index("Dora Example</h2>") < text.index("Emil Example</h2>")
    assert re.search(r"not signed, \d days after it ended", text)
    only = client.get("/findings/?kind=overlap&q=emil&by=student").text
    assert "1 of 5 shown" in only
    assert "Dora Example</h2>" not in only
    assert "1 of 5 shown" in client.get(f"/findings/?instructor={cast.cleo.pk}").text
    assert "No finding matches" in client.get("/findings/?q=nobody").text


def test_an_instructor_sees_their_own_to_mend_and_nothing_else(cast: Cast, client: Client) -> None:
    lesson_with_times(cast, "09:00", "10:00", signed=False, days_ago=3)
    lesson_with_times(
        cast, "11:30", "12:30", signed=False, days_ago=3, enrolment=cast.other_enrolment, instructor=cast.cleo
    )
    client.force_login(cast.cleo)
    text = " ".join(client.get("/findings/").text.split())  # as it is read: a line may end in a sentence
    assert "Findings in your lessons: 1 missing" in text
    assert "Emil Example</b>" in text
    assert "Dora Example" not in text
    client.force_login(cast.bert)
    assert "/findings/" in client.get("/lessons/").text
    assert "Emil Example</b>" not in client.get("/findings/").text


def test_nothing_found_says_what_was_checked(cast: Cast, client: Client) -> None:
    add_documents(cast, cast.dora, cast.emil)
    with guards_off():
        Enrolment.objects.update(enrolled_on=cast.today)
    client.force_login(cast.frida)
    text = client.get("/findings/").text
    assert "Nothing is missing from the records." in text
    assert "14 CFR 61.195(a)" in text
    assert '<form method="get"' not in text
    assert "None: signatures, hours" in client.get(f"/records/{cast.enrolment.uid}/").text


def test_the_record_of_a_student_lists_its_findings(cast: Cast, client: Client) -> None:
    lesson_with_times(cast, "09:00", "10:00", signed=False, days_ago=3)
    client.force_login(cast.frida)
    text = client.get(f"/records/{cast.enrolment.uid}/").text
    assert re.search(r"not signed, \d days after it ended", text)
    assert "No document is on record" in text


def test_the_file_holds_what_the_page_shows_and_no_formula(cast: Cast, client: Client) -> None:
    cast.dora.given_name = "=1+1"
    cast.dora.save()
    client.force_login(cast.amelia)
    reply = client.get("/findings.csv?kind=no_papers")
    assert reply.headers["Content-Type"] == "text/csv; charset=utf-8"
    rows = list(csv.reader(StringIO(reply.getvalue().decode())))
    assert [row[0] for row in rows] == ["Student", "'=1+1 Example", "Emil Example"]
    assert rows[1][4:6] == ["to check", "No documents"]


@pytest.mark.parametrize("cell", ["=A1", "+1", "-1", "@x", "\tx", "\rx", "\nx"])
def test_a_cell_that_a_spreadsheet_takes_for_a_formula_stays_text(cell: str) -> None:
    assert next(csv.reader(StringIO(csv_text.format_line([cell, "a,b", None]), newline=""))) == [f"'{cell}", "a,b", ""]
    assert next(csv.reader(StringIO(csv_text.format_line(["a=b"])))) == ["a=b"]


def create_random_lessons(cast: Cast, seed: int, count: int = 60) -> None:
    """Lessons with values at and around the boundaries of the rules, as only a database could hold them."""
    draw = random.Random(seed)
    units = [cast.units[1], *[cast.units[8]] * 6, cast.units[17]]
    day = cast.today - timedelta(days=150)
    for number in range(1, count + 1):
        day += timedelta(days=draw.choice((0, 0, 1, 2, 30, 31) if number % 9 == 0 else (0, 1, 1, 2)))
        off = utc_datetime(day, draw.choice((8, 9, 9, 10)), draw.choice((0, 59)))
        minutes, apart = draw.choice((59, 60, 61)), draw.choice((0, 0, 0, 6, 7, -6, -7))
        end, unit, teacher = off + timedelta(minutes=minutes), draw.choice(units), draw.choice((cast.bert, cast.cleo))
        ground = unit == cast.units[1]
        late = draw.choice((timedelta(0), timedelta(0), timedelta(hours=24), timedelta(hours=24, minutes=1)))
        signed = draw.random() > 0.05
        Lesson.objects.create(
            enrolment=draw.choice((cast.enrolment, cast.other_enrolment)), number=number, unit=unit, on=day,
            instructor=teacher, aircraft=None if ground or draw.random() < 0.05 else cast.aircraft,
            runway=None if ground or draw.random() < 0.05 else cast.runway,
            off_blocks=None if ground or draw.random() < 0.05 else off,
            on_blocks=None if ground or draw.random() < 0.05 else end,
            dual_minutes=0 if ground or draw.random() < 0.05 else minutes + apart,
            night_minutes=0 if ground else draw.choice((0, 0, 0, 60, 70)), ground_minutes=draw.choice((0, 30)),
            takeoffs=draw.choice((1, 1, 1, 0)), landings=draw.choice((1, 1, 1, 0)), begun_at=off, begun_by=teacher,
            signed_at=end + late if signed else None, signed_by=teacher if signed else None,
        )  # fmt: skip
    for lesson in Lesson.objects.signed():
        if draw.random() < 0.9:
            Signature.objects.create(
                lesson=lesson, capacity="student", act=draw.choice(("signed", "signed", "refused")), meaning="x",
                remark="x", person=cast.dora, name="x", reference="x", signed_at=lesson.signed_at,
            )  # fmt: skip


@pytest.mark.parametrize("seed", range(8))
def test_leaving_out_what_is_unremarkable_changes_no_finding(
    cast: Cast, monkeypatch: pytest.MonkeyPatch, seed: int
) -> None:
    with guards_off():  # drawn as signed, without the seals that no finding reads
        create_random_lessons(cast, seed)
    paper = cast.cleo.papers.get()
    school_actions.record_paper(
        person=cast.cleo, kind="instructor_certificate", number="C-9", issued=paper.issued,
        expires=cast.today - timedelta(days=90), by=None, at=cast.at(),
    )  # fmt: skip
    school_actions.void_paper(paper=paper, reason="Other", by=cast.frida, at=cast.at())
    quick = findings_today(cast)
    read = []
    monkeypatch.setattr(
        inspection_facts, "filter_candidates", lambda rows, at, policy: read.append(rows.count()) or rows
    )
    assert quick == findings_today(cast)
    assert read == [60]
    assert len({finding.kind for finding in quick}) > 8
