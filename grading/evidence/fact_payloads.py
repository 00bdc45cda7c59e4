"""Describe the facts that verdicts and records rest on and that are no records themselves, as they stand in the tables.

Standards, gates, scales, syllabuses, documents and their pictures, signing certificates, enrolments, people, aircraft
types and documents of aircraft. A fact is
sealed when it first stands and at each change; `FACT_KINDS` names its table, and which acts of the journal may change
which of its values. Another change has no account, and the audit names it.
"""

import hashlib
import uuid
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from typing import Any

from django.db import models
from django.db.models import Func, Value

from grading.evidence.lesson_payload import utc_timestamp
from grading.models import Standard
from lessons.gate_draft import raw_from_spec
from lessons.loading import gate_set_spec, syllabus_form
from lessons.models import Enrolment, GateSet, GradeScale, Syllabus
from lessons.syllabus_file import to_content
from school.models import AircraftPaper, AircraftType, Attachment, JournalEntry, Paper, Person, SigningCertificate

Values = dict[str, Any]


@dataclass(frozen=True)
class FactKind:
    """A table whose rows are facts.

    `rows`: those that are in force; `describe`: the values of one; `changes`: by act of the journal, the values that it
    may change, None for those that the entry itself names.
    """

    name: str
    model: type[models.Model]
    describe: Callable[[Any], Values]
    rows: Callable[[], models.QuerySet[Any]]
    changes: Mapping[str, Collection[str] | None] = field(default_factory=dict)

    @property
    def table(self) -> str:
        return self.model._meta.db_table

    @property
    def label(self) -> str:
        return self.model._meta.label_lower

    def subject(self, pk: int) -> uuid.UUID:
        """Return the subject of the seals of a row; the database computes the same from its table and key."""
        return uuid.UUID(hashlib.md5(f"{self.table}:{pk}".encode(), usedforsecurity=False).hexdigest())

    def changed_by(self, entry: JournalEntry) -> set[str]:
        """Return the values that an entry of the journal accounts for."""
        allowed = self.changes.get(entry.what, ())
        return set(entry.after or {}) if allowed is None else set(allowed)


def _plain(row: models.Model, *names: str) -> Values:
    """Return columns as text, numbers and None, as they are sealed."""
    values = {name: getattr(row, name) for name in names}
    return {name: value if isinstance(value, str | int | None) else str(value) for name, value in values.items()}


def _standard(row: Standard) -> Values:
    return _plain(row, "key", "rule_set", "valid_from") | {"content": row.content}


def _gates(row: GateSet) -> Values:
    return {"type": row.aircraft_type.code, "issue": row.issue, **raw_from_spec(gate_set_spec(row))}


def _scale(row: GradeScale) -> Values:
    return _plain(row, "code", "issue", "title", "rule", "solo") | {"steps": row.steps}


def _syllabus(row: Syllabus) -> Values:
    return {"published_on": str(row.published_on), **to_content(syllabus_form(row))}


def _paper(row: Paper) -> Values:
    plain = ("kind", "number", "medical_class", "issued", "expires", "recent_experience_until", "void_reason")
    return {
        "person": row.person_id,
        **_plain(row, *plain),
        "recorded_at": utc_timestamp(row.recorded_at),
        "recorded_by": row.recorded_by_id,
        "voided_at": utc_timestamp(row.voided_at),
        "voided_by": row.voided_by_id,
    }


def _certificate(row: SigningCertificate) -> Values:
    return _plain(row, "fingerprint", "pem", "demonstration") | {"first_used_at": utc_timestamp(row.first_used_at)}


def _enrolment(row: Enrolment) -> Values:
    return {
        "student": row.student_id,
        "syllabus": f"{row.syllabus.code} {row.syllabus.issue}",
        "type": row.aircraft_type.code,
        "instructor": row.instructor_id,
        **_plain(row, "enrolled_on", "for_lapl", "ended_on", "end"),
    }


def _person(row: Person) -> Values:
    # No name: it decides nothing, and every signed record has it as it was on its day.
    # The digest of the password's hash: whoever exchanges it in the table to sign as this person logs in with it, which
    # the journal says, and the signature seals the exchange before itself.
    login = hashlib.sha256(row.password.encode()).hexdigest()[:16]
    return _plain(row, "reference", "born") | {"roles": sorted(row.roles), "login": login}


def _type(row: AircraftType) -> Values:
    figures = _plain(
        row,
        "code",
        "tailwheel",
        "retractable",
        "constant_speed_propeller",
        "flaps",
        "horsepower",
        "stall_landing_kt",
        "stall_clean_kt",
        "demonstrated_crosswind_kt",
    )
    # The first issue has no number in its seal, and seats only where they are known: types were sealed before both.
    later = _plain(row, "issue", "valid_from") | {"earlier_issues": row.earlier_issues} if row.issue > 1 else {}
    seats = {} if row.seats is None else {"seats": row.seats}
    return figures | seats | later


def _aircraft_document(row: AircraftPaper) -> Values:
    return {
        "aircraft": row.aircraft_id,
        **_plain(row, "kind", "number", "issued", "expires", "due_at_hours", "void_reason"),
        "recorded_at": utc_timestamp(row.recorded_at),
        "recorded_by": row.recorded_by_id,
        "voided_at": utc_timestamp(row.voided_at),
        "voided_by": row.voided_by_id,
    }


def _attachment(row: Any) -> Values:
    return {
        "document": row.paper_id,
        "aircraft_document": row.aircraft_paper_id,
        # Of the bytes as they lie in the table, and not what the row says of them.
        "sha256": row.found_sha256,
        **_plain(row, "media_type", "withdraw_reason"),
        "recorded_at": utc_timestamp(row.recorded_at),
        "recorded_by": row.recorded_by_id,
        "withdrawn_at": utc_timestamp(row.withdrawn_at),
        "withdrawn_by": row.withdrawn_by_id,
    }


def _attachments() -> models.QuerySet[Any]:
    """Return attachments with the digest of their bytes, worked out by the database: the bytes stay there."""
    digest = Func(Func("content", function="sha256"), Value("hex"), function="encode", output_field=models.CharField())
    return Attachment.objects.defer("content").annotate(found_sha256=digest)


FACT_KINDS = (
    FactKind("standard", Standard, _standard, lambda: Standard.objects.all()),
    FactKind("scale", GradeScale, _scale, lambda: GradeScale.objects.all()),
    FactKind(
        "syllabus",
        Syllabus,
        _syllabus,
        lambda: Syllabus.objects.filter(published_on__isnull=False).select_related("scale"),
    ),
    FactKind("gates", GateSet, _gates, lambda: GateSet.objects.filter(published=True).select_related("aircraft_type")),
    FactKind(
        "document",
        Paper,
        _paper,
        lambda: Paper.objects.all(),
        {"paper voided": ("voided_at", "voided_by", "void_reason")},
    ),
    FactKind("signing certificate", SigningCertificate, _certificate, lambda: SigningCertificate.objects.all()),
    FactKind(
        "enrolment",
        Enrolment,
        _enrolment,
        lambda: Enrolment.objects.select_related("syllabus", "aircraft_type"),
        {
            "instructor changed": ("instructor",),
            "moved to another syllabus": ("syllabus",),
            "enrolment ended": ("ended_on", "end"),
        },
    ),
    FactKind(
        "person",
        Person,
        _person,
        lambda: Person.objects.all(),
        {
            "roles changed": ("roles",),
            "person changed": None,
            "password changed": ("login",),
            "password set anew by letter": ("login",),
            "invitation accepted": ("login",),
        },
    ),
    FactKind(
        "aircraft type",
        AircraftType,
        _type,
        lambda: AircraftType.objects.all(),
        {"aircraft type changed": None, "figures of a type issued": None},
    ),
    FactKind(
        "aircraft document",
        AircraftPaper,
        _aircraft_document,
        lambda: AircraftPaper.objects.select_related("aircraft"),
        {"aircraft document voided": ("voided_at", "voided_by", "void_reason")},
    ),
    FactKind(
        "attachment",
        Attachment,
        _attachment,
        _attachments,
        {"attachment withdrawn": ("withdrawn_at", "withdrawn_by", "withdraw_reason")},
    ),
)
KINDS_BY_NAME = {kind.name: kind for kind in FACT_KINDS}
KINDS_BY_LABEL = {kind.label: kind for kind in FACT_KINDS}
