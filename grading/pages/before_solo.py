"""One student before first solo: the verdict with every reason, the circuits, and what a decision is made from."""

from datetime import date
from typing import Any

from grading.actions.endorsements import last_training_by, may_withdraw
from grading.forms.training import ReleaseForm
from grading.models import Release, StoredVerdict
from grading.pages.brief import cures_of, faults_to_work_on
from grading.pages.evidence import evidence_of
from grading.pages.figure import run_of_circuits
from grading.pages.matrix import training_matrix
from grading.reading.facts import first_in_force
from grading.reading.student_summary import StudentRow, student_rows
from grading.rules.readiness import State
from grading.rules.readiness.next_steps import next_steps
from lessons.models import EarlierTraining, Endorsement, Enrolment
from school.models import Person

LESSONS_SHOWN = 12


def readiness_of(
    enrolment: Enrolment, on: date, person: Person, row: StudentRow | None = None, *, deciding: bool
) -> dict[str, Any]:
    """What the page shows a person of a student on a day. `row`: of that day, where it is at hand."""
    given = _releases(enrolment)
    row = row or student_rows([enrolment], on, first_in_force(given, on))[0]
    faults = faults_to_work_on(row.history, enrolment.syllabus_id)
    endorsed = sorted(row.read.endorsements, key=lambda held: (held.given_on, held.pk), reverse=True)
    return {
        "row": row,
        "verdict": row.verdict,
        "open": row.verdict.unmet,
        "met": [outcome for outcome in row.verdict.requirements if outcome.state.counts],
        "figure": run_of_circuits(row),
        "open_faults": faults,
        "tests": sorted(row.read.tests, key=lambda test: (test.taken_on, test.pk), reverse=True),
        "lessons": row.read.lessons[: -LESSONS_SHOWN - 1 : -1],
        "evidence": evidence_of(row),
        "steps": [(step, cures_of(step.faults, faults)) for step in next_steps(row.verdict, row.history)],
        "matrix": training_matrix(row, enrolment),
        "earlier": EarlierTraining.objects.filter(student=enrolment.student_id).exists(),
        "releases": given[::-1],
        "endorsements": [(held, may_withdraw(held, person)) for held in endorsed],
        "deciding": deciding,
    }


def decision_on(enrolment: Enrolment, today: date, stored: StoredVerdict) -> dict[str, Any]:
    """What stands beside the form of a release, and the form: from the verdict as it is stored, fresh for today."""
    given = _releases(enrolment)
    unmet = [row for row in stored.content["requirements"] if not State(row["state"]).counts]
    held = Endorsement.objects.filter(enrolment=enrolment, withdrawn_at=None).select_related("given_by")
    trained = last_training_by(enrolment.instructor, enrolment, today)
    return {
        "unmet": len(unmet),
        "legal_open": [row["sentence"] for row in unmet if row["kind"] == "legal"],
        "endorsed": list(held.order_by("pk")),
        "in_force": first_in_force(given, today).get(enrolment.pk),
        "form": ReleaseForm(enrolment=enrolment, on=today, trained_on=trained, last=given[-1] if given else None),
    }


def _releases(enrolment: Enrolment) -> list[Release]:
    """Oldest first."""
    rows = Release.objects.filter(enrolment=enrolment)
    return list(rows.select_related("decided_by", "endorsed_by", "aerodrome").order_by("pk"))
