"""Credit a student's earlier training: the chief instructor decides it, for written reasons, and it is sealed."""

from collections.abc import Mapping
from datetime import datetime

from django.db import transaction

from grading.actions.enrolment_guards import refuse_ended_training, refuse_own_training
from grading.evidence import chain, lesson_payload
from grading.models import Seal
from lessons.models import AMOUNT_FIELDS, CreditDecision, CreditedUnit, EarlierTraining, Enrolment, Unit
from school import journal
from school.errors import Refusal
from school.models import Person
from school.permissions import can_decide

FORMAT = 1
# Sealed with each decision: a later wording must not change what somebody has decided.
MEANING = (
    "These units count as complete, and these hours are carried forward, on the strength of earlier training."
    " I have read its records. It is no evidence for readiness here."
)


@transaction.atomic
def decide_credit(
    *,
    enrolment: Enrolment,
    units: Mapping[Unit, str],
    counted: Mapping[str, int],
    reason: str,
    by: Person,
    at: datetime,
) -> CreditDecision:
    """Decide the whole credit of an enrolment, which replaces what was decided before.

    `units`: each credited unit with its reason. `counted`: minutes and counts carried forward, by the names in
    AMOUNT_FIELDS. Refuses more than the earlier training on record adds up to, and whatever has no reason.
    """
    if not can_decide(by):
        raise Refusal("Only the chief instructor may decide what counts of earlier training.")
    refuse_own_training(enrolment, by)
    # The enrolment before the chain, as in everything that is sealed: the other order deadlocks.
    enrolment = Enrolment.objects.select_for_update(of=("self",)).select_related("student").get(pk=enrolment.pk)
    refuse_ended_training(enrolment)
    units = {unit: words.strip() for unit, words in units.items()}
    _refuse_invalid_credit(enrolment, units, counted, reason)
    decision = CreditDecision.objects.create(
        enrolment=enrolment,
        # Every amount, also those of zero: a decision is complete and nothing of an earlier one is added to it.
        **{name: counted.get(name, 0) for name in AMOUNT_FIELDS},
        reason=reason.strip(),
        decided_at=at,
        decided_by=by,
    )
    CreditedUnit.objects.bulk_create(
        CreditedUnit(decision=decision, unit=unit, reason=words) for unit, words in units.items()
    )
    chain.seal(kind=Seal.Kind.RECEIVED, subject=decision.uid, record=_credit_record(decision, units), at=at)
    after = {"units": [unit.number for unit in units], **decision.counted, "reason": decision.reason}
    journal.record(by=by, at=at, what="earlier training credited", subject=decision, after=after)
    return decision


def _refuse_invalid_credit(
    enrolment: Enrolment, units: Mapping[Unit, str], counted: Mapping[str, int], reason: str
) -> None:
    if not reason.strip():
        raise Refusal("Write why these hours are carried forward, or why none are: the reason is kept with the record.")
    if bare := [str(unit) for unit, words in units.items() if not words]:
        raise Refusal(f"Write why each unit counts as complete. Without a reason: {', '.join(bare)}.")
    if any(unit.stage.syllabus_id != enrolment.syllabus_id for unit in units):
        raise Refusal("A credited unit must be one of the syllabus the student is in.")
    # Without rows that a later version replaced: the hours of one lesson would count twice.
    earlier = EarlierTraining.objects.filter(student=enrolment.student).current()
    if not earlier.exists():
        raise Refusal("There is no earlier training on record: import it first.")
    there = earlier.totals()
    for name in AMOUNT_FIELDS:
        if counted.get(name, 0) > there[name]:
            said = name.replace("_", " ")
            raise Refusal(f"The earlier training on record holds {there[name]} {said}: no more can be carried forward.")
    dual, solo = counted.get("dual_minutes", 0), counted.get("solo_minutes", 0)
    for name in ("night_minutes", "instrument_minutes"):
        if counted.get(name, 0) > dual + solo:
            raise Refusal("Night and instrument time are part of dual and solo: carry no more of them than of both.")


def _credit_record(decision: CreditDecision, units: Mapping[Unit, str]) -> dict[str, object]:
    return {
        "format": FORMAT,
        "record": "credit for earlier training",
        "id": str(decision.uid),
        "student": lesson_payload.person_reference(decision.enrolment.student),
        "enrolment": str(decision.enrolment.uid),
        "syllabus": str(decision.enrolment.syllabus),
        "units": [
            {"number": unit.number, "title": unit.title, "reason": words}
            # Sorted: the sealed text must not depend on the order in which the units were chosen.
            for unit, words in sorted(units.items(), key=lambda pair: pair[0].number)
        ],
        "brought_forward": decision.counted,
        "reason": decision.reason,
        "decided_by": lesson_payload.person_reference(decision.decided_by),
        "decided_at": lesson_payload.utc_timestamp(decision.decided_at),
        "meaning": MEANING,
    }
