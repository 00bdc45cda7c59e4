"""Writes about people, their papers, and aircraft."""

from datetime import date, datetime

from django.db import transaction

from school import journal
from school.errors import Refused
from school.models import Aircraft, AircraftType, Paper, Person, Role


@transaction.atomic
def add_person(
    *,
    username: str,
    given_name: str,
    family_name: str,
    reference: str,
    roles: list[Role],
    by: Person | None,
    at: datetime,
    born: date | None = None,
    email: str = "",
    password: str | None = None,
) -> Person:
    """Add somebody to the school. Without a password the person cannot log in yet."""
    person = Person.objects.create_user(
        username=username,
        password=password,
        given_name=given_name,
        family_name=family_name,
        reference=reference,
        roles=[role.value for role in roles],
        born=born,
        email=email,
    )
    after = {"name": person.name, "reference": reference, "roles": person.roles, "born": born}
    journal.record(by=by, at=at, what="person added", subject=person, after=after)
    return person


@transaction.atomic
def record_paper(
    *,
    person: Person,
    kind: str,
    issued: date,
    by: Person | None,
    at: datetime,
    number: str = "",
    medical_class: str = "",
    expires: date | None = None,
    recent_experience_until: date | None = None,
) -> Paper:
    """Put a document a person holds on record. A medical is issued on the day of its examination."""
    paper = Paper.objects.create(
        person=person,
        kind=kind,
        issued=issued,
        number=number,
        medical_class=medical_class,
        expires=expires,
        recent_experience_until=recent_experience_until,
        recorded_at=at,
        recorded_by=by or person,
    )
    after = {"kind": kind, "number": number, "issued": issued, "expires": expires, "class": medical_class}
    journal.record(by=by, at=at, what="paper recorded", subject=paper, after=after)
    return paper


@transaction.atomic
def void_paper(*, paper: Paper, reason: str, by: Person, at: datetime) -> Paper:
    """Take a wrongly entered paper out of force; it stays readable with the reason."""
    paper = Paper.objects.select_for_update(of=("self",)).get(pk=paper.pk)
    if paper.voided_at:
        raise Refused(f"This paper was already voided on {paper.voided_at:%d %B %Y}.")
    if not reason.strip():
        raise Refused("Write why this entry is wrong: the reason stays with it.")
    paper.voided_at, paper.voided_by, paper.void_reason = at, by, reason.strip()
    paper.save(update_fields=["voided_at", "voided_by", "void_reason"])
    journal.record(by=by, at=at, what="paper voided", subject=paper, after={"reason": reason})
    return paper


@transaction.atomic
def add_aircraft(
    *, registration: str, type: AircraftType, by: Person, at: datetime, in_service: bool = True
) -> Aircraft:
    """Put an aircraft on record."""
    aircraft = Aircraft.objects.create(registration=registration, type=type, in_service=in_service)
    after = {"registration": registration, "type": type.code, "in service": in_service}
    journal.record(by=by, at=at, what="aircraft added", subject=aircraft, after=after)
    return aircraft
