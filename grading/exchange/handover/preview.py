"""Show what an uploaded hand-over file contains and what of it is here already. Nothing is written."""

import hashlib
from collections import Counter
from dataclasses import dataclass

from django.db.models import Q
from django.db.models.functions import Lower
from django.utils.functional import cached_property

from grading.exchange.handover import archive
from grading.exchange.handover.record_checks import (
    ReceivedLesson,
    find_other_students,
    read_lesson,
    without_replaced,
)
from grading.exchange.handover.record_format import BadRecord, RecordEntry, RecordFile, decode_checked_record
from grading.exchange.handover.signature import SignatureCheck, check_signature
from grading.models import ReceivedRecord, Seal
from lessons.models import AMOUNT_FIELDS, EarlierTraining, Lesson
from school.file_reader import PATIENCE_SECONDS, Limits, UnreadableFile, read_file
from school.formats import write_day
from school.models import Person

PACKAGE_READER = "grading.exchange.handover.soundness:find_file_problems"
# The whole record of a student with every printed sheet is checked text by text, at about 9 MB a second.
PACKAGE_LIMITS = Limits(cpu_seconds=12, memory_megabytes=600)


@dataclass(frozen=True)
class HandOverFile:
    """A file that was opened and whose every fingerprint matches. `digest` is the SHA-256 of the file."""

    record: RecordFile
    signed: SignatureCheck
    digest: str
    printed: str

    # Django's own, which holds no lock while it computes.
    @cached_property
    def rows(self) -> list[RecordEntry]:
        """Return the records in the order of storing: first what the school received itself, then what it sealed."""
        # Earlier records first, so that places in the batch follow the way that the records took.
        return [*self.record.received, *self.record.records]

    @cached_property
    def lessons(self) -> list[ReceivedLesson]:
        """Return every version of every lesson in the file, in the order of the days."""
        found = [lesson for row in self.rows if (lesson := read_lesson(row)) is not None]
        return sorted(found, key=lambda lesson: lesson.on)

    @cached_property
    def standing(self) -> list[ReceivedLesson]:
        return without_replaced(self.lessons)

    @property
    def unknown_lesson_count(self) -> int:
        """Count lesson records of an unknown format; they are stored as they are."""
        told = sum(row.kind in ("lesson", "paper_lesson") for row in self.rows)
        return told - len(self.lessons)

    @property
    def totals(self) -> dict[str, int]:
        return {name: sum(lesson.counted[name] for lesson in self.standing) for name in AMOUNT_FIELDS}

    @property
    def kinds(self) -> list[tuple[str, int]]:
        """Count the records of each kind, the most frequent first; known kinds get their own words."""
        known = dict(Seal.Kind.choices) | {"paper_lesson": "lesson on paper"}
        counted = Counter(row.kind for row in self.rows)
        return [(str(known.get(kind, kind.replace("_", " "))), count) for kind, count in counted.most_common()]

    @property
    def schools(self) -> list[tuple[str, int]]:
        return Counter(row.school for row in self.rows).most_common()

    @property
    def name_mismatches(self) -> list[str]:
        """Return what a person must look at before importing the file."""
        return find_other_students(self.record)


def open_hand_over(content: bytes) -> HandOverFile:
    """Open a file; raise BadRecord, with every problem, for one that is not sound, ReadersBusy if none can read it now.

    What takes long is done in a process of its own; what is left here takes a second at most, of any file.
    """
    try:
        problems = read_file(PACKAGE_READER, content, limits=PACKAGE_LIMITS, patience=PATIENCE_SECONDS)
    except UnreadableFile as unreadable:
        raise BadRecord([str(unreadable)]) from unreadable
    if problems:
        raise BadRecord(problems)
    files = archive.open_archive(content)
    record = decode_checked_record(files[archive.RECORD])
    signed = check_signature(files[archive.CHECKSUMS], files.get(archive.SIGNATURE))
    # An absent signature (None) is no reason to refuse: a school without a key hands records over too. A broken one is.
    if signed.holds is False:
        raise BadRecord([signed.words])
    printed = next((name for name in (archive.COMPLETE, archive.PROGRESS) if name in files), "")
    return HandOverFile(record, signed, hashlib.sha256(content).hexdigest(), printed)


@dataclass(frozen=True)
class KnownRecords:
    """Which records of a file are here: imported earlier, sealed by this school's own chain, or contradicting it."""

    received: frozenset[str]
    own: frozenset[str]
    contradictions: tuple[str, ...]

    def new(self, handed: HandOverFile) -> list[RecordEntry]:
        return [row for row in handed.rows if row.fingerprint not in self.received | self.own]


def find_known_records(handed: HandOverFile) -> KnownRecords:
    """Find what of a file is here already. Four queries."""
    rows = handed.rows
    received = ReceivedRecord.objects.filter(fingerprint__in=[row.fingerprint for row in rows])
    here = frozenset(received.values_list("fingerprint", flat=True))
    # By the digest of the seal, which is unique and indexed in the chain; the fingerprint of a text is no column there.
    links = {row.digest: row.fingerprint for row in rows if row.digest}
    sealed = Seal.objects.filter(digest__in=links).values_list("digest", flat=True)
    own = frozenset(links[digest] for digest in sealed)
    return KnownRecords(here, own, tuple(_contradictions(handed, here | own)))


def _contradictions(handed: HandOverFile, here: frozenset[str]) -> list[str]:
    """Return lessons that are here with another text: one of the two was altered, and a person must find out which."""
    # The id is the same and the text is not: a record with an equal text is in `here` already.
    new = {row.lesson_uid: row for row in handed.lessons if row.lesson_uid and row.fingerprint not in here}
    earlier = EarlierTraining.objects.filter(lesson_uid__in=new).values_list("lesson_uid", flat=True)
    own = Lesson.objects.filter(uid__in=new, signed_at__isnull=False).values_list("uid", flat=True)
    return [
        f"The lesson of {write_day(new[uid].on)}, {new[uid].unit}, is here already with another text."
        for uid in sorted({uid for uid in (*earlier, *own) if uid}, key=lambda uid: new[uid].on)
    ]


def student_candidates(record: RecordFile) -> list[tuple[Person, str]]:
    """Return students here who may be the person of the file, with the reason. One query."""
    student = record.student
    # A name alone proposes nobody, because two people may share it. The person who imports chooses in any case.
    numbered = Q(reference=student.reference)
    named = Q(given=student.given_name.lower(), family=student.family_name.lower(), born=student.born)
    rows = Person.objects.annotate(given=Lower("given_name"), family=Lower("family_name"))
    found = rows.filter(numbered | named if student.born else numbered).order_by("pk")
    return [(row, _match_reason(row, record)) for row in found if row.is_student]


def _match_reason(person: Person, record: RecordFile) -> str:
    student = record.student
    same = [
        word
        for word, holds in (
            ("name", person.name.lower() == student.name.lower()),
            ("date of birth", bool(student.born) and person.born == student.born),
            ("school number", person.reference == student.reference),
        )
        if holds
    ]
    return "same " + " and ".join(filter(None, [", ".join(same[:-1]), same[-1]]))
