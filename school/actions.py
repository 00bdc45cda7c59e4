"""Change people, their documents, aircraft and the school's settings. Each change writes its journal entry."""

import uuid as uuids
from datetime import date, datetime
from typing import Any

from django.db import connection, transaction

from school import advisory_locks, journal
from school.attachments import CleanFile, attach, refuse_not_yet_issued
from school.citations import cite
from school.current import school_day
from school.days import zone_names
from school.errors import Refusal
from school.formats import write_day
from school.models import Aerodrome, Aircraft, AircraftType, Paper, Person, Role, School
from school.permissions import can_decide, can_manage_records
from school.reasons import required_text

# The administrator changes the settings, except those that decide about solo: they are the chief instructor's.
ADMIN_SETTINGS = (
    "name",
    "aerodrome",
    "time_zone",
    "speed_unit",
    "length_unit",
    "paper",
    "retention_years",
    "tablet_hours",
)
CHIEF_SETTINGS = ("rule_set", "chief_countersigns")
SETTING_CHOICES = {
    "rule_set": School.RuleSet,
    "speed_unit": School.SpeedUnit,
    "length_unit": School.LengthUnit,
    "paper": School.Paper,
}
# The database refuses fewer as well (school_retention); the rule behind the least number is named in the refusal below.
MIN_RETENTION_YEARS, MAX_RETENTION_YEARS = 5, 99
MAX_TABLET_HOURS = 168  # a week


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
    """Add a person to the school. Without a password the person cannot log in yet."""
    # The lock lets the second of two requests see the first one's row and refuse, not fail on the constraint.
    advisory_locks.lock_names()
    if Person.objects.filter(username__iexact=username).exists():
        raise Refusal(f"The login name {username} belongs to somebody else. Nothing was saved.")
    if Person.objects.filter(reference=reference).exists():
        raise Refusal(f"The school number {reference} belongs to somebody else. Nothing was saved.")
    person = Person.objects.create_user(
        username=username,
        password=password,
        given_name=given_name,
        family_name=family_name,
        reference=reference,
        roles=[role.value for role in roles],
        born=born,
        email=email.lower(),  # stored in lower case, so that addresses compare equal
    )
    after = {"name": person.name, "reference": reference, "roles": person.roles, "born": born}
    journal.record(by=by, at=at, what="person added", subject=person, after=after)
    return person


@transaction.atomic
def create_calendar_address(*, person: Person, at: datetime) -> uuids.UUID:
    """Give the person's calendar a new secret address; the earlier one stops working."""
    key = uuids.uuid4()
    # One column in one statement: nothing else of the request's copy of the person is written back.
    Person.objects.filter(pk=person.pk).update(calendar_key=key)
    # The key stays out of the journal, because it opens the calendar without a log-in.
    journal.record(by=person, at=at, what="calendar address made", subject=person)
    return key


@transaction.atomic
def end_calendar_address(*, person: Person, by: Person, at: datetime) -> None:
    """End the secret address of the person's calendar, if there is one."""
    if Person.objects.filter(pk=person.pk, calendar_key__isnull=False).update(calendar_key=None):
        person.calendar_key = None
        journal.record(by=by, at=at, what="calendar address ended", subject=person, derived=False)


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
    file: CleanFile | None = None,
) -> Paper:
    """Add a document of a person, with its picture. A medical is issued on the day of its examination."""
    refuse_not_yet_issued(issued, at)
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
    if file is not None and by is not None:
        attach(document=paper, file=file, by=by, at=at)
    return paper


@transaction.atomic
def void_paper(*, paper: Paper, reason: str, by: Person, at: datetime) -> Paper:
    """Void a document that was entered wrongly; it stays readable with the reason."""
    # Only the paper is locked, not its person: others may write about the person meanwhile.
    paper = Paper.objects.select_for_update(of=("self",)).get(pk=paper.pk)
    if paper.voided_at:
        raise Refusal(f"This document was already voided on {write_day(school_day(paper.voided_at))}.")
    # The limit is the width of the column.
    reason = required_text(reason, "Write why this entry is wrong: the reason is kept with it.", most=200)
    paper.voided_at, paper.voided_by, paper.void_reason = at, by, reason
    paper.save(update_fields=["voided_at", "voided_by", "void_reason"])
    journal.record(by=by, at=at, what="paper voided", subject=paper, after={"reason": reason})
    return paper


@transaction.atomic
def add_aircraft(
    *, registration: str, type: AircraftType, by: Person, at: datetime, in_service: bool = True
) -> Aircraft:
    """Add an aircraft to the school."""
    # As in add_person: there is no row to lock yet, and the second of two requests gets a sentence and no error.
    advisory_locks.lock_names()
    if Aircraft.objects.filter(registration=registration).exists():
        raise Refusal(f"{registration} is already on record. Nothing was added.")
    aircraft = Aircraft.objects.create(registration=registration, type=type, in_service=in_service)
    after = {"registration": registration, "type": type.code, "in service": in_service}
    journal.record(by=by, at=at, what="aircraft added", subject=aircraft, after=after)
    return aircraft


@transaction.atomic
def change_school(*, changes: dict[str, Any], by: Person, at: datetime) -> School:
    """Change settings of the school, by the names of ADMIN_SETTINGS and CHIEF_SETTINGS.

    Only values that differ are saved and written in the journal.
    """
    school = School.objects.select_for_update(of=("self",)).select_related("aerodrome").get()
    # Only what differs needs a right: the form sends every field, also those that its reader may not change.
    changed = {name: value for name, value in changes.items() if getattr(school, name) != value}
    _refuse_settings(changed, by)
    if not changed:
        return school
    before = {name: _journal_value(getattr(school, name)) for name in changed}
    for name, value in changed.items():
        setattr(school, name, value)
    school.save(update_fields=list(changed))
    after = {name: _journal_value(value) for name, value in changed.items()}
    journal.record(by=by, at=at, what="settings changed", subject=school, before=before, after=after)
    return school


def _refuse_settings(changed: dict[str, Any], by: Person) -> None:
    # Each name is checked against its role here as well: a form that hides a field protects nothing.
    if not can_manage_records(by) and not set(changed) <= set(CHIEF_SETTINGS):
        raise Refusal("Only the administrator can change this. Nothing was changed.")
    if not can_decide(by) and not set(changed) <= set(ADMIN_SETTINGS):
        raise Refusal("Rule set and countersigning decide about solo: the chief instructor changes them.")
    for name, offered in SETTING_CHOICES.items():
        if name in changed and changed[name] not in offered.values:
            raise Refusal(f"“{changed[name]}” cannot be chosen here. Nothing was changed.")
    if "time_zone" in changed:
        refuse_time_zone(changed["time_zone"])
    if "name" in changed and not changed["name"].strip():
        raise Refusal("The school needs a name: it is printed on every sheet.")
    years = changed.get("retention_years", MIN_RETENTION_YEARS)
    if years < MIN_RETENTION_YEARS:
        raise Refusal(
            f"Records are kept for {MIN_RETENTION_YEARS} years or more:"
            f" evidence of citizenship in them is kept that long{cite('49 CFR part 1552')},"
            " and the rules for training records ask for up to three. Nothing was changed."
        )
    if years > MAX_RETENTION_YEARS:
        raise Refusal(f"{years} years is more than a record can be answered for: {MAX_RETENTION_YEARS} at most.")
    hours = changed.get("tablet_hours", MAX_TABLET_HOURS)
    if not 1 <= hours <= MAX_TABLET_HOURS:
        raise Refusal(f"A tablet keeps pages for 1 to {MAX_TABLET_HOURS} hours after its last contact.")
    if "aerodrome" in changed and not changed["aerodrome"].runways.exists():
        raise Refusal(
            f"{changed['aerodrome']} has no runway on record: the wind components are calculated from the runways."
        )


def refuse_time_zone(name: str) -> None:
    """Refuse a name that the program or the database does not know: both work out days."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT EXISTS (SELECT FROM pg_timezone_names WHERE name = %s)", [name])
        [known] = cursor.fetchone()
    if not known or name not in zone_names():
        raise Refusal(f"“{name[:40]}” is not a known time zone: choose one such as America/Chicago.")


def _journal_value(value: Any) -> Any:
    return str(value) if isinstance(value, Aerodrome) else value
