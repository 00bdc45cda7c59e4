"""The verdict of each student as it was last derived, kept so that it can be compared and counted.

Pages derive it afresh; what is stored is proof, not a source.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db import transaction

from grading.models import StoredVerdict
from grading.queries import facts_for_all, standard_in_force
from grading.readiness import assess
from grading.readiness.json_form import verdict_to_json
from lessons.models import Enrolment
from school.models import Person, School


@dataclass(frozen=True)
class Differs:
    """A stored verdict that is not the one derived afresh for its day. `stored` None: there is none."""

    enrolment: Enrolment
    stored: dict[str, Any] | None
    derived: dict[str, Any]

    @property
    def words(self) -> str:
        if self.stored is None:
            return f"{self.enrolment.student}: not derived yet"
        return f"{self.enrolment.student}: stored “{self.stored['headline']}”, derived “{self.derived['headline']}”"


def derived(enrolments: Sequence[Enrolment], on: date) -> dict[int, dict[str, Any]]:
    """The verdict of each enrolment on a day, in its JSON form. Ten queries, however many."""
    standard = standard_in_force(School.objects.get(), on)
    return {pk: verdict_to_json(assess(facts, standard, on)) for pk, facts in facts_for_all(enrolments, on).items()}


@transaction.atomic
def store(*, enrolments: Sequence[Enrolment], at: datetime) -> int:
    """Derive and keep the verdict of each; returns how many changed."""
    on, changed = at.date(), 0
    known = {row.enrolment_id: row for row in StoredVerdict.objects.filter(enrolment__in=enrolments)}
    for pk, content in derived(enrolments, on).items():
        row = known.get(pk)
        changed += row is None or row.content != content
        StoredVerdict.objects.update_or_create(
            enrolment_id=pk,
            defaults={"on": on, "ready": content["ready"], "content": content},
        )
    return changed


def store_of(*, student: Person, at: datetime) -> int:
    """After a paper, a test or an endorsement of a student changed."""
    enrolments = list(Enrolment.objects.active(at.date()).for_pages().filter(student=student))
    return store(enrolments=enrolments, at=at)


def compare(enrolments: Sequence[Enrolment]) -> list[Differs]:
    """Each stored verdict against the one derived afresh for the day it was derived on."""
    stored = {row.enrolment_id: row for row in StoredVerdict.objects.filter(enrolment__in=enrolments)}
    found = [Differs(row, None, {}) for row in enrolments if row.pk not in stored]
    for day in sorted({row.on for row in stored.values()}):
        of_day = [row for row in enrolments if row.pk in stored and stored[row.pk].on == day]
        for enrolment in of_day:
            content = stored[enrolment.pk].content
            fresh = derived([enrolment], day)[enrolment.pk]
            if content != fresh:
                found.append(Differs(enrolment, content, fresh))
    return found
