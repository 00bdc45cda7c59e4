"""The demo school shows every state of every page, and is the same every time."""

from collections import Counter
from datetime import date
from typing import Any

from grading.evidence.audit.check import audit_records
from grading.evidence.chain import first_broken_link, iterate_chain
from grading.models import FlightTrack, Measure, Seal
from grading.reading.inspection_facts import collect_findings
from grading.reading.student_summary import summarise_students
from grading.simulation.demo.demo_people import LEARNERS, Learner
from grading.simulation.demo.demo_school import utc_datetime
from grading.simulation.demo.flying import Pilot, SimulatedAttempt
from grading.simulation.demo.stored_school import STORED_SCHOOL, load_school
from lessons.earlier_training import credit_carried_forward
from lessons.models import EarlierTraining, Enrolment, Lesson
from school.models import Aircraft, Person, Role

TODAY = date(2026, 6, 11)


def test_the_demo_school(new_sequences: None, settings: Any) -> None:
    settings.SEAL_WAITING_SECONDS = 300  # as on a server: all lives are told in the order of their moments
    load_school(STORED_SCHOOL, TODAY)  # that the actions build the same, test_stored_school.py holds
    rows = {
        row.enrolment.student.given_name: row for row in summarise_students(list(Enrolment.objects.for_pages()), TODAY)
    }
    assert len(rows) == 15
    assert Aircraft.objects.count() == 4
    assert [Person.objects.active_with_role(role).count() for role in (Role.INSTRUCTOR, Role.CHIEF, Role.ADMIN)] == [
        4,
        1,
        1,
    ]
    assert {row.group for row in rows.values()} == {"decision", "before", "released", "paper"}
    assert rows["Wen"].group == "decision"
    assert rows["Marit"].group == "released"
    assert {name: rows[name].status.phase for name in ("Marit", "Kofi", "Runa")} == {
        "Marit": "released", "Kofi": "withdrawn", "Runa": "expiring",
    }  # fmt: skip
    assert rows["Kofi"].status.is_unconfirmed
    assert rows["Oda"].lapsed_papers
    assert rows["Ada"].last_flown
    assert (TODAY - rows["Ada"].last_flown).days > 14
    assert not any(progress.met for progress in rows["Jonas"].progress.values())
    assert rows["Mirela"].enrolment.instructor.given_name == "Salma"
    assert Lesson.objects.unsigned().count() == 1
    assert first_broken_link(iterate_chain()) is None
    assert [str(finding) for finding in audit_records().findings] == []
    findings = collect_findings(Enrolment.objects.for_pages(), utc_datetime(TODAY, 9), whole_school=True)
    assert {row.kind for row in findings} == {"no_block_times", "signed_late", "student_waits", "no_papers"}
    assert 4 <= len(findings) <= 12
    assert Lesson.objects.filter(version=2).signed().count() == 1
    assert rows["Pavel"].enrolment.end == "transferred"
    assert Seal.objects.filter(kind="end").count() == 1
    assert Seal.objects.count() > 200
    assert Measure.objects.count() > 300
    assert_tracks()
    theo = rows["Theo"]
    assert [row.unit.number for row in theo.course.credited] == [1]
    assert theo.course.current_unit.number == 2
    assert theo.history.lessons == ()
    assert EarlierTraining.objects.filter(student=theo.enrolment.student).count() == 4
    assert credit_carried_forward(theo.enrolment, TODAY)["dual_minutes"] == 210
    assert theo.progress["landing"].words == "0 of 1 so far, 1 brought forward"


def assert_tracks() -> None:
    """Tracks of several lessons: matched, one with numbers entered from it, an unsure ending, an untapped circuit."""
    tracks = list(FlightTrack.objects.select_related("lesson").order_by("first_at"))
    assert len(tracks) == 6
    assert {track.lesson.is_signed for track in tracks} == {True, False}
    circuits = [row for track in tracks for row in track.circuits]
    assert Counter(row["ended"] for row in circuits).keys() >= {"full_stop", "touch_and_go", "go_around", "unsure"}
    (untapped,) = (row for row in circuits if row["number"] is None)
    assert untapped in tracks[-1].circuits
    for track in tracks:
        numbers = [row["number"] for row in track.circuits if row["number"]]
        assert numbers == list(range(1, track.lesson.circuits.count() + 1))
    entered = Measure.objects.exclude(uncertainty=None)
    assert set(entered.values_list("attempt__lesson", flat=True)) == {tracks[-1].lesson_id}


def test_a_student_learns_the_same_way_every_time_and_not_like_another() -> None:
    def life(learner: Learner) -> list[tuple[SimulatedAttempt, str]]:
        pilot = Pilot(learner)
        return [(pilot.attempt(), pilot.ending("full_stop")) for _ in range(60)]

    first, second = LEARNERS[3], LEARNERS[4]
    assert life(first) == life(first)
    assert life(first) != life(second)
