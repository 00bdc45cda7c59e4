"""Build each record again from the tables as they are now, a batch of one kind in a fixed number of queries."""

from collections import defaultdict
from collections.abc import Callable, Collection
from typing import Any
from uuid import UUID

from grading.evidence import lesson_payload
from grading.evidence import training_payloads as training
from grading.evidence.sheet_payload import build_sheet_payload
from grading.evidence.track_payload import build_track_payload, build_track_removal_payload
from grading.models import FlightTrack, Release, Seal, SetAside, Sheet, Signature
from lessons.models import DiscardedLesson, Endorsement, Enrolment, KnowledgeTest, Lesson

RebuiltRecords = dict[UUID, dict[str, Any]]
Rebuilder = Callable[[Collection[UUID]], RebuiltRecords]


def _lessons(uids: Collection[UUID]) -> RebuiltRecords:
    # Only lessons with their signature: one that lost it is not rebuilt, and the audit reports its record as gone.
    signatures = _signatures("lesson", uids, capacity=Signature.Capacity.INSTRUCTOR)
    lessons = list(Lesson.objects.filter(uid__in=signatures).for_pages().select_related("supersedes"))
    seen = lesson_payload.load_lesson_contents(lessons)
    return {row.uid: lesson_payload.build_lesson_payload(row, signatures[row.uid], seen[row.pk]) for row in lessons}


def _acknowledgements(uids: Collection[UUID]) -> RebuiltRecords:
    rows = Signature.objects.filter(uid__in=uids, lesson__isnull=False).select_related("lesson")
    return {row.uid: lesson_payload.build_acknowledgement_payload(row) for row in rows}


def _releases(uids: Collection[UUID]) -> RebuiltRecords:
    signatures = _signatures("release", uids)
    rows = Release.objects.filter(uid__in=signatures).select_related(
        "enrolment__student", "aircraft_type", "aerodrome", "endorsed_by"
    )
    return {row.uid: lesson_payload.build_release_payload(row, signatures[row.uid]) for row in rows}


def _withdrawals(uids: Collection[UUID]) -> RebuiltRecords:
    # A withdrawal that somebody undid in the table is not rebuilt either, and so is found.
    rows = Release.objects.filter(uid__in=uids, withdrawn_at__isnull=False).select_related("withdrawn_by")
    return {row.uid: lesson_payload.build_release_withdrawal_payload(row) for row in rows}


def _withdrawal_confirmations(uids: Collection[UUID]) -> RebuiltRecords:
    rows = Release.objects.filter(uid__in=uids, withdrawal_read_at__isnull=False).select_related("enrolment__student")
    return {row.uid: lesson_payload.build_withdrawal_confirmation_payload(row) for row in rows}


def _endorsements(uids: Collection[UUID]) -> RebuiltRecords:
    signatures = _signatures("endorsement", uids)
    rows = Endorsement.objects.filter(uid__in=signatures).select_related(
        "enrolment__student", "aircraft_type", "aerodrome", "given_by"
    )
    return {row.uid: training.build_endorsement_payload(row, signatures[row.uid]) for row in rows}


def _endorsement_withdrawals(uids: Collection[UUID]) -> RebuiltRecords:
    rows = Endorsement.objects.filter(uid__in=uids, withdrawn_at__isnull=False).select_related("withdrawn_by")
    return {row.uid: training.build_endorsement_withdrawal_payload(row) for row in rows}


def _tests(uids: Collection[UUID]) -> RebuiltRecords:
    rows = KnowledgeTest.objects.filter(uid__in=uids).select_related(
        "enrolment__student", "unit", "aircraft_type", "given_by", "recorded_by"
    )
    found = {row.uid: row for row in rows}
    # Asked after the rows: a review that comes between is then not yet in the row, or in both.
    reviews = Seal.objects.filter(kind=Seal.Kind.REVIEW, subject__in=found)
    later = set(reviews.values_list("subject", flat=True))
    return {uid: training.build_written_test_payload(row, reviewed_later=uid in later) for uid, row in found.items()}


def _reviews(uids: Collection[UUID]) -> RebuiltRecords:
    rows = KnowledgeTest.objects.filter(uid__in=uids, reviewed_on__isnull=False).select_related("reviewed_by")
    return {row.uid: training.build_test_review_payload(row) for row in rows}


def _set_aside(uids: Collection[UUID]) -> RebuiltRecords:
    rows = SetAside.objects.filter(uid__in=uids).select_related("enrolment__student", "decided_by")
    return {row.uid: training.build_set_aside_payload(row) for row in rows}


def _set_aside_withdrawals(uids: Collection[UUID]) -> RebuiltRecords:
    rows = SetAside.objects.filter(uid__in=uids, withdrawn_at__isnull=False).select_related("withdrawn_by")
    return {row.uid: training.build_set_aside_withdrawal_payload(row) for row in rows}


def _ends_of_training(uids: Collection[UUID]) -> RebuiltRecords:
    signatures = _signatures("enrolment", uids)
    enrolments = Enrolment.objects.filter(uid__in=signatures, ended_on__isnull=False).for_pages()
    found = {row.pk: row for row in enrolments}
    lessons: dict[int, list[Lesson]] = defaultdict(list)
    for lesson in Lesson.objects.filter(enrolment__in=found).signed().order_by("number", "version"):
        assert lesson.signed_at is not None
        # Corrections signed after the certification are legitimate and were not in what the chief instructor certified.
        if lesson.signed_at <= signatures[found[lesson.enrolment_id].uid].signed_at:
            lessons[lesson.enrolment_id].append(lesson)
    return {
        row.uid: training.build_end_of_training_payload(row, signatures[row.uid], lessons[row.pk])
        for row in found.values()
    }


def _discarded_lessons(uids: Collection[UUID]) -> RebuiltRecords:
    rows = DiscardedLesson.objects.filter(uid__in=uids).select_related(
        "enrolment__student", "unit", "instructor", "discarded_by"
    )
    return {row.uid: training.build_discarded_lesson_payload(row) for row in rows}


def _tracks(uids: Collection[UUID]) -> RebuiltRecords:
    rows = FlightTrack.objects.filter(uid__in=uids).defer("positions", "ways")
    return {
        row.uid: build_track_payload(row)
        for row in rows.select_related("lesson__enrolment__student", "aerodrome", "imported_by")
    }


def _track_removals(uids: Collection[UUID]) -> RebuiltRecords:
    rows = FlightTrack.objects.filter(uid__in=uids, removed_at__isnull=False).defer("positions", "ways")
    return {row.uid: build_track_removal_payload(row) for row in rows.select_related("removed_by")}


def _sheets(uids: Collection[UUID]) -> RebuiltRecords:
    return {
        # The content goes along for the first sheets, which were sealed with their whole content.
        row.uid: build_sheet_payload(row) | {"content": row.content}
        for row in Sheet.objects.filter(uid__in=uids).defer("pdf")
    }


def _signatures(field: str, uids: Collection[UUID], **more: str) -> dict[UUID, Signature]:
    """Return the signatures by the id of the record that was signed."""
    rows = Signature.objects.filter(**{f"{field}__uid__in": uids}, **more).select_related(field)
    return {getattr(row, field).uid: row for row in rows}


REBUILDERS: dict[str, Rebuilder] = {
    Seal.Kind.LESSON: _lessons,
    Seal.Kind.ACKNOWLEDGEMENT: _acknowledgements,
    Seal.Kind.RELEASE: _releases,
    Seal.Kind.WITHDRAWAL: _withdrawals,
    Seal.Kind.CONFIRMED: _withdrawal_confirmations,
    Seal.Kind.ENDORSEMENT: _endorsements,
    Seal.Kind.UNENDORSED: _endorsement_withdrawals,
    Seal.Kind.TEST: _tests,
    Seal.Kind.REVIEW: _reviews,
    Seal.Kind.SET_ASIDE: _set_aside,
    Seal.Kind.ASKED_AGAIN: _set_aside_withdrawals,
    Seal.Kind.END: _ends_of_training,
    Seal.Kind.DISCARDED: _discarded_lessons,
    Seal.Kind.TRACK: _tracks,
    Seal.Kind.TRACK_REMOVED: _track_removals,
    Seal.Kind.SHEET: _sheets,
}
