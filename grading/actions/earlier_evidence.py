"""Count earlier lessons as evidence: the chief instructor decides how many, for a written reason, and it is sealed."""

from datetime import datetime

from django.db import transaction

from grading.actions.enrolment_guards import refuse_ended_training, refuse_own_training
from grading.evidence import chain, lesson_payload
from grading.models import EarlierEvidence, Seal
from grading.reading.earlier_evidence import brought_lessons
from grading.rules.readiness.wording import count_noun
from lessons.models import Enrolment
from school import journal
from school.errors import Refusal
from school.models import Person
from school.permissions import can_decide

FORMAT = 1
# Sealed with each decision: a later wording must not change what somebody has decided.
MEANING = (
    "The grades of these lessons, which nobody signed here, count as evidence for the parts of the circuit."
    " I have read their records. They meet no requirement of the law."
)


@transaction.atomic
def decide_earlier_evidence(
    *, enrolment: Enrolment, count: int, reason: str, by: Person, at: datetime
) -> EarlierEvidence:
    """Decide how many of the newest earlier lessons count as evidence; it replaces what was decided before."""
    if not can_decide(by):
        raise Refusal("Only the chief instructor may decide what counts as evidence.")
    refuse_own_training(enrolment, by)
    # The enrolment before the chain, as in everything that is sealed: the other order deadlocks.
    locked = Enrolment.objects.select_for_update(of=("self",)).select_related("student", "aircraft_type")
    enrolment = locked.get(pk=enrolment.pk)
    refuse_ended_training(enrolment)
    if not reason.strip():
        raise Refusal("Write why these lessons count as evidence, or why none does: the reason is kept with them.")
    countable = [row for row in brought_lessons(enrolment) if not row.obstacle]
    if not 0 <= count <= len(countable):
        there = count_noun(len(countable), "earlier lesson")
        raise Refusal(f"{there} of {enrolment.student} can count as evidence: choose no more.")
    code = enrolment.aircraft_type.code
    decision = EarlierEvidence.objects.create(
        enrolment=enrolment,
        lessons=[row.content(code) for row in countable[:count]],
        reason=reason.strip(),
        decided_at=at,
        decided_by=by,
    )
    chain.seal(kind=Seal.Kind.RECEIVED, subject=decision.uid, record=_decision_record(decision), at=at)
    after = {"lessons": count, "reason": decision.reason}
    journal.record(by=by, at=at, what="earlier lessons counted as evidence", subject=decision, after=after)
    return decision


def _decision_record(decision: EarlierEvidence) -> dict[str, object]:
    return {
        "format": FORMAT,
        "record": "earlier lessons as evidence",
        "id": str(decision.uid),
        "student": lesson_payload.person_reference(decision.enrolment.student),
        "enrolment": str(decision.enrolment.uid),
        "brought_forward": decision.lessons,
        "reason": decision.reason,
        "decided_by": lesson_payload.person_reference(decision.decided_by),
        "decided_at": lesson_payload.utc_timestamp(decision.decided_at),
        "meaning": MEANING,
    }
