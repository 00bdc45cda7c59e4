"""Change aircraft, the figures of their types and their documents. What a lesson rests on is not changed."""

from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from django.db import transaction

from school import advisory_locks, journal
from school.aircraft_documents import KIND_WORDS
from school.attachments import CleanFile, attach, refuse_not_yet_issued
from school.current import school_day
from school.errors import Refusal
from school.formats import write_day
from school.models import Aircraft, AircraftPaper, AircraftType, Person
from school.models.aircraft import ISSUE_FIELDS
from school.places import is_referenced, is_type_used, refuse_unless_manager
from school.reasons import required_text


def is_aircraft_used(aircraft: Aircraft) -> bool:
    """Return whether anything but its own documents refers to an aircraft: a lesson, to begin with."""
    return is_referenced(aircraft, besides=(AircraftPaper,))


@transaction.atomic
def correct_aircraft(
    *, aircraft: Aircraft, registration: str, type: AircraftType, by: Person, at: datetime
) -> Aircraft:
    """Correct registration and type of an aircraft that no lesson rests on yet."""
    refuse_unless_manager(by)
    advisory_locks.lock_names()
    aircraft = Aircraft.objects.select_for_update(of=("self",)).select_related("type").get(pk=aircraft.pk)
    if aircraft.registration == registration and aircraft.type_id == type.pk:
        return aircraft
    if is_aircraft_used(aircraft):
        raise Refusal(
            f"{aircraft.registration} is in the records of lessons, which name its registration and rest on its type:"
            " both stay. If the registration was wrong, take the aircraft out of service and add the right one."
            " Nothing was changed."
        )
    if Aircraft.objects.filter(registration=registration).exclude(pk=aircraft.pk).exists():
        raise Refusal(f"{registration} is already on record. Nothing was changed.")
    before = {"registration": aircraft.registration, "type": aircraft.type.code}
    aircraft.registration, aircraft.type = registration, type
    aircraft.save(update_fields=["registration", "type"])
    after = {"registration": registration, "type": type.code}
    journal.record(by=by, at=at, what="aircraft changed", subject=aircraft, before=before, after=after)
    return aircraft


@transaction.atomic
def issue_type_figures(
    *, aircraft_type: AircraftType, figures: dict[str, Any], reason: str, by: Person, at: datetime
) -> AircraftType:
    """Put a new issue of the figures of a type in force, by the names of ISSUE_FIELDS, from the day of `at` on.

    Lessons of earlier days keep theirs. An issue of the same day is corrected: no earlier day rests on it.
    """
    refuse_unless_manager(by)
    aircraft_type = AircraftType.objects.select_for_update().get(pk=aircraft_type.pk)
    if not is_type_used(aircraft_type):
        raise Refusal(f"Nothing rests on the {aircraft_type} yet: correct its figures. Nothing was changed.")
    reason = required_text(reason, "Write where the new figures come from: it is kept in the journal.", most=200)
    changed = {name: figures[name] for name in ISSUE_FIELDS if figures[name] != getattr(aircraft_type, name)}
    if not changed:
        raise Refusal("No figure differs from the issue in force. Nothing was changed.")
    today = school_day(at)
    before = {name: getattr(aircraft_type, name) for name in changed}
    if aircraft_type.valid_from != today:
        before |= {"issue": aircraft_type.issue, "valid_from": aircraft_type.valid_from}
        in_force = {name: getattr(aircraft_type, name) for name in (*ISSUE_FIELDS, "issue")}
        in_force["until"] = (today - timedelta(days=1)).isoformat()
        aircraft_type.earlier_issues = [*aircraft_type.earlier_issues, in_force]
        aircraft_type.issue, aircraft_type.valid_from = aircraft_type.issue + 1, today
    for name, value in changed.items():
        setattr(aircraft_type, name, value)
    aircraft_type.save(update_fields=[*changed, "issue", "valid_from", "earlier_issues"])
    after = {name: getattr(aircraft_type, name) for name in (*changed, "issue", "valid_from", "earlier_issues")}
    journal.record(
        by=by,
        at=at,
        what="figures of a type issued",
        subject=aircraft_type,
        before=before,
        after=after | {"reason": reason},
    )
    return aircraft_type


@transaction.atomic
def record_aircraft_paper(
    *,
    aircraft: Aircraft,
    kind: str,
    issued: date,
    by: Person,
    at: datetime,
    number: str = "",
    expires: date | None = None,
    due_at_hours: Decimal | None = None,
    file: CleanFile | None = None,
) -> AircraftPaper:
    """Add a document or an inspection of an aircraft, with its picture. A newer one of its kind takes its place."""
    refuse_unless_manager(by)
    if kind not in KIND_WORDS:
        raise Refusal(f"“{kind[:40]}” is no document of an aircraft. Nothing was saved.")
    refuse_not_yet_issued(issued, at)
    paper = AircraftPaper.objects.create(
        aircraft=aircraft,
        kind=kind,
        number=number,
        issued=issued,
        expires=expires,
        due_at_hours=due_at_hours,
        recorded_at=at,
        recorded_by=by,
    )
    hours = None if due_at_hours is None else str(due_at_hours)
    after = {"kind": kind, "number": number, "issued": issued, "expires": expires, "due at hours": hours}
    journal.record(by=by, at=at, what="aircraft document added", subject=paper, after=after, derived=False)
    if file is not None:
        attach(document=paper, file=file, by=by, at=at)
    return paper


@transaction.atomic
def void_aircraft_paper(*, paper: AircraftPaper, reason: str, by: Person, at: datetime) -> AircraftPaper:
    """Void a document that was entered wrongly; it stays readable with the reason."""
    refuse_unless_manager(by)
    paper = AircraftPaper.objects.select_for_update(of=("self",)).select_related("aircraft").get(pk=paper.pk)
    if paper.voided_at:
        raise Refusal(f"This document was already voided on {write_day(school_day(paper.voided_at))}.")
    reason = required_text(reason, "Write why this entry is wrong: the reason is kept with it.", most=200)
    paper.voided_at, paper.voided_by, paper.void_reason = at, by, reason
    paper.save(update_fields=["voided_at", "voided_by", "void_reason"])
    journal.record(
        by=by, at=at, what="aircraft document voided", subject=paper, after={"reason": reason}, derived=False
    )
    return paper
