"""Attacks on the record: refused by the database, or found by the check and named."""

import uuid
from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass
from datetime import timedelta
from io import StringIO
from typing import Any

import pytest
from django.core.management import call_command
from django.db import DatabaseError, transaction
from django.test import Client

from grading.actions import corrections, decisions, endorsements, flight_tracks, sheets, signing, training
from grading.evidence.audit import database_guards
from grading.evidence.audit.check import audit_records, compare_head, run_audit
from grading.evidence.chain import head, link_digest
from grading.evidence.sheet_payload import content_fingerprint
from grading.models import Attempt, FaultSeen, FlightTrack, Grade, Measure, RecordCheck, Release, Seal, Sheet, Signature
from grading.sheets.verification import find_by_fingerprint
from lessons.models import Circuit, Endorsement, Enrolment, KnowledgeTest, Lesson
from tests.app_role import app_role, app_role_rights
from tests.cast import SECRET, Cast
from tests.database_guards import execute_sql, guards_off
from tests.factories import begin_lesson, fly_lesson, record_circuit, record_entries, sign_lesson
from tests.ready_student import make_ready, sign_release
from tests.shared_state import shared_state
from tests.track_files import create_track, tapped_lesson

__all__ = ["app_role_rights"]
pytestmark = pytest.mark.usefixtures("app_role_rights")


@dataclass
class SealedSchool:
    """Seals 1 to 8: two lessons, the student's signature, a correction, a test, its review, an endorsement, an end."""

    cast: Cast
    first: Lesson
    second: Lesson
    corrected: Lesson
    endorsement: Endorsement
    test: KnowledgeTest


@shared_state
def world(cast: Cast) -> SealedSchool:
    first = begin_lesson(cast, 8, 9)
    record_entries(cast, first, **{"lesson.dual_minutes": "1.0", "lesson.remarks": "Steady on final."})
    record_circuit(cast, first, 1, **{"approach.measure.final.speed": "70", "landing.fault.bounced": "on"})
    record_circuit(cast, first, 2)
    sign_lesson(cast, first, 9)
    second = fly_lesson(cast, 2, days_ago=8)
    signing.acknowledge_lesson(lesson=first, secret=SECRET, by=cast.dora, at=cast.at(12, 9), drawn="[[[1,2],[30,40]]]")
    corrected = corrections.begin_correction(lesson=second, reason="Wrong day", by=cast.bert, at=cast.at(12, 7))
    sign_lesson(cast, corrected, 7)
    test = training.record_written_test(
        enrolment=cast.enrolment, aircraft_type=cast.type, taken_on=cast.at().date() - timedelta(days=6),
        topics=["rules"], questions=20, wrong=2, reviewed_on=None, given_by=cast.bert, by=cast.bert, at=cast.at(9, 6),
    )  # fmt: skip
    test = training.review_test(test=test, on=cast.today - timedelta(days=5), by=cast.cleo, at=cast.at(9, 5))
    endorsement = endorsements.endorse_for_tailwheel(
        enrolment=cast.enrolment, text="Proficient.", on=cast.today, secret=SECRET, by=cast.bert, at=cast.at(13)
    )
    training.end_training(enrolment=cast.other_enrolment, on=cast.today, end="terminated", by=cast.frida, at=cast.at())
    training.certify_end(enrolment=cast.other_enrolment, secret=SECRET, by=cast.amelia, at=cast.at(14))
    first.refresh_from_db()
    return SealedSchool(cast, first, second, corrected, endorsement, test)


def check_findings() -> list[str]:
    return [str(finding) for finding in audit_records().findings]


def test_an_honest_record_has_no_finding(world: SealedSchool) -> None:
    assert check_findings() == []
    assert [row.kind for row in Seal.objects.order_by("number")] == [
        "lesson", "lesson", "acknowledgement", "lesson", "test", "review", "endorsement", "end",
    ]  # fmt: skip
    with app_role():
        assert database_guards.role_findings() == []
        kept = run_audit(by=None, at=world.cast.at(20))
    assert (kept.found, kept.seals, kept.head) == (0, 8, head().digest)  # type: ignore[union-attr]


# Refused, as the application's role and in a careless session of the owner alike

REFUSED = {
    "a grade is raised": "UPDATE grading_grade SET given = 'perform', given_step = 'perform'",
    "a grade is removed": "DELETE FROM grading_grade",
    "a lesson is un-signed": "UPDATE lessons_lesson SET signed_at = NULL, signed_by_id = NULL",
    "a lesson is removed": "DELETE FROM lessons_lesson",
    "a superseded version is changed": "UPDATE lessons_lesson SET remarks = 'x' WHERE version = 1",
    "a measure is added to a signed attempt": (
        "INSERT INTO grading_measure (attempt_id, target_id, value, unit) SELECT a.id, t.id, 60, '' FROM"
        " grading_attempt a, lessons_gatetarget t LIMIT 1"
    ),
    "an endorsement is back-dated": "UPDATE lessons_endorsement SET given_on = given_on - 100",
    "an endorsement is removed": "DELETE FROM lessons_endorsement",
    "a test loses its wrong answers": "UPDATE lessons_knowledgetest SET wrong = 0",
    "a review is dated otherwise": "UPDATE lessons_knowledgetest SET reviewed_on = taken_on",
    "a student is exchanged": (
        "UPDATE lessons_enrolment SET student_id = (SELECT id FROM school_person WHERE username = 'frida')"
    ),
    "the date of enrolment is moved": "UPDATE lessons_enrolment SET enrolled_on = enrolled_on - 1",
    "an ended training is opened again": (
        "UPDATE lessons_enrolment SET ended_on = NULL, \"end\" = '' WHERE ended_on IS NOT NULL"
    ),
    "an enrolment is removed": "DELETE FROM lessons_enrolment",
    "a paper is lengthened": "UPDATE school_paper SET recent_experience_until = '2099-01-01'",
    "a paper is removed": "DELETE FROM school_paper",
    "a signature is renamed": "UPDATE grading_signature SET name = 'Another'",
    "a seal is edited": "UPDATE grading_seal SET canonical = '{}'",
    "a seal is removed": "DELETE FROM grading_seal WHERE number = 2",
    "a journal row is removed": "DELETE FROM school_journalentry",
    "a check is forgotten": "DELETE FROM grading_recordcheck",
    "a check is embellished": "UPDATE grading_recordcheck SET found = 7",
}
EMPTIED = (
    "grading_seal", "grading_signature", "grading_recordcheck", "school_journalentry", "school_paper",
    "lessons_lesson", "lessons_endorsement", "lessons_knowledgetest", "lessons_enrolment",
)  # fmt: skip


def database_refusal(statement: str) -> str:
    """What the database answers; empty when it did as it was told."""
    try:
        with transaction.atomic():
            execute_sql(statement)
    except DatabaseError as error:
        return str(error).splitlines()[0]
    return ""


@pytest.mark.parametrize("role", [app_role, nullcontext], ids=["the application", "a careless owner"])
def test_the_database_refuses(world: SealedSchool, role: Callable[[], AbstractContextManager[None]]) -> None:
    run_audit(by=None, at=world.cast.at(20))
    execute_sql("SET CONSTRAINTS ALL IMMEDIATE")
    with role():
        answers = {attack: database_refusal(statement) for attack, statement in REFUSED.items()}
        emptied = {table: database_refusal(f"TRUNCATE {table} CASCADE") for table in EMPTIED}
        assert (
            database_refusal("UPDATE lessons_enrolment SET instructor_id = instructor_id WHERE ended_on IS NULL") == ""
        )
    said = ("the record is final", "the lesson is signed")
    assert {attack: answer for attack, answer in answers.items() if not answer.startswith(said)} == {}
    denied = "permission denied for table" if role is app_role else "the record is final: no TRUNCATE"
    assert {table: answer for table, answer in emptied.items() if not answer.startswith(denied)} == {}
    assert check_findings() == []


def test_the_orm_changes_no_grade(world: SealedSchool) -> None:
    with pytest.raises(DatabaseError, match="signed"), transaction.atomic():
        Grade.objects.update(given="perform")
    grade = Grade.objects.filter(lesson=world.first).first()
    assert grade is not None
    grade.given = "perform"
    with pytest.raises(DatabaseError, match="signed"), transaction.atomic():
        grade.save()


def test_a_lesson_does_not_become_signed_without_its_seal(world: SealedSchool) -> None:
    lesson = begin_lesson(world.cast)
    signed = f"signed_at = '{world.cast.at()}', signed_by_id = instructor_id"
    answer = database_refusal(
        f"UPDATE lessons_lesson SET {signed} WHERE id = {lesson.pk}; SET CONSTRAINTS ALL IMMEDIATE"
    )
    assert answer == f"lesson {lesson.uid} counts as signed and has no seal"


# Done by the owner of the tables with the guards off, then found and named

Attack = Callable[[SealedSchool], Any]


def seal_text(number: int) -> str:
    return Seal.objects.get(number=number).canonical


def remove_lesson(lesson: Lesson) -> None:
    Signature.objects.filter(lesson=lesson).delete()
    for part in (Grade, Attempt, Circuit):
        part.objects.filter(lesson=lesson).delete()
    Lesson.objects.filter(pk=lesson.pk).delete()


def swap_subjects(world: SealedSchool) -> None:
    one, other = world.first.uid, world.second.uid
    rows = Seal.objects.filter(kind="lesson")
    rows.filter(subject=one).update(subject=world.endorsement.uid)
    rows.filter(subject=other).update(subject=one)
    rows.filter(subject=world.endorsement.uid).update(subject=other)


def swap_texts(world: SealedSchool) -> None:
    first, second = seal_text(1), seal_text(2)
    Seal.objects.filter(number=1).update(canonical=second)
    Seal.objects.filter(number=2).update(canonical=first)


def swap_remarks(world: SealedSchool) -> None:
    Lesson.objects.filter(pk=world.second.pk).update(remarks=world.first.remarks)
    Lesson.objects.filter(pk=world.first.pk).update(remarks="")


def add_measure(world: SealedSchool) -> None:
    measured = Measure.objects.get()
    other = measured.target.gate.targets.exclude(pk=measured.target_id).first()
    Measure.objects.create(attempt=measured.attempt, target=other or measured.target, value=10)


def landing(world: SealedSchool) -> Any:
    return Attempt.objects.filter(lesson=world.first, circuit__number=2, part="landing")


ATTACKS: dict[str, tuple[Attack, str]] = {
    "a level is lowered": (
        lambda w: landing(w).update(level="practice"),
        "seal 1: lesson 1 of Dora Example: circuits[1].landing.level was perform, is practice",
    ),
    "a grade is changed": (
        lambda w: Grade.objects.filter(lesson=w.first).update(given="explain"),
        "seal 1: lesson 1 of Dora Example: grades[0].given was perform, is explain",
    ),
    "a measure is added": (
        add_measure,
        "seal 1: lesson 1 of Dora Example: circuits[0].approach.measures had 1 entries, has 2",
    ),
    "a fault is forgotten": (
        lambda w: FaultSeen.objects.filter(attempt__lesson=w.first).delete(),
        "seal 1: lesson 1 of Dora Example: circuits[0].landing.faults had 1 entries, has 0",
    ),
    "a circuit gets a part": (
        lambda w: Attempt.objects.create(
            lesson=w.first, circuit=Circuit.objects.get(lesson=w.first, number=1), part="go_around",
            manoeuvre=landing(w).get().manoeuvre, level="perform",
        ),
        "seal 1: lesson 1 of Dora Example: circuits[0].go_around was not there, is {",
    ),
    "hours are added": (
        lambda w: Lesson.objects.filter(pk=w.first.pk).update(dual_minutes=90),
        "seal 1: lesson 1 of Dora Example: minutes.dual was 60, is 90",
    ),
    "a superseded version is changed": (
        lambda w: Lesson.objects.filter(pk=w.second.pk).update(remarks="better"),
        "seal 2: lesson 2 of Dora Example: remarks was empty, is better",
    ),
    "the remarks of two lessons are swapped": (
        swap_remarks,
        "seal 1: lesson 1 of Dora Example: remarks was Steady on final., is empty",
    ),
    "a lesson is un-signed": (
        lambda w: Lesson.objects.filter(pk=w.first.pk).update(signed_at=None, signed_by=None),
        "Lesson 1 of Dora Example: it was un-signed, though Bert Example signed it",
    ),
    "a lesson is signed at another time": (
        lambda w: Lesson.objects.filter(pk=w.first.pk).update(signed_at=w.cast.at(8, 9)),
        "Lesson 1 of Dora Example: it is signed otherwise than the signature of Bert Example says",
    ),
    "a signature gets another name": (
        lambda w: Signature.objects.filter(lesson=w.first, capacity="student").update(name="Emil Example"),
        "seal 3: student's signature: signature.name was Dora Example, is Emil Example",
    ),
    "a drawn signature is exchanged": (
        lambda w: Signature.objects.filter(lesson=w.first, capacity="student").update(drawn="[[[9,9]]]"),
        "seal 3: student's signature: signature.drawn was [[[1,2],[30,40]]], is [[[9,9]]]",
    ),
    "a refusal is made of a signature": (
        lambda w: Signature.objects.filter(lesson=w.first, capacity="student").update(act="refused", remark="x"),
        "seal 3: student's signature: signature.act was signed, is refused",
    ),
    "a record is removed and its seal kept": (
        lambda w: remove_lesson(w.first),
        "seal 1: lesson 1 of Dora Example: the record itself is gone",
    ),
    "the text of a seal is edited": (
        lambda w: Seal.objects.filter(number=1).update(canonical=seal_text(1).replace("perform", "explain")),
        "seal 1: its text was altered after sealing",
    ),
    "the text of a seal is emptied": (
        lambda w: Seal.objects.filter(number=5).update(canonical=""),
        "seal 5: its text is empty, and no later erasure names it",
    ),
    "the texts of two seals are swapped": (swap_texts, "seal 1: its text was altered after sealing"),
    "two records swap their seals": (swap_subjects, "seal 1: lesson 1 of Dora Example: circuits[0].approach."),
    "a seal in the middle is removed": (
        lambda w: Seal.objects.filter(number=2).delete(),
        "seal 2: seal 2 is missing: the next one found is 3",
    ),
    "the last seal is removed": (
        lambda w: Seal.objects.filter(number=8).delete(),
        "Emil Example, ",
    ),
    "a seal is dated otherwise": (
        lambda w: Seal.objects.filter(number=1).update(sealed_at=w.cast.at(11, 30)),
        "seal 1: lesson 1 of Dora Example: it is dated ",
    ),
    "an endorsement is back-dated": (
        lambda w: Endorsement.objects.update(given_on=w.cast.today - timedelta(days=99)),
        "seal 7: endorsement of Dora Example: given_on was ",
    ),
    "an endorsement is withdrawn without a seal": (
        lambda w: Endorsement.objects.update(
            withdrawn_at=w.cast.at(), withdrawn_by=w.cast.cleo, withdrawal_reason="x"
        ),
        "tailwheel aeroplanes endorsement of Dora Example (withdrawal of an endorsement): it has no seal",
    ),
    "a test is bettered": (
        lambda w: KnowledgeTest.objects.update(wrong=0),
        "seal 5: written test of Dora Example: wrong was 2, is 0",
    ),
    "a review is ascribed to another": (
        lambda w: KnowledgeTest.objects.update(reviewed_by=w.cast.bert),
        "seal 6: review of a written test: by.reference was T-3, is T-2",
    ),
    "an end is called otherwise": (
        lambda w: Enrolment.objects.filter(pk=w.cast.other_enrolment.pk).update(end="completed"),
        "seal 8: end of training of Emil Example: end was terminated, is completed",
    ),
    "a lesson is smuggled into a certified record": (
        lambda w: Lesson.objects.filter(pk=w.first.pk).update(enrolment=w.cast.other_enrolment),
        "seal 1: lesson 1 of Dora Example: enrolment was ",
    ),
}  # fmt: skip


@pytest.mark.parametrize("attack", ATTACKS)
def test_the_check_finds_and_names(world: SealedSchool, attack: str) -> None:
    act, sentence = ATTACKS[attack]
    with guards_off():
        act(world)
    sentences = check_findings()
    assert sentences[0].startswith(sentence), sentences
    errors = StringIO()
    with pytest.raises(SystemExit) as left:
        call_command("check_records", stderr=errors)
    assert left.value.code == 1
    assert errors.getvalue().startswith(sentences[0])


def test_the_limits_of_a_release_are_widened(cast: Cast) -> None:
    make_ready(cast)
    sign_release(cast)
    with pytest.raises(DatabaseError, match="final"), transaction.atomic(), app_role():
        Release.objects.update(max_wind_kt=40)
    assert check_findings() == []
    with guards_off():
        Release.objects.update(max_wind_kt=40, min_visibility_sm=3)
    sentences = check_findings()
    assert [line.split(": ", 2)[2] for line in sentences] == [
        "limits.max_wind_kt was 12, is 40", "limits.min_visibility_sm was 5, is 3.0",
    ]  # fmt: skip


def test_a_confirmed_withdrawal_is_forgotten_or_invented(cast: Cast) -> None:
    make_ready(cast)
    release = sign_release(cast)
    decisions.withdraw_release(release=release, reason="Bounced", by=cast.bert, at=cast.at(16))
    decisions.confirm_withdrawal(release=release, by=cast.dora, at=cast.at(17))
    assert check_findings() == []
    with guards_off():
        Release.objects.update(withdrawal_read_at=None)
    assert ["student's confirmation of a withdrawal" in line for line in check_findings()] == [True]
    with guards_off():
        Release.objects.update(withdrawal_read_at=cast.at(18))
    (found,) = check_findings()
    assert ": at was " in found


def test_readings_of_a_track_are_altered_forgotten_or_come_back(cast: Cast) -> None:
    lesson = tapped_lesson(cast)
    track = create_track(cast, lesson)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0"})
    sign_lesson(cast, lesson)
    assert check_findings() == []
    rows = FlightTrack.objects.filter(pk=track.pk)
    circuits = rows.get().circuits
    with guards_off():
        rows.update(circuits=[circuits[0] | {"readings": [circuits[0]["readings"][0] | {"value": 640.0}]}])
    (found,) = check_findings()
    assert "flight track of Dora Example: circuits[0].readings[0].value was 712, is 640.0" in found
    with guards_off():
        rows.update(circuits=circuits, sha256="1" * 64)
    assert [line.split(": ", 2)[2][:12] for line in check_findings()] == ["tracks[0].fi", "file was 000"]
    with guards_off():
        rows.update(sha256="0" * 64)
    track = rows.get()
    flight_tracks.remove_track(track=track, by=cast.dora, at=cast.at(16))
    assert check_findings() == []
    with guards_off():
        rows.update(removed_at=None, removed_by=None)
    assert ["removal of a flight track: the record itself is gone" in line for line in check_findings()] == [True]
    with guards_off():
        rows.delete()
    assert any("flight track of Dora Example: the record itself is gone" in line for line in check_findings())


def test_a_track_that_was_put_in_past_the_application_has_no_seal(cast: Cast) -> None:
    lesson = tapped_lesson(cast)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0"})
    sign_lesson(cast, lesson)
    track = create_track(cast, lesson)
    with guards_off():
        FlightTrack.objects.filter(pk=track.pk).update(uid=uuid.uuid4())
    assert any(line.endswith("(flight track): it has no seal") for line in check_findings())


# What only paper and earlier checks can tell


def print_sheet(world: SealedSchool) -> Sheet:
    cast = world.cast
    return sheets.print_progress_sheet(
        enrolment=cast.enrolment, on=cast.today, paper="A4", by=cast.frida, at=cast.at(17)
    )


def rewrite_chain_from(number: int) -> None:
    """Every digest anew, as whoever owns the tables can compute them."""
    previous = Seal.objects.get(number=number - 1).digest if number > 1 else ""
    for link in Seal.objects.filter(number__gte=number).order_by("number"):
        digest = link_digest(previous, link.canonical)
        Seal.objects.filter(number=link.number).update(previous=previous, digest=digest)
        previous = digest


def test_the_last_record_and_its_seal_are_removed(world: SealedSchool) -> None:
    run_audit(by=None, at=world.cast.at(16))
    with guards_off():
        Signature.objects.filter(enrolment=world.cast.other_enrolment).delete()
        Seal.objects.filter(number=8).delete()
    assert check_findings() == [
        f"seal 8: it is gone, though the check of {world.cast.at(16):%Y-%m-%d %H:%M} UTC says it was there"
    ]


def test_the_last_record_is_a_sheet_and_the_paper_contradicts_its_removal(world: SealedSchool) -> None:
    first, second = print_sheet(world), print_sheet(world)
    number, digest = second.content["head"]["number"], second.content["head"]["digest"]
    assert number == Seal.objects.get(subject=first.uid).number
    in_fours = " ".join(digest[place : place + 4] for place in range(0, 64, 4))
    assert compare_head(number, in_fours) is None
    said = StringIO()
    call_command("check_records", "--head", str(number), *in_fours.split(), stdout=said)
    assert said.getvalue() == f"Seal {number} is in the chain as the paper says.\n"
    with guards_off():
        Sheet.objects.all().delete()
        Seal.objects.filter(number__gte=number).delete()
    assert check_findings() == []
    assert (
        find_by_fingerprint(content_fingerprint(second.content)) is None
    )  # what is printed on it leads nowhere any more
    assert "records were removed" in (compare_head(number, digest) or "")
    with pytest.raises(SystemExit) as left:
        call_command("check_records", "--head", str(number), digest, stderr=StringIO())
    assert left.value.code == 1


def test_a_chain_written_anew_contradicts_the_printed_head(world: SealedSchool) -> None:
    sheet = print_sheet(world)
    seen = sheet.content["head"]
    with guards_off():
        landing(world).update(level="explain")
        was = (
            '"landing":{"by_closing":false,"counted":"perform","criteria":{},"faults":[],"help":"none","kept":"",'
            '"level":"perform"'
        )
        now = '"level":"explain"'
        text = seal_text(1).replace(was, was.replace('"level":"perform"', now))
        Seal.objects.filter(number=1).update(canonical=text)
        rewrite_chain_from(1)
    sentences = check_findings()
    assert any(line.startswith(f"seal {seen['number']}: the progress sheet 1") for line in sentences), sentences
    with guards_off():  # the stored sheet is made to fit as well
        now_there = Seal.objects.get(number=seen["number"]).digest
        content = sheet.content | {"head": seen | {"digest": now_there}}
        Sheet.objects.update(content=content)
    assert not any("the progress sheet 1" in line for line in check_findings())
    assert "records were changed" in (compare_head(seen["number"], seen["digest"]) or "")


def test_the_bytes_of_a_sheet_are_exchanged(world: SealedSchool) -> None:
    print_sheet(world)
    assert check_findings() == []
    with guards_off():
        Sheet.objects.update(pdf=b"%PDF-1.7 another")
    assert check_findings() == ["Progress sheet 1 of Dora Example: its bytes are not those that were printed"]


def test_a_sheet_without_a_head_is_counted_and_said(world: SealedSchool) -> None:
    sheet = print_sheet(world)
    with guards_off():
        Sheet.objects.update(content={key: value for key, value in sheet.content.items() if key != "head"})
    report = audit_records()
    assert ["fingerprint was" in finding.words for finding in report.findings] == [True]
    assert report.notes[:1] == ["1 printed sheets carry no head of the chain: they bear no witness to it."]


def test_guards_that_are_switched_off_and_an_owner_at_work_are_findings(world: SealedSchool) -> None:
    assert database_guards.guard_findings() == []
    execute_sql("SET CONSTRAINTS ALL IMMEDIATE")
    execute_sql("ALTER TABLE grading_seal DISABLE TRIGGER grading_seal_is_final")
    execute_sql("DROP TRIGGER school_paper_is_kept ON school_paper")
    assert database_guards.guard_findings() == [
        "The guard of the table school_paper is switched off: its rows can be changed.",
        "The guard of the table grading_seal is switched off: its rows can be changed.",
    ]
    assert "runs as the owner" in database_guards.role_findings()[0]
    execute_sql("GRANT TRUNCATE ON grading_tap TO record_app")
    with app_role():
        assert database_guards.role_findings() == [
            "The application may empty grading_tap: take the right to TRUNCATE from its role."
        ]


def test_the_check_is_kept_with_what_it_found(world: SealedSchool) -> None:
    with guards_off():
        landing(world).update(level="practice")
    with app_role():
        run_audit(by=world.cast.frida, at=world.cast.at(20))
    kept = RecordCheck.objects.get()
    assert (kept.found, kept.by) == (2, world.cast.frida)  # the level, and the step that has its name
    assert kept.findings[0] == "seal 1: lesson 1 of Dora Example: circuits[1].landing.level was perform, is practice"


def test_an_audit_sees_what_changed_since_this_process_read_it(world: SealedSchool) -> None:
    """An audit reads published rows again, and so do the pages after it."""
    assert not audit_records().findings
    unit = Lesson.objects.for_pages().get(pk=world.first.pk).unit
    client = Client()
    client.force_login(world.cast.amelia)
    assert unit.title in client.get(f"/lessons/{world.first.uid}/").text
    with guards_off():
        execute_sql("UPDATE lessons_unit SET title = 'Another title' WHERE id = %s", unit.pk)
    first = audit_records().first
    assert first is not None
    assert "Another title" in first.words
    assert "Another title" in client.get(f"/lessons/{world.first.uid}/").text
