"""Find rows that must have a seal and have none, and rows that contradict their own signature: one query each."""

from collections.abc import Iterator

from django.db.models import Exists, F, Model, OuterRef, Q, QuerySet

from grading.models import FlightTrack, Release, Seal, SetAside, Sheet, Signature
from lessons.models import DiscardedLesson, Endorsement, Enrolment, KnowledgeTest, Lesson


def unsealed_rows() -> Iterator[str]:
    """Yield a sentence for each row that must be sealed and is not."""
    for kind, rows in _must_be_sealed():
        # NOT EXISTS by the unique index of kind and subject. A row that was inserted past the application has no seal,
        # and no walk along the chain would ever meet it.
        seals = Seal.objects.filter(kind=kind, subject=OuterRef("uid"))
        for row in rows.filter(~Exists(seals)).order_by("pk"):
            yield f"{row} ({kind.label}): it has no seal"


def _must_be_sealed() -> list[tuple[Seal.Kind, QuerySet[Model]]]:
    withdrawn = Q(withdrawn_at__isnull=False)
    tracks = FlightTrack.objects.defer("positions", "ways").select_related("lesson__enrolment__student")
    return [
        (Seal.Kind.LESSON, Lesson.objects.signed().select_related("enrolment__student")),
        (
            Seal.Kind.ACKNOWLEDGEMENT,
            # The student's alone: any other signature lies inside the sealed record of what was signed.
            Signature.objects.filter(lesson__isnull=False, capacity=Signature.Capacity.STUDENT),
        ),
        (Seal.Kind.RELEASE, Release.objects.select_related("enrolment__student")),
        (Seal.Kind.WITHDRAWAL, Release.objects.filter(withdrawn).select_related("enrolment__student")),
        (
            Seal.Kind.CONFIRMED,
            Release.objects.filter(withdrawal_read_at__isnull=False).select_related("enrolment__student"),
        ),
        (Seal.Kind.ENDORSEMENT, Endorsement.objects.select_related("enrolment__student")),
        (Seal.Kind.UNENDORSED, Endorsement.objects.filter(withdrawn).select_related("enrolment__student")),
        (Seal.Kind.TEST, KnowledgeTest.objects.select_related("enrolment__student")),
        (Seal.Kind.SET_ASIDE, SetAside.objects.select_related("enrolment__student")),
        (Seal.Kind.ASKED_AGAIN, SetAside.objects.filter(withdrawn).select_related("enrolment__student")),
        (Seal.Kind.DISCARDED, DiscardedLesson.objects.select_related("enrolment__student")),
        (Seal.Kind.TRACK, tracks.filter(lesson__signed_at__isnull=False)),
        (Seal.Kind.TRACK_REMOVED, tracks.filter(removed_at__isnull=False)),
        (
            Seal.Kind.END,
            # By the signature of the chief instructor: training may have ended and not be certified yet.
            Enrolment.objects.filter(
                pk__in=Signature.objects.filter(enrolment__isnull=False).values("enrolment")
            ).select_related("student", "syllabus"),
        ),
        # Without bytes and content, which are the largest columns and say nothing about the seal.
        (Seal.Kind.SHEET, Sheet.objects.defer("pdf", "content").select_related("enrolment__student", "instructor")),
    ]


def signature_mismatches() -> Iterator[str]:
    """Yield lessons without their signature, or signed by another person or at another time than it says."""
    rows = Signature.objects.filter(lesson__isnull=False, capacity=Signature.Capacity.INSTRUCTOR)
    other = Q(lesson__signed_at=None) | ~Q(lesson__signed_at=F("signed_at")) | ~Q(lesson__signed_by=F("person"))
    for row in rows.filter(other).select_related("lesson__enrolment__student").order_by("pk"):
        assert row.lesson is not None
        if row.lesson.signed_at is None:
            yield f"{row.lesson}: it was un-signed, though {row.name} signed it"
        else:
            yield f"{row.lesson}: it is signed otherwise than the signature of {row.name} says"
    # The other direction: a lesson that was marked as signed past the application has no row in the query above.
    signed = Signature.objects.filter(lesson=OuterRef("pk"), capacity=Signature.Capacity.INSTRUCTOR)
    for lesson in Lesson.objects.signed().filter(~Exists(signed)).select_related("enrolment__student").order_by("pk"):
        yield f"{lesson}: it counts as signed, and there is no signature under it"
