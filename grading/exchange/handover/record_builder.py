"""Build a student's whole record from the database, in the format of record.json."""

import json
import uuid
from collections import defaultdict
from collections.abc import Iterable
from datetime import date, datetime
from typing import Any

from grading.exchange.handover import archive, record_format
from grading.exchange.handover.soundness import text_fingerprint
from grading.models import FlightTrack, ReceivedBatch, ReceivedRecord, Release, Seal, SetAside, Sheet, Signature
from grading.reading.course_progress import courses_by_enrolment
from lessons.earlier_training import credit_decisions
from lessons.models import (
    AMOUNT_FIELDS,
    CreditDecision,
    EarlierTraining,
    Endorsement,
    Enrolment,
    KnowledgeTest,
    Lesson,
)
from lessons.queries import Course
from school.current import school_day
from school.models import Attachment, Paper, Person, School


def build_record_file(student: Person, on: date, at: datetime) -> record_format.RecordFile:
    """Build everything that is final about one student at this moment. A fixed number of queries."""
    school = School.objects.select_related("aerodrome").get()
    enrolments = list(Enrolment.objects.for_pages().filter(student=student).order_by("enrolled_on", "pk"))
    seals = list(seals_about(student, enrolments))
    return record_format.RecordFile(
        format="student training record",
        version=1,
        made_at=at,
        school=record_format.SchoolEntry(name=school.name, aerodrome=str(school.aerodrome)),
        student=record_format.StudentEntry(
            given_name=student.given_name,
            family_name=student.family_name,
            reference=student.reference,
            born=student.born,
        ),
        enrolments=_enrolments(enrolments, on),
        papers=_papers(student),
        # An erased seal has no text to hand over; its number goes into the summary, so that the gap is explained.
        records=[_sealed_entry(row, school.name) for row in seals if row.canonical],
        received=_received(student, seals, school.name),
        summary=_summary(student, enrolments, [row.number for row in seals if not row.canonical], on),
    )


def seals_about(student: Person, enrolments: Iterable[Enrolment]) -> Iterable[Seal]:
    """Return every seal about one student, in order, selected by its subject and whatever its kind."""
    enrolments = list(enrolments)
    # By subject and whatever the kind, so that a new kind of seal about these rows is handed over without a line here.
    subjects: set[uuid.UUID] = {row.uid for row in enrolments}
    owned: tuple[Any, ...] = (
        Lesson.objects.filter(enrolment__in=enrolments),
        Release.objects.filter(enrolment__in=enrolments),
        SetAside.objects.filter(enrolment__in=enrolments),
        Sheet.objects.filter(enrolment__in=enrolments),
        Endorsement.objects.filter(enrolment__in=enrolments),
        KnowledgeTest.objects.filter(enrolment__in=enrolments),
        FlightTrack.objects.filter(lesson__enrolment__in=enrolments),
        CreditDecision.objects.filter(enrolment__in=enrolments),
        ReceivedBatch.objects.filter(student=student),
        Signature.objects.filter(lesson__enrolment__in=enrolments),
        Signature.objects.filter(release__enrolment__in=enrolments),
        Signature.objects.filter(endorsement__enrolment__in=enrolments),
        Signature.objects.filter(enrolment__in=enrolments),
    )
    for rows in owned:
        subjects.update(rows.values_list("uid", flat=True))
    return Seal.objects.filter(subject__in=subjects).order_by("number")


def _sealed_entry(seal: Seal, school: str) -> record_format.RecordEntry:
    return record_format.RecordEntry(
        kind=seal.kind,
        school=school,
        date=_record_date(seal),
        canonical=seal.canonical,
        fingerprint=text_fingerprint(seal.canonical),
        seal=seal.number,
        previous=seal.previous,
        digest=seal.digest,
        sealed_at=seal.sealed_at,
        hands=[],
    )


def _record_date(seal: Seal) -> date:
    """Return the day that the record names, or else the day it was sealed."""
    named = json.loads(seal.canonical).get("date")
    return date.fromisoformat(named) if isinstance(named, str) else school_day(seal.sealed_at)


def _received(student: Person, seals: list[Seal], school: str) -> list[record_format.RecordEntry]:
    """Return records from earlier schools and from paper, with this school as the last in their custody."""
    taken_in = {seal.subject: seal for seal in seals if seal.kind == Seal.Kind.RECEIVED}
    rows = ReceivedRecord.objects.filter(batch__student=student).select_related("batch").order_by("batch", "place")
    made = []
    for row in rows:
        seal = taken_in.get(row.batch.uid)
        # This school as the last of those that passed it on: the school that receives it can ask each of them in turn.
        here = {
            "school": school,
            "seal": seal.number if seal else None,
            "digest": seal.digest if seal else "",
            "received_at": row.batch.received_at.isoformat(),
        }
        made.append(
            record_format.RecordEntry(
                kind=row.kind,
                school=row.school,
                date=row.record_date,
                canonical=row.canonical,
                fingerprint=row.fingerprint,
                seal=row.seal_number,
                previous=row.previous,
                digest=row.digest,
                sealed_at=row.sealed_on,
                hands=[_custody_entry(hand) for hand in [*row.hands, here]],
            )
        )
    return made


def _custody_entry(hand: dict[str, Any]) -> record_format.CustodyEntry:
    return record_format.CustodyEntry(**hand | {"received_at": datetime.fromisoformat(hand["received_at"])})


def _enrolments(enrolments: list[Enrolment], on: date) -> list[record_format.EnrolmentEntry]:
    courses = courses_by_enrolment(enrolments, on)
    tests: dict[int, list[record_format.WrittenTestEntry]] = {row.pk: [] for row in enrolments}
    given = KnowledgeTest.objects.filter(enrolment__in=enrolments).select_related("aircraft_type", "given_by")
    for test in given.order_by("taken_on", "pk"):
        tests[test.enrolment_id].append(_test(test))
    endorsements: dict[int, list[record_format.EndorsementEntry]] = {row.pk: [] for row in enrolments}
    endorsed = Endorsement.objects.filter(enrolment__in=enrolments).select_related("aircraft_type", "given_by")
    for row in endorsed.order_by("given_on", "pk"):
        endorsements[row.enrolment_id].append(_endorsement(row))
    return [
        record_format.EnrolmentEntry(
            id=str(row.uid),
            syllabus=str(row.syllabus),
            aircraft_type=row.aircraft_type.name,
            instructor=_person_entry(row.instructor),
            enrolled_on=row.enrolled_on,
            ended_on=row.ended_on,
            end=row.end,
            units_complete=_completed_units(courses[row.pk]),
            units=len(courses[row.pk].unit_progress),
            written_tests=tests[row.pk],
            endorsements=endorsements[row.pk],
        )
        for row in enrolments
    ]


def _completed_units(course: Course) -> list[record_format.CompletedUnitEntry]:
    return [
        record_format.CompletedUnitEntry(
            number=row.unit.number,
            title=row.unit.title,
            how="flown" if row.is_earned else "credited",
            reason="" if row.is_earned else row.credited,
        )
        for row in course.unit_progress
        if row.complete
    ]


def _person_entry(person: Person) -> record_format.PersonEntry:
    return record_format.PersonEntry(name=person.name, reference=person.reference)


def _test(row: KnowledgeTest) -> record_format.WrittenTestEntry:
    return record_format.WrittenTestEntry(
        title=row.title,
        taken_on=row.taken_on,
        aircraft_type=row.aircraft_type.name,
        topics=list(row.topics),
        questions=row.questions,
        wrong=row.wrong,
        reviewed_on=row.reviewed_on,
        given_by=_person_entry(row.given_by),
    )


def _endorsement(row: Endorsement) -> record_format.EndorsementEntry:
    return record_format.EndorsementEntry(
        kind=row.get_kind_display(),
        paragraph=row.paragraph,
        aircraft_type=row.aircraft_type.name,
        text=row.text,
        given_on=row.given_on,
        given_by=_person_entry(row.given_by),
        certificate_number=row.certificate_number,
        withdrawn_at=row.withdrawn_at,
    )


def _papers(student: Person) -> list[record_format.PaperEntry]:
    rows = student_pictures(student)
    sent = {row.sha256 for row in choose_pictures(rows)}
    pictures: dict[int | None, list[record_format.PictureEntry]] = defaultdict(list)
    for row in rows:
        file = row.file_name if row.sha256 in sent else ""
        entry = record_format.PictureEntry(media_type=row.media_type, sha256=row.sha256, file=file)  # type: ignore[arg-type]
        pictures[row.paper_id].append(entry)
    papers = Paper.objects.filter(person=student).order_by("issued", "pk")
    return [_paper(row, pictures[row.pk]) for row in papers]


def student_pictures(student: Person) -> list[Attachment]:
    """Return the pictures of a student's documents without their bytes, in the order they were stored. One query."""
    rows = Attachment.objects.filter(paper__person=student, withdrawn_at=None)
    return list(rows.defer("content").order_by("pk"))


def choose_pictures(rows: list[Attachment]) -> list[Attachment]:
    """Return the newest of these pictures, as many as a file may hold."""
    chosen: dict[str, Attachment] = {}
    left = archive.MAX_PICTURE_BYTES
    for row in reversed(rows):
        # The same file twice is one file of the archive.
        if row.sha256 not in chosen and row.size <= left and len(chosen) < archive.MAX_PICTURES:
            left -= row.size
            chosen[row.sha256] = row
    return list(chosen.values())


def _paper(row: Paper, pictures: list[record_format.PictureEntry]) -> record_format.PaperEntry:
    return record_format.PaperEntry(
        kind=row.get_kind_display(),
        number=row.number,
        medical_class=row.get_medical_class_display(),
        issued=row.issued,
        expires=row.expires,
        recent_experience_until=row.recent_experience_until,
        void_reason=row.void_reason,
        pictures=pictures,
    )


def _summary(student: Person, enrolments: list[Enrolment], erased: list[int], on: date) -> record_format.SummaryEntry:
    # Current versions alone: a corrected lesson would count twice.
    flown = Lesson.objects.filter(enrolment__in=enrolments).signed().current()
    totals = dict.fromkeys(AMOUNT_FIELDS, 0)
    lessons = 0
    for row in flown.values(*AMOUNT_FIELDS):
        lessons += 1
        totals = {name: totals[name] + row[name] for name in AMOUNT_FIELDS}
    carried = dict.fromkeys(AMOUNT_FIELDS, 0)
    for decision in credit_decisions(enrolments, on).values():
        carried = {name: carried[name] + decision.counted[name] for name in AMOUNT_FIELDS}
    earlier = EarlierTraining.objects.filter(student=student).current().totals()
    return record_format.SummaryEntry(
        lessons=lessons,
        flown_here=record_format.TotalsEntry(**totals),
        earlier_training=record_format.TotalsEntry(**earlier),
        brought_forward=record_format.TotalsEntry(**carried),
        erased_seals=erased,
    )
