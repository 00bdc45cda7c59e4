"""The records beside lessons and releases that are sealed: endorsements, tests, requirements set aside, the end."""

from typing import Any

from grading.evidence.lesson_payload import FORMAT, moment, person, signature_record
from grading.models import SetAside, Signature
from lessons.models import Endorsement, Enrolment, KnowledgeTest, Lesson


def endorsement_record(endorsement: Endorsement, signature: Signature) -> dict[str, Any]:
    return {
        "format": FORMAT,
        "record": "endorsement",
        "id": str(endorsement.uid),
        "student": person(endorsement.enrolment.student),
        "enrolment": str(endorsement.enrolment.uid),
        "kind": endorsement.kind,
        "paragraph": endorsement.paragraph,
        "aircraft_type": endorsement.aircraft_type.name,
        "aircraft_type_code": endorsement.aircraft_type.code,
        "text": endorsement.text,
        "given_on": endorsement.given_on.isoformat(),
        "given_by": person(endorsement.given_by),
        "certificate_number": endorsement.certificate_number,
        "signature": signature_record(signature),
    }


def unendorsed_record(endorsement: Endorsement) -> dict[str, Any]:
    assert endorsement.withdrawn_by is not None
    return {
        "format": FORMAT,
        "record": "withdrawal of an endorsement",
        "endorsement": str(endorsement.uid),
        "reason": endorsement.withdrawal_reason,
        "by": person(endorsement.withdrawn_by),
        "at": moment(endorsement.withdrawn_at),
    }


def written_test_record(test: KnowledgeTest, *, reviewed_later: bool = False) -> dict[str, Any]:
    """As it was recorded: a review that came later has a record of its own."""
    reviewed = test.reviewed_on if not reviewed_later else None
    return {
        "format": FORMAT,
        "record": "written test",
        "id": str(test.uid),
        "student": person(test.enrolment.student),
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
        "given_by": person(test.given_by),
        "by": person(test.recorded_by),
        "at": moment(test.recorded_at),
    }


def review_record(test: KnowledgeTest) -> dict[str, Any]:
    assert test.reviewed_on is not None
    assert test.reviewed_by is not None
    return {
        "format": FORMAT,
        "record": "review of a written test",
        "test": str(test.uid),
        "reviewed_on": test.reviewed_on.isoformat(),
        "by": person(test.reviewed_by),
    }


def set_aside_record(decided: SetAside) -> dict[str, Any]:
    return {
        "format": FORMAT,
        "record": "requirement set aside",
        "id": str(decided.uid),
        "student": person(decided.enrolment.student),
        "enrolment": str(decided.enrolment.uid),
        "requirement": decided.requirement,
        "reason": decided.reason,
        "by": person(decided.decided_by),
        "at": moment(decided.decided_at),
    }


def asked_again_record(decided: SetAside) -> dict[str, Any]:
    assert decided.withdrawn_by is not None
    return {
        "format": FORMAT,
        "record": "requirement asked for again",
        "set_aside": str(decided.uid),
        "by": person(decided.withdrawn_by),
        "at": moment(decided.withdrawn_at),
    }


def end_record(enrolment: Enrolment, signature: Signature, lessons: list[Lesson]) -> dict[str, Any]:
    """What the chief instructor certifies (14 CFR 141.101(c)): the end, and every version signed by then."""
    assert enrolment.ended_on is not None
    return {
        "format": FORMAT,
        "record": "end of training",
        "enrolment": str(enrolment.uid),
        "student": person(enrolment.student),
        "syllabus": str(enrolment.syllabus),
        "aircraft_type": enrolment.aircraft_type.name,
        "aircraft_type_code": enrolment.aircraft_type.code,
        "instructor": person(enrolment.instructor),
        "enrolled_on": enrolment.enrolled_on.isoformat(),
        "ended_on": enrolment.ended_on.isoformat(),
        "end": enrolment.end,
        "lessons": [{"id": str(row.uid), "number": row.number, "version": row.version} for row in lessons],
        "signature": signature_record(signature),
    }
