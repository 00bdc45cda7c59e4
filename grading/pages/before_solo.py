"""This module shows one student before first solo: the verdict with every reason, the circuits, and the decision."""

from collections.abc import Iterable, Iterator
from datetime import date
from typing import Any, NamedTuple

from grading.actions.endorsements import SOLO_ENDORSEMENT_DAYS, can_withdraw_endorsement, last_training_by
from grading.forms.training import ReleaseForm
from grading.models import Release, StoredVerdict
from grading.pages.brief import fault_cures, open_faults_with_cures
from grading.pages.circuit_figure import build_circuit_figure
from grading.pages.kept_levels import count_levels_by_closing, kept_levels
from grading.pages.progress_over_time import build_progress_over_time
from grading.pages.skill_evidence import build_skill_evidence
from grading.pages.training_matrix import build_training_matrix
from grading.reading.facts import select_in_force
from grading.reading.student_summary import StudentSummary, summarise_students
from grading.rules.readiness import Outcome
from grading.rules.readiness.checks.training import count_items_given
from grading.rules.readiness.next_steps import next_steps
from grading.rules.readiness.stored_form import verdict_from_plain
from lessons.models import EarlierTraining, Endorsement, Enrolment
from school.formats import write_day
from school.models import Person

LESSONS_SHOWN = 12


def readiness_details(
    enrolment: Enrolment, on: date, person: Person, row: StudentSummary | None = None, *, can_decide: bool
) -> dict[str, Any]:
    """Return what the page shows a person of a student on a day. `row`: the summary of that day, if read."""
    # Read once: the release in force is chosen from these rows, and the page lists all of them.
    given = _releases_by_age(enrolment)
    row = row or summarise_students([enrolment], on, select_in_force(given, on))[0]
    faults = open_faults_with_cures(row.history, enrolment.syllabus_id)
    endorsed = sorted(row.read.endorsements, key=lambda held: (held.given_on, held.pk), reverse=True)
    return {
        "row": row,
        "verdict": row.verdict,
        "status": row.status,
        "headline": row.headline,
        "open": row.verdict.unmet,
        "met": [outcome for outcome in row.verdict.requirements if outcome.state.counts],
        "figure": build_circuit_figure(row),
        "progress": build_progress_over_time(row),
        "open_faults": faults,
        "tests": sorted(row.read.tests, key=lambda test: (test.taken_on, test.pk), reverse=True),
        "to_review": any(not test.is_reviewed for test in row.read.tests),
        # The summary has the oldest first, the page the newest.
        "lessons": row.read.lessons[: -LESSONS_SHOWN - 1 : -1],
        "evidence": build_skill_evidence(row),
        "kept": kept_levels(row.history, row.units),
        "by_closing": count_levels_by_closing(row.read.lessons),
        "steps": [(step, fault_cures(step.faults, faults)) for step in next_steps(row.verdict, row.history)],
        "matrix": build_training_matrix(row, enrolment),
        "brought": row.history.facts.brought_forward,
        "earlier": EarlierTraining.objects.filter(student=enrolment.student_id).exists(),
        "releases": given[::-1],
        "endorsements": [
            (held, can_withdraw_endorsement(held, person), count_items_given(row.history, held.given_by.name))
            for held in endorsed
        ],
        "can_decide": can_decide,
    }


def release_decision(enrolment: Enrolment, today: date, stored: StoredVerdict) -> dict[str, Any]:
    """Return the form of a release, or what is missing in its place, from the verdict stored for today."""
    given = _releases_by_age(enrolment)
    # From what is stored and not from the summary, which would have to be derived for the form alone.
    unmet = verdict_from_plain(stored.content).unmet
    # A release rests on an endorsement (14 CFR 61.87(n)); a withdrawn one carries none.
    held = Endorsement.objects.filter(enrolment=enrolment, withdrawn_at=None)
    endorsed = list(held.select_related("given_by", "aerodrome").order_by("pk"))
    solo = [row for row in endorsed if _is_for_solo(row)]
    # The form proposes the last day that a release may have from the instructor's last training in the type.
    trained = last_training_by(enrolment.instructor, enrolment, today)
    own = [row.given_on for row in solo if row.given_by_id == enrolment.instructor_id]
    return {
        "unmet": len(unmet),
        "missing": [*_legal_missing(unmet), *_endorsement_missing(enrolment, endorsed, today)],
        # The newest of each instructor: a release rests on that one.
        "endorsed": [(row, _items_given(row, stored)) for row in {row.given_by_id: row for row in solo}.values()],
        "in_force": select_in_force(given, today).get(enrolment.pk),
        "form": ReleaseForm(
            enrolment=enrolment,
            on=today,
            trained_on=trained,
            endorsed_on=max(own, default=None),
            last=given[-1] if given else None,
        ),
    }


class MissingForRelease(NamedTuple):
    """What no release can be signed without, who acts, and the requirement on the page, if it is one."""

    words: str
    who: str
    key: str = ""


def _legal_missing(unmet: Iterable[Outcome]) -> list[MissingForRelease]:
    """Return the requirements of the law that are not met; no reason lifts one of them."""
    return [
        MissingForRelease(row.sentence, "the administrator" if row.group == "papers" else "the instructor", row.key)
        for row in unmet
        if row.kind == "legal"
    ]


def _endorsement_missing(
    enrolment: Enrolment, endorsed: Iterable[Endorsement], today: date
) -> Iterator[MissingForRelease]:
    """Yield the endorsement for solo in the type where nobody has given one within its days (14 CFR 61.87(n))."""
    rows = [row for row in endorsed if _is_for_solo(row) and row.aircraft_type_id == enrolment.aircraft_type_id]
    last = max((row.given_on for row in rows), default=None)
    if last is None:
        yield MissingForRelease("Endorsement for solo: nobody has given one for this type", enrolment.instructor.name)
    elif (today - last).days > SOLO_ENDORSEMENT_DAYS:
        words = f"Endorsement for solo: of {write_day(last)}, more than {SOLO_ENDORSEMENT_DAYS} days ago"
        yield MissingForRelease(words, enrolment.instructor.name)


def _is_for_solo(endorsement: Endorsement) -> bool:
    return endorsement.kind == Endorsement.Kind.PRE_SOLO_TRAINING


def _items_given(endorsement: Endorsement, stored: StoredVerdict) -> tuple[int, int] | None:
    """Return what was counted with the stored verdict, so that no look reads the lessons again."""
    count = stored.row["items_given"].get(endorsement.given_by.name)
    return (count[0], count[1]) if count and _is_for_solo(endorsement) else None


def _releases_by_age(enrolment: Enrolment) -> list[Release]:
    """Return every release of an enrolment, the oldest first."""
    rows = Release.objects.filter(enrolment=enrolment)
    return list(rows.select_related("decided_by", "endorsed_by", "aerodrome", "withdrawn_by").order_by("pk"))
