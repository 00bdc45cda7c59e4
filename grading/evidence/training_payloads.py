"""Build the other records that are sealed: endorsements, tests, decisions, discarded lessons, the end of training."""

from typing import Any

from grading.evidence.lesson_payload import FORMAT, build_signature_payload, person_reference, utc_timestamp
from grading.models import SetAside, Signature
from lessons.models import DiscardedLesson, Endorsement, Enrolment, KnowledgeTest, Lesson


def build_endorsement_payload(endorsement: Endorsement, signature: Signature) -> dict[str, Any]:
    # Only where there is one: older seals have neither, and must stay what they were computed from.
    more = {"limitations": endorsement.limitations} if endorsement.limitations else {}
    if endorsement.aerodrome is not None:
        more["aerodrome"] = str(endorsement.aerodrome)
    return more | {
        "format": FORMAT,
        "record": "endorsement",
        "id": str(endorsement.uid),
        "student": person_reference(endorsement.enrolment.student),
        "enrolment": str(endorsement.enrolment.uid),
        "kind": endorsement.kind,
        "paragraph": endorsement.paragraph,
        "aircraft_type": endorsement.aircraft_type.name,
        "aircraft_type_code": endorsement.aircraft_type.code,
        "text": endorsement.text,
        "given_on": endorsement.given_on.isoformat(),
        "given_by": person_reference(endorsement.given_by),
        "certificate_number": endorsement.certificate_number,
        "signature": build_signature_payload(signature),
    }


def build_endorsement_withdrawal_payload(endorsement: Endorsement) -> dict[str, Any]:
    assert endorsement.withdrawn_by is not None
    return {
        "format": FORMAT,
        "record": "withdrawal of an endorsement",
        "endorsement": str(endorsement.uid),
        "reason": endorsement.withdrawal_reason,
        "by": person_reference(endorsement.withdrawn_by),
        "at": utc_timestamp(endorsement.withdrawn_at),
    }


def build_written_test_payload(test: KnowledgeTest, *, reviewed_later: bool = False) -> dict[str, Any]:
    """Build a test as it was recorded; a later review has a record of its own."""
    # A later review fills the same row. With it the rebuilt record would contradict the seal of the day of the test.
    reviewed = test.reviewed_on if not reviewed_later else None
    return {
        "format": FORMAT,
        "record": "written test",
        "id": str(test.uid),
        "student": person_reference(test.enrolment.student),
        "enrolment": str(test.enrolment.uid),
        "title": test.title,
        "unit": test.unit.number if test.unit else None,
        "aircraft_type": test.aircraft_type.name,
        "aircraft_type_code": test.aircraft_type.code,
        "taken_on": test.taken_on.isoformat(),
        "topics": list(test.topics),
        "questions": test.questions,
        "wrong": test.wrong,
        "reviewed_on": reviewed.isoformat() if reviewed else None,
        "given_by": person_reference(test.given_by),
        "by": person_reference(test.recorded_by),
        "at": utc_timestamp(test.recorded_at),
    }


def build_test_review_payload(test: KnowledgeTest) -> dict[str, Any]:
    assert test.reviewed_on is not None
    assert test.reviewed_by is not None
    return {
        "format": FORMAT,
        "record": "review of a written test",
        "test": str(test.uid),
        "reviewed_on": test.reviewed_on.isoformat(),
        "by": person_reference(test.reviewed_by),
    }


def build_discarded_lesson_payload(lesson: DiscardedLesson) -> dict[str, Any]:
    return {
        "format": FORMAT,
        "record": "discarded lesson",
        "id": str(lesson.uid),
        "number": lesson.number,
        "version": lesson.version,
        "student": person_reference(lesson.enrolment.student),
        "enrolment": str(lesson.enrolment.uid),
        "unit": {"number": lesson.unit.number, "title": lesson.unit.title},
        "date": lesson.on.isoformat(),
        "instructor": person_reference(lesson.instructor),
        "begun_at": utc_timestamp(lesson.begun_at),
        "entries": lesson.entries,
        "reason": lesson.reason,
        "by": person_reference(lesson.discarded_by),
        "at": utc_timestamp(lesson.discarded_at),
    }


def build_set_aside_payload(decided: SetAside) -> dict[str, Any]:
    return {
        "format": FORMAT,
        "record": "requirement set aside",
        "id": str(decided.uid),
        "student": person_reference(decided.enrolment.student),
        "enrolment": str(decided.enrolment.uid),
        "requirement": decided.requirement,
        "reason": decided.reason,
        "by": person_reference(decided.decided_by),
        "at": utc_timestamp(decided.decided_at),
    }


def build_set_aside_withdrawal_payload(decided: SetAside) -> dict[str, Any]:
    assert decided.withdrawn_by is not None
    return {
        "format": FORMAT,
        "record": "requirement asked for again",
        "set_aside": str(decided.uid),
        "by": person_reference(decided.withdrawn_by),
        "at": utc_timestamp(decided.withdrawn_at),
    }


def build_end_of_training_payload(enrolment: Enrolment, signature: Signature, lessons: list[Lesson]) -> dict[str, Any]:
    """Build what the chief instructor certifies (14 CFR 141.101(c)): the end, and every version signed by then."""
    assert enrolment.ended_on is not None
    return {
        "format": FORMAT,
        "record": "end of training",
        "enrolment": str(enrolment.uid),
        "student": person_reference(enrolment.student),
        "syllabus": str(enrolment.syllabus),
        "aircraft_type": enrolment.aircraft_type.name,
        "aircraft_type_code": enrolment.aircraft_type.code,
        "instructor": person_reference(enrolment.instructor),
        "enrolled_on": enrolment.enrolled_on.isoformat(),
        "ended_on": enrolment.ended_on.isoformat(),
        "end": enrolment.end,
        # Id and version alone: each of these lessons has a seal of its own with its whole text.
        "lessons": [{"id": str(row.uid), "number": row.number, "version": row.version} for row in lessons],
        "signature": build_signature_payload(signature),
    }
