"""Import records that were made elsewhere: stored as their exact text, sealed as one batch, final."""

from dataclasses import dataclass, field
from datetime import date, datetime

from django.db import transaction

from grading.evidence import chain, lesson_payload
from grading.exchange.handover.package import HandOverPackage, build_package
from grading.exchange.handover.preview import find_known_records, open_hand_over
from grading.exchange.handover.record_checks import ReceivedLesson, read_lesson
from grading.exchange.handover.record_format import BadRecord, RecordEntry
from grading.models import PendingUpload, ReceivedBatch, ReceivedRecord, Seal
from lessons import actions as lesson_actions
from lessons.models import EarlierTraining, Syllabus
from school import actions as school_actions
from school import journal
from school.errors import Refusal
from school.models import AircraftType, Person, Role

FORMAT = 1
MEANING = "These records were made elsewhere. They were imported unchanged; nobody here signed them."


@dataclass(frozen=True)
class NewStudent:
    """The person to add when the student of a file is not here yet; names and birth are those of the file."""

    reference: str
    username: str


@dataclass(frozen=True)
class NewEnrolment:
    """The enrolment to make together with importing a record."""

    syllabus: Syllabus
    aircraft_type: AircraftType
    instructor: Person
    on: date


@dataclass(frozen=True)
class BatchOrigin:
    """Where a batch came from. `digest` is the SHA-256 of the file, in hex."""

    source: ReceivedBatch.Source
    school: str
    student_name: str
    student_reference: str
    file_name: str
    digest: str
    signature: str = ""
    rows: list[RecordEntry] = field(default_factory=list)


@transaction.atomic
def save_upload(*, kind: str, name: str, content: bytes, by: Person, at: datetime) -> PendingUpload:
    """Store a file until a person imports or discards it, so that it is uploaded only once."""
    # Stored before it is imported, so that the person confirms exactly the bytes that the preview showed.
    upload = PendingUpload.objects.create(
        kind=kind, name=name[:200] or "unnamed", content=content, uploaded_at=at, uploaded_by=by
    )
    journal.record(by=by, at=at, what="file uploaded", subject=upload, after={"kind": kind, "name": upload.name})
    return upload


@transaction.atomic
def discard_upload(*, upload: PendingUpload, by: Person, at: datetime) -> None:
    upload = lock_upload(upload)
    journal.record(by=by, at=at, what="upload discarded", subject=upload, before={"name": upload.name})
    upload.delete()


def lock_upload(upload: PendingUpload) -> PendingUpload:
    """Lock the upload until the end of the transaction; refuse one that somebody imported meanwhile."""
    # filter().first() instead of get(): the row may have been deleted by whoever held the lock before.
    locked = PendingUpload.objects.select_for_update(of=("self",)).filter(pk=upload.pk).first()
    if locked is None:
        raise Refusal("This file has since been imported or discarded. Nothing was imported twice.")
    return locked


@transaction.atomic
def hand_over_record(*, student: Person, on: date, by: Person, at: datetime) -> HandOverPackage:
    """Return a student's whole record as a file; the journal records who took a copy and when."""
    package = build_package(student, on, at)
    journal.record(by=by, at=at, what="record handed over", subject=student, after={"records": package.records})
    return package


@transaction.atomic
def import_handover(
    *,
    upload: PendingUpload,
    student: Person | None,
    new: NewStudent | None,
    by: Person,
    at: datetime,
    new_enrolment: NewEnrolment | None = None,
) -> ReceivedBatch:
    """Import another school's record of a student, for somebody who is here or for a new person.

    Everything is checked again at this moment, and what is here already is left as it is.
    """
    upload = lock_upload(upload)
    try:
        handed = open_hand_over(bytes(upload.content))
    except BadRecord as bad:
        raise Refusal(f"Nothing was imported. {' '.join(bad.problems)}") from bad
    known = find_known_records(handed)
    # A lesson with two texts means that one was altered. Importing either would decide which, and a person must.
    if known.contradictions:
        raise Refusal(f"Nothing was imported. {' '.join(known.contradictions)}")
    # Checked under the lock and not only in the preview: another import may have come between.
    rows = known.new(handed)
    if not rows:
        raise Refusal("Every record of this file is already here: there is nothing to import.")
    if student is None:
        student = _add_student(handed.record.student, new, by, at)
    if new_enrolment is not None:
        # By the action of any enrolment, so that its own checks and its journal entry apply here too.
        lesson_actions.enrol(student=student, **vars(new_enrolment), by=by, at=at)
    origin = BatchOrigin(
        source=ReceivedBatch.Source.SCHOOL,
        school=handed.record.school.name[:200],
        student_name=handed.record.student.name,
        student_reference=handed.record.student.reference,
        file_name=upload.name,
        digest=handed.digest,
        signature=handed.signed.words,
        rows=rows,
    )
    batch = receive_records(student=student, origin=origin, by=by, at=at)
    upload.delete()
    return batch


def _add_student(there: object, new: NewStudent | None, by: Person, at: datetime) -> Person:
    if new is None:
        raise Refusal("Choose whose record this is: somebody who is here, or a new person.")
    # From the file and not from the form: the new person must be the one whose records follow.
    names = {name: getattr(there, name) for name in ("given_name", "family_name", "born")}
    return school_actions.add_person(
        **names, username=new.username, reference=new.reference, roles=[Role.STUDENT], by=by, at=at
    )


@transaction.atomic
def receive_records(*, student: Person, origin: BatchOrigin, by: Person, at: datetime) -> ReceivedBatch:
    """Store some records as one batch of one student, with the lessons that they describe, and seal them."""
    batch = ReceivedBatch.objects.create(
        student=student,
        **{name: value for name, value in vars(origin).items() if name != "rows"},
        received_at=at,
        received_by=by,
    )
    ReceivedRecord.objects.bulk_create(
        _received_record(batch, place, row) for place, row in enumerate(origin.rows, start=1)
    )
    # A record that cannot be read as a lesson is stored all the same: a later version may read its text.
    lessons = [lesson for row in origin.rows if (lesson := read_lesson(row)) is not None]
    EarlierTraining.objects.bulk_create(_earlier_training(lesson, batch, by, at) for lesson in lessons)
    # One seal for the batch with the fingerprint of each record: every text is bound, and a thousand records are one
    # link.
    chain.seal(kind=Seal.Kind.RECEIVED, subject=batch.uid, record=_batch_record(batch, origin, by, at), at=at)
    after = {"from": origin.school, "records": len(origin.rows), "lessons": len(lessons), "digest": origin.digest}
    journal.record(by=by, at=at, what="records received", subject=batch, after=after)
    return batch


def _received_record(batch: ReceivedBatch, place: int, row: RecordEntry) -> ReceivedRecord:
    hands = [
        {
            "school": hand.school,
            "seal": hand.seal,
            "digest": hand.digest,
            "received_at": hand.received_at.isoformat(),
        }
        for hand in row.hands
    ]
    return ReceivedRecord(
        batch=batch,
        place=place,
        kind=row.kind,
        record_date=row.date,
        school=row.school[:200],
        canonical=row.canonical,
        fingerprint=row.fingerprint,
        seal_number=row.seal,
        previous=row.previous,
        digest=row.digest,
        sealed_on=row.sealed_at,
        hands=hands,
    )


def _earlier_training(lesson: ReceivedLesson, batch: ReceivedBatch, by: Person, at: datetime) -> EarlierTraining:
    words = {name: value for name, value in vars(lesson).items() if name != "counted"}
    return EarlierTraining(
        student=batch.student, batch=batch.uid, **words, **lesson.counted, recorded_at=at, recorded_by=by
    )


def _batch_record(batch: ReceivedBatch, origin: BatchOrigin, by: Person, at: datetime) -> dict[str, object]:
    return {
        "format": FORMAT,
        "record": "records received",
        "id": str(batch.uid),
        "student": lesson_payload.person_reference(batch.student),
        "source": origin.source.value,
        "school": origin.school,
        # As the other school named the student: a person decided that it is the same one, and an auditor can check
        # that.
        "student_there": {"name": origin.student_name, "reference": origin.student_reference},
        "file": {"name": origin.file_name, "digest": origin.digest, "signature": origin.signature},
        "records": [{"kind": row.kind, "school": row.school, "fingerprint": row.fingerprint} for row in origin.rows],
        "received_by": lesson_payload.person_reference(by),
        "received_at": lesson_payload.utc_timestamp(at),
        "meaning": MEANING,
    }
