"""A discarded lesson leaves everything but its place among lessons; no entry of any lesson goes another way."""

import uuid

import pytest
from django.db import DatabaseError, transaction
from django.test import Client

from grading.actions import corrections, discarding, recording
from grading.evidence.audit.check import audit_records
from grading.models import Attempt, DeviceEvent, Seal, Tap
from grading.reading.inspection_facts import collect_findings
from lessons.models import DiscardedLesson, Enrolment, Lesson
from school.errors import Refusal
from school.models import JournalEntry
from tests.app_role import app_role, app_role_rights
from tests.cast import Cast
from tests.database_guards import execute_sql, guards_off
from tests.factories import begin_lesson, fly_lesson, record_entries

__all__ = ["app_role_rights"]


def written_lesson(cast: Cast) -> Lesson:
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"circuit.1.landing.level": "practice", "circuit.1.landing.fault.bounced": "on"})
    recording.undo_tap(lesson=lesson, by=cast.bert, at=cast.at(10, 0))
    DeviceEvent.objects.create(
        uid=uuid.uuid4(), lesson=lesson, person=cast.bert, device=uuid.uuid4(), sequence=3, kind="entry",
        field="lesson.dual_minutes", value="nine", outcome="refused", said="That is no time.", at=cast.at(10),
    )  # fmt: skip
    return lesson


def discard(cast: Cast, lesson: Lesson, reason: str = "Wrong student") -> DiscardedLesson:
    return discarding.discard_lesson(lesson=lesson, reason=reason, by=cast.bert, at=cast.at(12))


def test_number_entries_and_reason_stay_and_are_sealed(cast: Cast) -> None:
    lesson = written_lesson(cast)
    taps = list(Tap.objects.filter(lesson=lesson).order_by("pk").values_list("field", "before", "after"))
    discarded = discard(cast, lesson)
    assert not Lesson.objects.filter(uid=lesson.uid).exists()
    assert not Attempt.objects.exists()
    assert (discarded.uid, discarded.number, discarded.on) == (lesson.uid, 1, lesson.on)
    entries = [row for row in discarded.entries if not row["refused"]]
    assert [(row["field"], row["before"], row["after"]) for row in entries] == taps
    assert [bool(row["undoes"]) for row in entries] == [False, False, True]
    refused = [(row["after"], row["refused"]) for row in discarded.entries if row["refused"]]
    assert refused == [("nine", "That is no time.")]
    seal = Seal.objects.get(kind="discarded")
    assert seal.subject == lesson.uid
    assert "Wrong student" in seal.canonical
    assert audit_records().findings == []
    # Its number is not given again.
    assert begin_lesson(cast).number == 2


def test_a_reason_is_asked_for_and_a_signed_lesson_stays(cast: Cast) -> None:
    lesson = written_lesson(cast)
    with pytest.raises(Refusal, match="Write why this lesson is discarded"):
        discard(cast, lesson, "  ")
    with pytest.raises(Refusal, match="Only the instructor"):
        discarding.discard_lesson(lesson=lesson, reason="Mine", by=cast.amelia, at=cast.at(12))
    assert Tap.objects.filter(lesson=lesson).count() == 3
    with pytest.raises(Refusal, match="final and cannot be discarded"):
        discard(cast, fly_lesson(cast))


REFUSED = {
    "an entry is changed": "UPDATE grading_tap SET after = 'perform'",
    "an entry is removed": "DELETE FROM grading_tap",
    "what a tablet sent is removed": "DELETE FROM grading_deviceevent",
    "a lesson without entries is removed": "DELETE FROM lessons_lesson WHERE number = 3",
    "a lesson gets another number": "UPDATE lessons_lesson SET number = 9",
    "a lesson goes to another student": (
        "UPDATE lessons_lesson SET enrolment_id = (SELECT max(id) FROM lessons_enrolment)"
    ),
    "a lesson goes to another instructor": (
        "UPDATE lessons_lesson SET instructor_id = (SELECT id FROM school_person WHERE username = 'cleo')"
    ),
    "the setting of the function is set by hand": (
        "SELECT set_config('record.discarding', 'on', true); DELETE FROM grading_tap"
    ),
    "a discarded lesson is removed": "DELETE FROM lessons_discardedlesson",
    "a reason is changed": "UPDATE lessons_discardedlesson SET reason = 'x'",
}


@pytest.mark.usefixtures("app_role_rights")
@pytest.mark.parametrize("attack", REFUSED)
def test_the_database_refuses_to_the_application(cast: Cast, attack: str) -> None:
    discard(cast, written_lesson(cast))
    written_lesson(cast)
    begin_lesson(cast)
    execute_sql("SET CONSTRAINTS ALL IMMEDIATE")
    with (
        pytest.raises(DatabaseError, match=r"final|discarded by|keeps its|permission denied"),
        transaction.atomic(),
        app_role(),
    ):
        execute_sql(REFUSED[attack])
    assert Tap.objects.count() == 3


@pytest.mark.usefixtures("app_role_rights")
def test_the_application_discards_by_the_function_and_not_without_a_seal(cast: Cast) -> None:
    lesson = written_lesson(cast)
    with app_role():
        discard(cast, lesson)
    other = written_lesson(cast)
    quietly = f"SELECT discard_lesson({other.pk}, 'quietly', {cast.bert.pk}, now()); SET CONSTRAINTS ALL IMMEDIATE"
    with pytest.raises(DatabaseError, match="is discarded and has no seal"), transaction.atomic(), app_role():
        execute_sql(quietly)
    assert Lesson.objects.filter(pk=other.pk).exists()


def test_the_chief_finds_it_and_the_student_reads_it(cast: Cast, client: Client) -> None:
    lesson = written_lesson(cast)
    discard(cast, lesson)
    discard(cast, begin_lesson(cast), "Rain")
    rows = [row for row in collect_findings([cast.enrolment], cast.at(13)) if row.kind == "discarded"]
    assert [(row.weight, row.corrector) for row in rows] == [("odd", "chief instructor"), ("note", "chief instructor")]
    assert rows[0].sentence == "Lesson 1: discarded by Bert Example after 4 entries. Reason: Wrong student"
    whole = collect_findings(Enrolment.objects.for_pages(), cast.at(13), whole_school=True)
    assert sum(row.kind == "discarded" for row in whole) == 2
    client.force_login(cast.dora)
    journal = client.get("/me/journal/").text
    assert "Lesson discarded" in journal
    assert f"/lessons/discarded/{lesson.uid}/" in journal
    page = client.get(f"/lessons/discarded/{lesson.uid}/").text
    assert "Wrong student" in page
    assert "Circuit 1 landing level" in page
    client.force_login(cast.emil)
    assert client.get(f"/lessons/discarded/{lesson.uid}/").status_code == 404
    client.force_login(cast.frida)
    assert "Discarded before they were signed" in client.get(f"/records/{cast.enrolment.uid}/").text


def test_the_page_asks_for_the_reason(cast: Cast, client: Client) -> None:
    lesson = written_lesson(cast)
    client.force_login(cast.bert)
    refused = client.post(f"/lessons/{lesson.uid}/discard/", {"reason": ""})
    assert refused.status_code == 422
    assert "Write why this lesson is discarded" in refused.text
    assert client.post(f"/lessons/{lesson.uid}/discard/", {"reason": "Wrong student"}).status_code == 302
    assert JournalEntry.objects.get(what="lesson discarded").after["reason"] == "Wrong student"


def test_a_discarded_correction_leaves_its_version(cast: Cast) -> None:
    signed = fly_lesson(cast, days_ago=2)
    version = corrections.begin_correction(lesson=signed, reason="The wind", by=cast.bert, at=cast.at())
    discarded = discard(cast, version)
    assert (discarded.number, discarded.version) == (signed.number, 2)
    again = corrections.begin_correction(lesson=signed, reason="The wind", by=cast.bert, at=cast.at())
    assert again.version == 2
    assert audit_records().findings == []


def test_a_changed_entry_of_a_discarded_lesson_is_found(cast: Cast) -> None:
    discard(cast, written_lesson(cast))
    with guards_off():
        DiscardedLesson.objects.update(reason="None")
    assert [str(row) for row in audit_records().findings] == [
        "seal 1: discarded lesson 1 of Dora Example: reason was Wrong student, is None"
    ]
