"""The journal page: who did what and when; a student's own; how a lesson was entered."""

import csv
from datetime import timedelta
from io import StringIO
from typing import Any

import pytest
from django.db import connection
from django.test import Client

from grading.actions import recording
from grading.pages.journal import ENTRIES_PER_PAGE, FieldChange, field_changes, filter_entries, read_page, value_words
from lessons import actions as lesson_actions
from school import actions as school_actions
from school import journal
from school.models import JournalEntry
from tests.cast import Cast
from tests.factories import begin_lesson, fly_lesson, record_entries
from tests.shared_state import shared_state


def add_entries(cast: Cast, count: int, **more: Any) -> None:
    for number in range(count):
        at = cast.at(10) + timedelta(minutes=number)
        journal.record(by=cast.frida, at=at, what="paper recorded", subject=cast.dora, **more)


@pytest.mark.parametrize(
    ("before", "after", "changes"),
    [
        (None, {"on": "2026-05-01", "unit": "8: Circuits"}, ["On: 1 May 2026", "Unit: 8: Circuits"]),
        ({"instructor": "Bert"}, {"instructor": "Cleo"}, ["Instructor: Bert → Cleo"]),
        ({"on": "2026-05-01"}, None, ["On: 1 May 2026 → removed"]),
        (None, {"born": None, "topics": ["rules", "aerodrome"]}, ["Topics: rules, aerodrome"]),
        ({"reviewed": None}, {"reviewed": True}, ["Reviewed: nothing → yes"]),
        (None, {"limits": {"max_wind_kt": 12}}, ["Limits: max wind kt 12"]),
        (None, None, []),
    ],
)
def test_what_changed_reads_as_words(before: Any, after: Any, changes: list[str]) -> None:
    assert [change.words for change in field_changes(JournalEntry(before=before, after=after))] == changes


def test_a_change_to_nothing_says_so() -> None:
    assert FieldChange("On", "1 May 2026", None).words == "On: 1 May 2026 → removed"
    assert (value_words(""), value_words(False), value_words(3)) == ("nothing", "no", "3")


def test_pages_follow_each_other_without_a_gap_or_a_double(cast: Cast) -> None:
    """Also where many entries have the same moment."""
    for _ in range(130):
        journal.record(by=cast.frida, at=cast.at(10), what="paper recorded", subject=cast.dora)
    add_entries(cast, 20)
    rows = filter_entries(what="paper recorded")
    seen, mark, pages = [], "", 0
    while True:
        page, mark = read_page(rows, mark)
        seen += [entry.pk for entry in page]
        pages += 1
        if not mark:
            break
    assert seen == list(rows.values_list("pk", flat=True))
    assert pages == -(-len(seen) // ENTRIES_PER_PAGE)
    assert read_page(rows, "no-mark")[0][0].pk == seen[0]


def test_the_last_page_is_known_to_be_the_last(cast: Cast) -> None:
    add_entries(cast, ENTRIES_PER_PAGE)
    rows = filter_entries(what="paper recorded", about=cast.dora.pk)
    assert read_page(rows, "")[1] == ""
    add_entries(cast, 1)
    assert read_page(rows, "")[1] != ""


def test_the_journal_is_asked_by_person_student_day_and_kind(cast: Cast, client: Client) -> None:
    lesson = fly_lesson(cast)
    lesson_actions.change_instructor(enrolment=cast.enrolment, instructor=cast.cleo, by=cast.frida, at=cast.at(13))
    client.force_login(cast.frida)
    text = client.get("/journal/").text
    assert text.index("<b>Student reassigned") < text.index("<b>Lesson signed") < text.index("<b>Lesson begun")
    assert f"/lessons/{lesson.uid}/" in text
    assert f"/students/{cast.enrolment.uid}/" in text
    assert "Bert Example <span" in text
    only = client.get(f"/journal/?by={cast.bert.pk}").text
    assert "Lesson signed" in only
    assert "<b>Student reassigned" not in only
    assert "<b>Enrolled" in client.get("/journal/?about=T-4&what=enrolled").text
    assert "No entry matches" in client.get("/journal/?about=T-5&what=lesson+signed").text
    assert "Which one?" in client.get("/journal/?about=example").text
    assert "Nobody has that name" in client.get("/journal/?about=zzz").text
    today, later = cast.today, cast.today + timedelta(days=1)
    assert "Lesson signed" in client.get(f"/journal/?since={today}&until={today}").text
    assert "No entry matches" in client.get(f"/journal/?since={later}").text
    assert "<b>Person added" in client.get("/journal/?by=system").text


def test_a_wrong_question_is_refused_with_a_sentence(cast: Cast, client: Client) -> None:
    client.force_login(cast.amelia)
    later = cast.today + timedelta(days=1)
    reply = client.get(f"/journal/?since={later}&until={cast.today}")
    assert reply.status_code == 422
    assert "The last day is before the first" in reply.text
    assert client.get("/journal/?by=999999").status_code == 422
    assert client.get("/journal.csv?by=999999").status_code == 422


def test_a_person_who_left_can_still_be_asked_for(cast: Cast, client: Client) -> None:
    fly_lesson(cast)
    cast.bert.is_active = False
    cast.bert.save()
    client.force_login(cast.frida)
    assert "Lesson signed" in client.get(f"/journal/?by={cast.bert.pk}").text


def test_the_file_streams_every_entry(cast: Cast, client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("grading.pages.journal.CSV_CHUNK_SIZE", 7)
    add_entries(cast, 20, after={"number": "=cmd"})
    client.force_login(cast.frida)
    reply = client.get("/journal.csv?what=paper+recorded&about=T-4")
    assert reply.streaming
    rows = list(csv.reader(StringIO(reply.getvalue().decode())))
    assert len(rows) == 21
    assert rows[1][1:] == ["Frida Example", "document added", "Dora Example", "Dora Example", "Number: =cmd"]
    assert rows[1][0].endswith("Z")


def test_a_student_reads_what_was_done_about_them_and_no_more(cast: Cast, client: Client) -> None:
    fly_lesson(cast)
    writing = begin_lesson(cast, 8)
    fly_lesson(cast, enrolment=cast.other_enrolment)
    school_actions.record_paper(person=cast.dora, kind="english", issued=cast.today, by=cast.frida, at=cast.at())
    client.force_login(cast.dora)
    text = client.get("/me/journal/").text
    assert "Document added" in text
    assert "Lesson signed" in text
    assert "Emil" not in text
    assert str(writing.uid) not in text  # not signed yet: a student does not read it
    assert "/students/" not in text
    assert "/me/journal/" in client.get("/me/").text


def test_how_a_lesson_was_entered(cast: Cast, client: Client) -> None:
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"circuit.1.landing.level": "practice"})
    recording.undo_tap(lesson=lesson, by=cast.bert, at=cast.at(11))
    client.force_login(cast.frida)
    text = client.get(f"/lessons/{lesson.uid}/taps/").text
    assert text.count("Circuit 1 landing level") == 2
    assert "undone" in text
    assert f"/lessons/{lesson.uid}/taps/" in client.get(f"/lessons/{lesson.uid}/").text
    signed = fly_lesson(cast)
    client.force_login(cast.dora)
    assert client.get(f"/lessons/{signed.uid}/taps/").status_code == 403
    assert "/taps/" not in client.get(f"/lessons/{signed.uid}/").text


MANY = 40_000


@shared_state
def full_journal(cast: Cast) -> Cast:
    """Entries of two hundred people about six hundred, of forty kinds, one of them rare, five minutes apart."""
    with connection.cursor() as cursor:
        cursor.execute(
            "INSERT INTO school_journalentry (at, person_id, person_name, what, subject_kind, subject_id, about_id,"
            " subject_label) SELECT timestamptz '2020-01-01 00:00Z' + n * interval '5 minutes', n %% 200,"
            " 'Somebody', CASE WHEN n %% 10000 = 7 THEN 'zz rare' ELSE 'act ' || n %% 40 END, 'lessons.lesson', n,"
            " n %% 600, 'Lesson' FROM generate_series(1, %s) n",
            [MANY],
        )
        cursor.execute("ANALYZE school_journalentry")
    return cast


@pytest.mark.parametrize(
    ("asked", "index"),
    [
        ({}, "journal_at"),
        ({"by": "17"}, "journal_person"),
        ({"by": "system"}, "journal_person"),
        ({"about": 33}, "journal_about"),
        ({"what": "zz rare"}, "journal_what"),
        ({"what": "act 3"}, "journal_"),  # a common kind is found as quickly by going back in time
    ],
)
def test_every_question_is_answered_from_an_index(full_journal: Cast, asked: dict[str, Any], index: str) -> None:
    """No sequential scan and no sorting of everything, on the first page and far back."""
    rows = filter_entries(**asked)
    middle = rows.filter(at__year=2020, at__month=3).first()
    deep = rows.older_than(middle.at, middle.pk) if middle else rows
    for question in (rows, deep):
        plan = question[: ENTRIES_PER_PAGE + 1].explain()
        assert index in plan
        assert "Seq Scan" not in plan


def test_a_range_of_days_and_the_kinds_of_act_come_from_an_index(full_journal: Cast) -> None:
    today = full_journal.today.replace(year=2020, month=2, day=1)
    plan = filter_entries(since=today, until=today)[: ENTRIES_PER_PAGE + 1].explain()
    assert "journal_at" in plan
    assert "Seq Scan" not in plan
    acts = JournalEntry.objects.distinct_acts()
    assert acts == sorted(acts)
    assert {"zz rare", "act 3", "enrolled"} <= set(acts)


def test_log_ins_are_left_out_unless_they_are_asked_for(cast: Cast, client: Client) -> None:
    client.force_login(cast.frida)
    journal.record(by=cast.bert, at=cast.at(10), what="logged in", subject=cast.bert)
    journal.record(by=None, at=cast.at(10), what="wrong password", subject=cast.bert)
    add_entries(cast, 1)
    shown = {
        query: {row.entry.what for row in client.get(f"/journal/{query}").context["rows"]}
        for query in ("", "?what=all", "?what=logged+in")
    }
    assert {"wrong password", "paper recorded"} <= shown[""]
    assert "logged in" not in shown[""]
    assert shown["?what=all"] >= shown[""] | {"logged in"}
    assert shown["?what=logged+in"] == {"logged in"}
    assert "Logged in" not in client.get("/journal.csv").getvalue().decode()
    # A student reads all that is stored about them.
    journal.record(by=cast.dora, at=cast.at(11), what="logged in", subject=cast.dora)
    client.force_login(cast.dora)
    assert "Logged in" in client.get("/me/journal/").text
