"""Collect everything stored about one person as plain JSON values: the answer to a request for access.

Keys of other rows are given in words where those rows are not the person's own. A password's hash is a secret and is
left out; the bytes of a printed sheet are represented by their digest.
"""

import base64
import json
from collections.abc import Iterable
from datetime import datetime
from typing import Any

from allauth.account.models import EmailAddress
from allauth.mfa.models import Authenticator
from allauth.usersessions.models import UserSession
from django.apps import apps
from django.core.serializers.json import DjangoJSONEncoder
from django.db import models
from django.db.models import Q

from grading.evidence.erasure_plan import ERASURE_STEPS, RETAINED_TABLES, condition_for, seals_to_empty
from grading.evidence.lesson_payload import utc_timestamp
from grading.exchange.flight_files.write_gpx import write_gpx
from grading.models import Erasure, FlightTrack, ReceivedBatch, ReceivedRecord, Seal, Sheet
from grading.reading.retention_terms import EnrolmentRetention, load_retention
from lessons.models import EarlierTraining, Enrolment
from lessons.rules.flight_track.packed_track import unpack_positions
from school.models import Attachment, Invitation, JournalEntry, Paper, Person, School

FORMAT_VERSION = 1
# Nobody needs the hash to know what is stored, and a copy that is lost would let others try passwords against it.
SECRET_FIELDS = {"password"}
# A key of a row in one of these tables stays a key: the row is part of the person's own record.
OWN_TABLES = {row.table for row in ERASURE_STEPS}


def collect_personal_data(person: Person, at: datetime) -> dict[str, Any]:
    """Return person, documents, enrolments with all their rows, seals, records from elsewhere, journal, retention."""
    school = School.objects.get()
    enrolments = list(Enrolment.objects.filter(student=person).for_pages().order_by("enrolled_on", "pk"))
    keepings = load_retention(enrolments, school.retention_years)
    data = {
        "form": FORMAT_VERSION,
        "school": school.name,
        "made_at": utc_timestamp(at),
        "person": _rows([person])[0],
        "account": _account(person),
        "papers": _rows(Paper.objects.filter(person=person).order_by("pk")),
        "pictures_of_documents": _pictures(person),
        "enrolments": [_enrolment(keeping) for keeping in keepings],
        "from_elsewhere": _from_elsewhere(person),
        "named_in_lists_of_instructors": _instructor_lists(enrolments),
        "journal": _rows(
            JournalEntry.objects.filter(Q(about_id=person.pk) | Q(person_id=person.pk, about_id=None)).order_by("pk")
        ),
        "erasures": _rows(Erasure.objects.filter(person_id=person.pk).order_by("pk")),
        "kept": retention_notice(keepings),
    }
    # There and back, so that a caller gets plain values only and no model, date or UUID.
    plain: dict[str, Any] = json.loads(json.dumps(data, cls=DjangoJSONEncoder))
    return plain


def retention_notice(keepings: list[EnrolmentRetention]) -> list[dict[str, str]]:
    """Return which data is retained, why, and until when."""
    found = [
        {
            "what": f"record of training, {keeping.enrolment.syllabus}",
            "why": "; ".join(f"{term.what}: {term.years} years ({term.shown_source})" for term in keeping.terms)
            or "training has not ended",
            "until": str(keeping.until) if keeping.until else "counted from the end of training",
        }
        for keeping in keepings
    ]
    person = "until the last record of training is erased, which two people decide after the days above"
    found += [
        {
            "what": "name, e-mail, date of birth, login with second steps and sessions, documents with their pictures",
            "why": "belong to the record",
            "until": person,
        }
    ]
    found += [
        {"what": what, "why": RETAINED_TABLES[table], "until": "without end"}
        for what, table in (
            ("journal", "school_journalentry"),
            ("links of the chain of seals", "grading_seal"),
            ("account of an erasure", "grading_erasure"),
        )
    ]
    return found


def _account(person: Person) -> dict[str, Any]:
    """Describe how the person logs in; of a second step and a session only that they exist (secrets)."""
    return {
        "addresses": list(EmailAddress.objects.filter(user=person).order_by("pk").values("email", "verified")),
        "invitations": _rows(Invitation.objects.filter(person=person).order_by("pk")),
        "second_steps": list(
            Authenticator.objects.filter(user=person).order_by("pk").values("type", "created_at", "last_used_at")
        ),
        "sessions": list(
            UserSession.objects.filter(user=person).order_by("pk").values("ip", "user_agent", "created_at")
        ),
    }


def _pictures(person: Person) -> list[dict[str, Any]]:
    """Return the pictures of the person's documents with their bytes: they are the person's own."""
    rows = list(Attachment.objects.filter(paper__person=person).order_by("pk"))
    copies = [{"content_base64": base64.b64encode(bytes(row.content)).decode()} for row in rows]
    return [told | copy for told, copy in zip(_rows(rows), copies, strict=True)]


def _enrolment(keeping: EnrolmentRetention) -> dict[str, Any]:
    enrolment = keeping.enrolment
    # By the plan of the erasure: what is handed out about an enrolment and what is erased with it is one list.
    # Rows that belong to the person and not to one enrolment are left out, or each enrolment would repeat them.
    stored = {
        row.words: _table_rows(row.table, condition_for(row, enrolment)) for row in ERASURE_STEPS if not row.alone
    }
    if tracks := stored.get("flight tracks"):
        _give_positions(tracks)
    numbers = [seal.pk for seal in seals_to_empty(enrolment)]
    lists = Sheet.objects.filter(instructor__isnull=False).values("uid")  # what is sealed of these is about others too
    seals = Seal.objects.filter(number__in=numbers).exclude(subject__in=lists).order_by("number")
    return {
        "kept_until": keeping.until,
        "may_be_erased_from": keeping.erasable_from,
        "stored": {words: rows for words, rows in stored.items() if rows},
        "seals": [
            {
                "number": seal.number,
                "kind": seal.kind,
                "digest": seal.digest,
                "sealed_at": utc_timestamp(seal.sealed_at),
                "record": json.loads(seal.canonical),
            }
            for seal in seals
        ],
    }


def _give_positions(rows: list[dict[str, Any]]) -> None:
    """Put the positions of flight tracks in as GPX 1.1, which programs for tracks read; ways are drawn from them."""
    kept = FlightTrack.objects.filter(pk__in=[row["id"] for row in rows]).exclude(ways=b"")
    found = {
        track.pk: write_gpx(unpack_positions(bytes(track.positions), by_pressure=track.by_pressure)) for track in kept
    }
    for row in rows:
        row["positions"] = found.get(row["id"], "deleted")
        del row["ways"]


def _from_elsewhere(person: Person) -> dict[str, list[dict[str, Any]]]:
    """Return what was flown elsewhere and the records taken in: they belong to the person and to no one enrolment."""
    return {
        "earlier_training": _rows(EarlierTraining.objects.filter(student=person).order_by("pk")),
        "received_batches": _rows(ReceivedBatch.objects.filter(student=person).order_by("pk")),
        "received_records": _rows(ReceivedRecord.objects.filter(batch__student=person).order_by("pk")),
    }


def _instructor_lists(enrolments: list[Enrolment]) -> list[dict[str, Any]]:
    """Return that lists printed for instructors name this person; the rest of those lists is about others."""
    (named,) = (row for row in ERASURE_STEPS if row.table == Sheet._meta.db_table and row.alone)
    return [
        {"sheet": str(row), "id": row.uid, "printed_at": row.printed_at, "digest": row.digest}
        for row in (_raw(Sheet, condition_for(named, enrolments[0])) if enrolments else [])
    ]


def _table_rows(table: str, condition: str) -> list[dict[str, Any]]:
    model = next(model for model in apps.get_models() if model._meta.db_table == table)
    return _rows(_raw(model, condition))


def _raw(model: type[models.Model], condition: str) -> list[Any]:
    table, key = model._meta.db_table, model._meta.pk.column
    return list(model._default_manager.raw(f"SELECT * FROM {table} WHERE {condition} ORDER BY {key}"))  # noqa: S608


def _rows(rows: Iterable[models.Model]) -> list[dict[str, Any]]:
    """Return each row with its columns; a key of somebody else's row becomes words, with one query a table."""
    rows = list(rows)
    if not rows:
        return []
    fields = [field for field in rows[0]._meta.concrete_fields if field.name not in SECRET_FIELDS]
    words = {field.name: _foreign_labels(field, rows) for field in fields if isinstance(field, models.ForeignKey)}
    return [{field.name: _value(field, row, words.get(field.name)) for field in fields} for row in rows]


def _foreign_labels(field: models.ForeignKey[Any, Any], rows: list[models.Model]) -> dict[Any, str]:
    target = field.related_model
    if target._meta.db_table in OWN_TABLES:
        return {}
    keys = {getattr(row, field.attname) for row in rows} - {None}
    # Related rows come along, because the words of a row often name another one: without them each costs a query.
    return {row.pk: str(row) for row in target._default_manager.filter(pk__in=keys).select_related()}


def _value(field: Any, row: models.Model, words: dict[Any, str] | None) -> Any:
    value = getattr(row, field.attname)
    if isinstance(value, bytes | memoryview):
        # The bytes of a printed sheet would make the answer many times as long.
        return f"{len(bytes(value))} bytes"
    return words.get(value, value) if words else value
