"""This module gathers a student's own page: where the student is, what comes next, what to work on."""

from collections.abc import Iterable
from datetime import date
from typing import Any

from grading.models import Release, Signature
from grading.pages.brief import fault_cures, open_faults_with_cures
from grading.pages.progress_over_time import build_progress_over_time
from grading.pages.unit_ahead import build_unit_ahead, steps_of_units_so_far
from grading.reading.expiring import expiries_of_students
from grading.reading.facts import releases_given
from grading.reading.release_status import unconfirmed_withdrawals
from grading.reading.student_summary import StudentSummary, summarise_students
from grading.rules.readiness.next_steps import MAX_STEPS, next_steps
from grading.rules.readiness.verdict import Outcome, Verdict
from lessons.earlier_training import credit_carried_forward
from lessons.models import EarlierTraining, Enrolment, Lesson
from lessons.rules.minima import compare_with_minima

FAULTS_SHOWN = 6


def own_progress_context(enrolment: Enrolment, today: date, row: StudentSummary | None = None) -> dict[str, Any]:
    """Return the context of the page. `row`: the summary of today, if it was read before."""
    # Only where the page is rendered: while its fragment is cached, nobody calls this function.
    row = row or summarise_students([enrolment], today)[0]
    # The newest first, as the page lists them.
    lessons = row.read.lessons[::-1]
    # A refusal answers a lesson too: the student is not asked again.
    answered = set(
        Signature.objects.filter(lesson__enrolment=enrolment, capacity="student").values_list("lesson_id", flat=True)
    )
    faults = open_faults_with_cures(row.history, enrolment.syllabus_id)
    forward = credit_carried_forward(enrolment, today)
    steps = steps_of_units_so_far(row, next_steps(row.verdict, row.history, most=len(row.verdict.unmet)))[:MAX_STEPS]
    return {
        "row": row,
        "unit": build_unit_ahead(row, enrolment, today),
        "progress": build_progress_over_time(row),
        # Of other kinds: that by day is the headline.
        "other_withdrawals": [
            status
            for status in unconfirmed_withdrawals(releases_given(enrolment), today)
            if status.release.kind != Release.Kind.DAY
        ],
        "forward": forward if any(forward.values()) else None,
        "earlier": EarlierTraining.objects.filter(student=enrolment.student_id).exists(),
        "to_sign": [lesson for lesson in lessons if lesson.pk not in answered],
        "lessons": lessons,
        # Newest first; a lesson on the ground has no aircraft and is not the last flight.
        "last": next((lesson for lesson in lessons if lesson.aircraft_id), None),
        "last_circuits": next((lesson for lesson in reversed(row.history.lessons) if lesson.circuits), None),
        "faults": faults[:FAULTS_SHOWN],
        "steps": [(step, fault_cures(step.faults, faults)) for step in steps],
        "dual": sum(lesson.dual_minutes for lesson in lessons),
        "solo": sum(lesson.solo_minutes for lesson in lessons),
        "landings": sum(lesson.landings for lesson in lessons),
        "least": compare_with_minima(row.verdict.rule_set, _minute_totals(lessons)),
        "runs_out": expiries_of_students([row], today),
        # Apart from what to work on: no flying fulfils a document.
        "documents": _documents(row.verdict, today),
        "met": [outcome for outcome in row.verdict.requirements if outcome.state.counts],
    }


def _documents(verdict: Verdict, today: date) -> list[tuple[Outcome, int | None]]:
    """Return each document asked for before solo with the days it still has, None where it has no last day."""
    papers = [outcome for outcome in verdict.requirements if outcome.group == "papers"]
    return [(outcome, (outcome.until - today).days if outcome.until else None) for outcome in papers]


def _minute_totals(lessons: Iterable[Lesson]) -> dict[str, int]:
    """Sum minutes; night and instrument time counts with an instructor only, as the minimum hours require."""
    lessons = list(lessons)
    taught = [lesson for lesson in lessons if lesson.dual_minutes]
    minutes = {name: sum(getattr(row, name) for row in lessons) for name in ("dual_minutes", "solo_minutes")}
    return minutes | {
        name: sum(getattr(row, name) for row in taught) for name in ("night_minutes", "instrument_minutes")
    }
