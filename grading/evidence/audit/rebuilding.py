"""The records as the tables have them now, a batch of one kind in a fixed number of queries."""

from collections import defaultdict
from collections.abc import Callable, Collection
from typing import Any
from uuid import UUID

from grading.evidence import lesson_payload
from grading.evidence import training_payloads as training
from grading.evidence.sheet_payload import sealed_sheet
from grading.models import Release, Seal, SetAside, Sheet, Signature
from lessons.models import Endorsement, Enrolment, KnowledgeTest, Lesson

Records = dict[UUID, dict[str, Any]]
Rebuilder = Callable[[Collection[UUID]], Records]


def _lessons(uids: Collection[UUID]) -> Records:
    signatures = _signatures("lesson", uids, capacity=Signature.Capacity.INSTRUCTOR)
    lessons = list(Lesson.objects.filter(uid__in=signatures).for_pages().select_related("supersedes"))
    seen = lesson_payload.seen_in(lessons)
    return {row.uid: lesson_payload.lesson_record(row, signatures[row.uid], seen[row.pk]) for row in lessons}


def _acknowledgements(uids: Collection[UUID]) -> Records:
    rows = Signature.objects.filter(uid__in=uids, lesson__isnull=False).select_related("lesson")
    return {row.uid: lesson_payload.acknowledgement_record(row) for row in rows}


def _releases(uids: Collection[UUID]) -> Records:
    signatures = _signatures("release", uids)
    rows = Release.objects.filter(uid__in=signatures).select_related(
        "enrolment__student", "aircraft_type", "aerodrome", "endorsed_by"
    )
    return {row.uid: lesson_payload.release_record(row, signatures[row.uid]) for row in rows}


def _withdrawals(uids: Collection[UUID]) -> Records:
    rows = Release.objects.filter(uid__in=uids, withdrawn_at__isnull=False).select_related("withdrawn_by")
    return {row.uid: lesson_payload.withdrawal_record(row) for row in rows}


def _endorsements(uids: Collection[UUID]) -> Records:
    signatures = _signatures("endorsement", uids)
    rows = Endorsement.objects.filter(uid__in=signatures).select_related(
        "enrolment__student", "aircraft_type", "given_by"
    )
    return {row.uid: training.endorsement_record(row, signatures[row.uid]) for row in rows}


def _unendorsed(uids: Collection[UUID]) -> Records:
    rows = Endorsement.objects.filter(uid__in=uids, withdrawn_at__isnull=False).select_related("withdrawn_by")
    return {row.uid: training.unendorsed_record(row) for row in rows}


def _tests(uids: Collection[UUID]) -> Records:
    rows = KnowledgeTest.objects.filter(uid__in=uids).select_related(
        "enrolment__student", "unit", "aircraft_type", "given_by", "recorded_by"
    )
    found = {row.uid: row for row in rows}
    # Asked after the rows: a review that comes between is then not yet in the row, or in both.
    reviews = Seal.objects.filter(kind=Seal.Kind.REVIEW, subject__in=found)
    later = set(reviews.values_list("subject", flat=True))
    return {uid: training.written_test_record(row, reviewed_later=uid in later) for uid, row in found.items()}


def _reviews(uids: Collection[UUID]) -> Records:
    rows = KnowledgeTest.objects.filter(uid__in=uids, reviewed_on__isnull=False).select_related("reviewed_by")
    return {row.uid: training.review_record(row) for row in rows}


def _set_aside(uids: Collection[UUID]) -> Records:
    rows = SetAside.objects.filter(uid__in=uids).select_related("enrolment__student", "decided_by")
    return {row.uid: training.set_aside_record(row) for row in rows}


def _asked_again(uids: Collection[UUID]) -> Records:
    rows = SetAside.objects.filter(uid__in=uids, withdrawn_at__isnull=False).select_related("withdrawn_by")
    return {row.uid: training.asked_again_record(row) for row in rows}


def _ends(uids: Collection[UUID]) -> Records:
    signatures = _signatures("enrolment", uids)
    enrolments = Enrolment.objects.filter(uid__in=signatures, ended_on__isnull=False).for_pages()
    found = {row.pk: row for row in enrolments}
    lessons: dict[int, list[Lesson]] = defaultdict(list)
    for lesson in Lesson.objects.filter(enrolment__in=found).signed().order_by("number", "version"):
        assert lesson.signed_at is not None
        if lesson.signed_at <= signatures[found[lesson.enrolment_id].uid].signed_at:
            lessons[lesson.enrolment_id].append(lesson)
    return {row.uid: training.end_record(row, signatures[row.uid], lessons[row.pk]) for row in found.values()}


def _sheets(uids: Collection[UUID]) -> Records:
    return {
        row.uid: sealed_sheet(row) | {"content": row.content} for row in Sheet.objects.filter(uid__in=uids).defer("pdf")
    }


def _signatures(field: str, uids: Collection[UUID], **more: str) -> dict[UUID, Signature]:
    """By the name of what was signed."""
    rows = Signature.objects.filter(**{f"{field}__uid__in": uids}, **more).select_related(field)
    return {getattr(row, field).uid: row for row in rows}


REBUILDERS: dict[str, Rebuilder] = {
    Seal.Kind.LESSON: _lessons,
    Seal.Kind.ACKNOWLEDGEMENT: _acknowledgements,
    Seal.Kind.RELEASE: _releases,
    Seal.Kind.WITHDRAWAL: _withdrawals,
    Seal.Kind.ENDORSEMENT: _endorsements,
    Seal.Kind.UNENDORSED: _unendorsed,
    Seal.Kind.TEST: _tests,
    Seal.Kind.REVIEW: _reviews,
    Seal.Kind.SET_ASIDE: _set_aside,
    Seal.Kind.ASKED_AGAIN: _asked_again,
    Seal.Kind.END: _ends,
    Seal.Kind.SHEET: _sheets,
}
