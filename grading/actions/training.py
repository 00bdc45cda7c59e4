"""Record written tests and the end of training, each sealed."""

from datetime import date, datetime
from typing import Any

from django.db import transaction

from grading.actions.enrolment_guards import refuse_own_training
from grading.actions.signing import draft_signature, instructor_certificate, reauthenticate, save_and_seal
from grading.evidence import chain, training_payloads
from grading.models import Seal, Signature
from lessons import actions as lesson_actions
from lessons.models import Enrolment, KnowledgeTest, Lesson
from school import journal
from school.current import school_day
from school.errors import Refusal
from school.formats import write_day
from school.models import Person
from school.permissions import can_decide, can_manage_records

END_MEANING = (
    "I certify this record of the student’s training at this school, and that the training ended on the day and in the"
    " way it says."
)


@transaction.atomic
def record_written_test(*, enrolment: Enrolment, by: Person, at: datetime, **test: Any) -> KnowledgeTest:
    """Record a written test; the rest is as for `lessons.actions.record_knowledge_test`."""
    # The person who records the test and the one who gave it: a student on the staff is neither for their own test.
    refuse_own_training(enrolment, by, test["given_by"])
    chain.lock_for_sealing(enrolment)
    taken = lesson_actions.record_knowledge_test(enrolment=enrolment, **test, by=by, at=at)
    chain.seal(
        kind=Seal.Kind.TEST, subject=taken.uid, record=training_payloads.build_written_test_payload(taken), at=at
    )
    return taken


@transaction.atomic
def review_test(*, test: KnowledgeTest, on: date, by: Person, at: datetime) -> KnowledgeTest:
    """Record that every wrong answer was reviewed with the student, later than the test was recorded."""
    refuse_own_training(test.enrolment, by)
    chain.lock_for_sealing(test.enrolment)
    test = lesson_actions.review_test(test=test, on=on, by=by, at=at)
    chain.seal(kind=Seal.Kind.REVIEW, subject=test.uid, record=training_payloads.build_test_review_payload(test), at=at)
    return test


@transaction.atomic
def end_training(*, enrolment: Enrolment, on: date, end: str, by: Person, at: datetime) -> Enrolment:
    """Record that the training was completed, terminated or transferred. It is final, and the chief certifies it."""
    if not can_end_training(by):
        raise Refusal("Only the administrator or the chief instructor may record the end of training.")
    refuse_own_training(enrolment, by)
    if end not in Enrolment.End.values:
        raise Refusal("Choose how the training ended: completed, terminated or transferred.")
    if on > school_day(at):
        raise Refusal("The end of training cannot be dated in the future.")
    Enrolment.objects.select_for_update(of=("self",)).get(pk=enrolment.pk)  # no lesson begins meanwhile
    _refuse_unsigned_lesson(enrolment)
    last = enrolment.lessons.order_by("-on").values_list("on", flat=True).first()
    if last is not None and last > on:
        raise Refusal(f"The last lesson was on {write_day(last)}: the training did not end before it.")
    # Not sealed yet: the chief instructor's certification seals the end together with the lessons.
    return lesson_actions.end_enrolment(enrolment=enrolment, on=on, end=end, by=by, at=at)


@transaction.atomic
def certify_end(*, enrolment: Enrolment, secret: str, by: Person, at: datetime) -> Signature:
    """Certify the record at the end of training as the chief instructor (14 CFR 141.101(c))."""
    if not can_decide(by):
        raise Refusal("Only the chief instructor may certify the record of a student.")
    refuse_own_training(enrolment, by)
    chain.lock_for_sealing(enrolment)
    enrolment = Enrolment.objects.for_pages().get(pk=enrolment.pk)
    if enrolment.ended_on is None:
        raise Refusal("The training has not ended: record first when and how.")
    if find_certification(enrolment):
        raise Refusal("The end of this training has already been certified.")
    # Signed meanwhile, it would count as signed by then and not stand in what is certified.
    _refuse_unsigned_lesson(enrolment)
    certificate = instructor_certificate(by, school_day(at))
    reauthenticate(by, secret)
    signature = draft_signature(by, Signature.Capacity.CHIEF, END_MEANING, at, certificate, enrolment=enrolment)
    lessons = list(Lesson.objects.filter(enrolment=enrolment).signed().order_by("number", "version"))
    record = training_payloads.build_end_of_training_payload(enrolment, signature, lessons)
    save_and_seal(signature, Seal.Kind.END, enrolment.uid, record)
    after = {"end": enrolment.end, "on": enrolment.ended_on, "meaning": END_MEANING}
    journal.record(by=by, at=at, what="end of training certified", subject=enrolment, after=after)
    return signature


def _refuse_unsigned_lesson(enrolment: Enrolment) -> None:
    if enrolment.lessons.unsigned().exists():
        raise Refusal(f"A lesson of {enrolment.student} is being written: its instructor signs or discards it first.")


def find_certification(enrolment: Enrolment) -> Signature | None:
    return Signature.objects.filter(enrolment=enrolment).first()


def enrolments_awaiting_certification() -> list[Enrolment]:
    """Return the enrolments that ended without the chief's certification, oldest end first."""
    # Without NULL: most signatures have no enrolment, and NOT IN a list with NULL selects nobody.
    certified = Signature.objects.filter(enrolment__isnull=False).values("enrolment")
    ended = Enrolment.objects.filter(ended_on__isnull=False).exclude(pk__in=certified)
    return list(ended.for_pages().order_by("ended_on", "pk"))


def can_end_training(person: Person) -> bool:
    return can_manage_records(person) or can_decide(person)
