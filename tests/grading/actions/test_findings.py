"""A finding is done for a reason: who, when, why; it comes back with other facts, and the record stays as it is."""

from datetime import timedelta
from typing import Any

import pytest
from django.db import DatabaseError, transaction

from grading.actions.findings import reopen_finding, settle_finding
from grading.evidence.audit.check import run_audit
from grading.evidence.audit.database_guards import GUARDED_TABLES
from grading.models import Release, SettledFinding
from grading.reading.inspection_facts import collect_findings, collect_instructor_findings
from grading.reading.settled_findings import leave_out_settled
from grading.rules.inspection import Finding
from lessons.models import Lesson
from school.errors import Refusal
from school.models import JournalEntry
from tests.cast import Cast
from tests.factories import begin_lesson, fly_lesson


def found(cast: Cast, kind: str, days: int = 0) -> Finding:
    """The finding of a kind in Dora's record, as it reads some days from today."""
    rows = [row for row in collect_findings([cast.enrolment], cast.at(12, -days)) if row.kind == kind]
    assert len(rows) == 1
    return rows[0]


def settle(cast: Cast, finding: Finding, **changed: Any) -> SettledFinding:
    asked = {"whose": cast.enrolment, "reason": "He left; nobody can sign it.", "by": cast.amelia, "at": cast.at(12)}
    return settle_finding(fingerprint=finding.fingerprint, **asked | changed)


def test_the_office_marks_a_finding_as_done_and_opens_it_again(cast: Cast) -> None:
    begin_lesson(cast, days_ago=5)
    finding = found(cast, "unsigned")
    for nobody in (cast.bert, cast.dora):
        with pytest.raises(Refusal, match="Only the chief instructor or the administrator"):
            settle(cast, finding, by=nobody)
    with pytest.raises(Refusal, match="Write why nothing is left"):
        settle(cast, finding, reason="  ")
    row = settle(cast, finding)
    # Tomorrow it is a day older, and the same finding.
    assert found(cast, "unsigned", days=1).sentence != finding.sentence
    assert leave_out_settled([found(cast, "unsigned", days=1)]) == []
    with pytest.raises(Refusal, match="already marked"):
        settle(cast, finding, by=cast.frida)
    reopen_finding(settled=row, by=cast.frida, at=cast.at(13))
    assert leave_out_settled([finding]) == [finding]
    with pytest.raises(Refusal, match="open again already"):
        reopen_finding(settled=row, by=cast.frida, at=cast.at(13))
    settle(cast, finding, reason="Once more.")
    entries = JournalEntry.objects.filter(what__startswith="finding ").order_by("pk")
    assert [(row.what, row.person_id, row.about_id) for row in entries] == [
        ("finding marked as done", cast.amelia.pk, cast.dora.pk),
        ("finding opened again", cast.frida.pk, cast.dora.pk),
        ("finding marked as done", cast.amelia.pk, cast.dora.pk),
    ]
    assert entries[0].after["reason"] == "He left; nobody can sign it."


def test_other_facts_are_another_finding(cast: Cast) -> None:
    lesson = fly_lesson(cast, days_ago=3)
    flown = {"off_blocks": cast.at(9, 3), "on_blocks": cast.at(10, 3), "dual_minutes": 90}
    begun = begin_lesson(cast, days_ago=2)
    Lesson.objects.filter(pk=begun.pk).update(**flown)
    assert lesson.signed_at
    first = found(cast, "unsigned")
    settle(cast, first)
    Lesson.objects.filter(pk=begun.pk).update(on=cast.today - timedelta(days=4))
    assert leave_out_settled([found(cast, "unsigned")]) != []
    with pytest.raises(Refusal, match="its facts have changed"):
        settle(cast, first)


def test_what_somebody_may_fly_on_is_not_explained_away(cast: Cast) -> None:
    """14 CFR 61.87(n): no solo without the endorsement; the release that lacks it is withdrawn or endorsed."""
    Release.objects.create(
        enrolment=cast.enrolment, aircraft_type=cast.type, aerodrome=cast.runway.aerodrome, runways="18",
        max_wind_kt=12, max_crosswind_kt=5, min_visibility_sm=5, min_ceiling_ft=1500, valid_from=cast.today,
        valid_until=cast.today, training_on=cast.today, endorsed_by=cast.bert, verdict={}, decided_at=cast.at(),
        decided_by=cast.amelia,
    )  # fmt: skip
    with pytest.raises(Refusal, match="withdraw it, or let the instructor endorse"):
        settle(cast, found(cast, "release_endorsement"))


def test_a_finding_about_an_instructor_alone(cast: Cast) -> None:
    for hour in (6, 12):
        lesson = begin_lesson(cast, days_ago=1)
        times = {"off_blocks": cast.at(hour, 1), "on_blocks": cast.at(hour + 5, 1), "dual_minutes": 300}
        Lesson.objects.filter(pk=lesson.pk).update(**times)
    (finding,) = collect_instructor_findings(cast.at())
    assert collect_instructor_findings(cast.at(), only=cast.cleo) == []
    row = settle(cast, finding, whose=cast.bert)
    assert (row.enrolment, row.person) == (None, cast.bert)
    assert leave_out_settled([finding]) == []
    assert JournalEntry.objects.get(what="finding marked as done").about_id == cast.bert.pk


def test_the_reason_is_final_and_the_check_of_the_records_reads_as_before(cast: Cast) -> None:
    fly_lesson(cast, days_ago=9)
    before = run_audit(by=None, at=cast.at(14)).findings
    row = settle(cast, found(cast, "student_waits"))
    assert run_audit(by=None, at=cast.at(15)).findings == before
    for change in (
        lambda: SettledFinding.objects.update(reason="Another."),
        lambda: SettledFinding.objects.update(facts="0" * 64),
        row.delete,
    ):
        with pytest.raises(DatabaseError, match="the record is final"), transaction.atomic():
            change()
    assert "grading_settledfinding" in GUARDED_TABLES
