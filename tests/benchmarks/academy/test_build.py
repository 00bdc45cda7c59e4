"""The synthetic academy: as good a record as one that went through the actions, and the same every time."""

from datetime import date
from io import StringIO

import pytest
import rfc8785
from django.core.management import call_command
from django.db import transaction
from django.db.models import F

from grading.evidence import chain, lesson_payload
from grading.evidence.audit.check import audit_records
from grading.evidence.audit.database_guards import guard_findings
from grading.evidence.chain import first_broken_link, iterate_chain
from grading.models import Attempt, FaultSeen, Measure, Release, Seal, Signature, StoredVerdict, Tap
from grading.reading import grade_lines
from grading.reading.facts import facts_for_all
from grading.reading.release_limits import release_breaches
from lessons.models import Circuit, Enrolment, Lesson
from lessons.queries import instructor_excesses
from school.models import JournalEntry, Paper, Person, School
from tests.benchmarks.academy.__main__ import FillError, fill
from tests.benchmarks.academy.build import Academy
from tests.benchmarks.academy.student_life import StudentLife

TODAY = date(2026, 6, 12)


def build_academy(seed: int = 1, students: int = 5) -> Academy:
    academy = Academy(students, 1, seed, TODAY, lambda words, rows: None)
    academy.build()
    return academy


@pytest.mark.django_db
def test_an_academy_holds_what_the_actions_would_have_left() -> None:
    academy = build_academy(seed=27)
    assert Enrolment.objects.active(TODAY).count() == 5
    assert first_broken_link(iterate_chain()) is None
    seals = {(seal.kind, seal.subject): seal for seal in Seal.objects.all()}
    signatures = {(row.lesson_id, row.capacity): row for row in Signature.objects.all()}
    lessons = list(Lesson.objects.signed().for_pages().select_related("supersedes"))
    assert len(lessons) > 60
    seen = lesson_payload.load_lesson_contents(lessons)
    for lesson in lessons:
        record = lesson_payload.build_lesson_payload(lesson, signatures[lesson.pk, "instructor"], seen[lesson.pk])
        assert rfc8785.dumps(record).decode() == seals["lesson", lesson.uid].canonical
        assert release_breaches(lesson) == []
    for lesson in lessons[::7]:
        graded = {row.manoeuvre_id: row for row in seen[lesson.pk].grades}
        for line in grade_lines.grade_lines_for(lesson):
            if grade := graded.get(line.manoeuvre.pk):
                said = grade.proposed, grade.explanation, grade.help
                assert said == (line.proposed.level.value, line.explanation, line.help.value)
            else:
                assert line.given is None
        attempts, context = grade_lines.load_attempts(lesson), grade_lines.load_grading_context(lesson)
        taken = grade_lines.parts_taken_over(attempts)
        for attempt in attempts:
            assert attempt.counted == grade_lines.count_attempt(attempt, context, taken).level.value
    for release in Release.objects.select_related("enrolment__student", "aircraft_type", "aerodrome", "endorsed_by"):
        record = lesson_payload.build_release_payload(release, release.signatures.get())
        assert rfc8785.dumps(record).decode() == seals["release", release.uid].canonical
    made = {"lesson", "acknowledgement", "endorsement", "release", "test", "review", "set_aside", "end"}
    assert {kind for kind, _ in seals} == made
    by_name = Tap.objects.order_by("uid").values_list("at", flat=True)
    assert list(by_name) == sorted(by_name), "an index of names out of order is slow to fill"
    report = audit_records()
    assert [*map(str, report.findings), *guard_findings()] == []
    assert report.seals == len(seals)
    assert instructor_excesses(academy.begins, TODAY) == []
    for model in (Paper, Measure, FaultSeen, Tap, JournalEntry, Release):
        assert model.objects.exists(), model
    assert Circuit.objects.filter(shown=True).exists()
    kept = Attempt.objects.exclude(kept="")
    assert all(rows.exists() for rows in (kept, Attempt.objects.filter(by_closing=True)))
    assert Lesson.objects.signed().exclude(aircraft__type=F("enrolment__aircraft_type")).exists()
    assert Lesson.objects.unsigned().exists()
    assert not Attempt.objects.filter(lesson__signed_at=None).exclude(counted="").exists()
    assert StoredVerdict.objects.count() == 5
    out = StringIO()
    call_command("derive_verdicts", check=True, stdout=out)
    assert "5 stored verdicts equal" in out.getvalue()


@pytest.mark.django_db
def test_the_chief_of_an_academy_decides_on_what_the_database_says(monkeypatch: pytest.MonkeyPatch) -> None:
    lives: list[StudentLife] = []
    decide = Academy._decide

    def seen(academy: Academy, candidates: list[StudentLife], on: date) -> None:
        lives.extend(candidates)
        decide(academy, candidates, on)

    monkeypatch.setattr(Academy, "_decide", seen)
    build_academy(seed=27)
    assert lives
    facts = facts_for_all([life.enrolment for life in lives], TODAY)
    for life in lives:
        assert life.known.facts(life.enrolment) == facts[life.enrolment.pk]


@pytest.mark.django_db
def test_the_same_seed_makes_the_same_academy_and_another_seed_another() -> None:
    heads: list[tuple[int, str]] = []
    for seed in (7, 7, 8):
        with pytest.raises(RollBack):
            _build_and_undo(seed, heads)
    assert heads[0] == heads[1]
    assert heads[0] != heads[2]


class RollBack(Exception):
    pass


def _build_and_undo(seed: int, heads: list[tuple[int, str]]) -> None:
    with transaction.atomic():
        academy = build_academy(seed, students=2)
        last = chain.head()
        assert last is not None
        assert (last.number, last.digest) == (academy.desk.chain.number, academy.desk.chain.digest)
        heads.append((Attempt.objects.count(), last.digest))
        raise RollBack


def test_a_school_that_is_there_is_left_alone(cast: object) -> None:
    with pytest.raises(FillError, match="nothing was changed"):
        fill(students=2, years=1)
    assert School.objects.get().name == "School of the Tests"
    assert Person.objects.count() == 6
