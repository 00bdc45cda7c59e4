"""Change aircraft in service, aerodromes and runways. Values that flights on record rest on are not changed."""

from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import models, transaction
from django.utils.text import slugify

from school import advisory_locks, journal
from school.errors import Refusal
from school.models import Aerodrome, Aircraft, AircraftType, Obstacle, Person, Runway
from school.permissions import can_manage_places

AERODROME_FIELDS = ("ident", "name", "elevation_ft", "variation_deg", "circuit_height_ft")
TYPE_FIELDS = ("flaps", "horsepower")
ALL_TYPE_FIELDS = (
    "name",
    "tailwheel",
    "retractable",
    "constant_speed_propeller",
    "flaps",
    "horsepower",
    "seats",
    "stall_landing_kt",
    "stall_clean_kt",
    "demonstrated_crosswind_kt",
)
MAX_CODE_LENGTH = 20
RUNWAY_FIELDS = ("designator", "heading_magnetic", "length_ft", "circuit")
RUNWAY_PLACE_FIELDS = ("threshold_latitude", "threshold_longitude", "heading_true", "aiming_point_ft")
OBSTACLE_FIELDS = ("name", "before_ft", "side_ft", "height_ft")


@transaction.atomic
def set_in_service(*, aircraft: Aircraft, in_service: bool, reason: str, by: Person, at: datetime) -> Aircraft:
    """Take an aircraft out of service, for a written reason, or put it back."""
    refuse_unless_manager(by)
    aircraft = Aircraft.objects.select_for_update(of=("self",)).select_related("type").get(pk=aircraft.pk)
    if aircraft.in_service == in_service:
        return aircraft
    if not in_service and not reason.strip():
        raise Refusal("Write why it is out of service: the reason is kept in the journal.")
    aircraft.in_service = in_service
    aircraft.save(update_fields=["in_service"])
    what = "aircraft put in service" if in_service else "aircraft taken out of service"
    after = {"reason": reason.strip()} if reason.strip() else None
    journal.record(by=by, at=at, what=what, subject=aircraft, after=after)
    return aircraft


@transaction.atomic
def add_aerodrome(*, by: Person, at: datetime, **fields: Any) -> Aerodrome:
    """Add an aerodrome, by the names of AERODROME_FIELDS."""
    refuse_unless_manager(by)
    _refuse_duplicate_ident(fields["ident"])
    aerodrome = Aerodrome.objects.create(**fields)
    journal.record(by=by, at=at, what="aerodrome added", subject=aerodrome, after=_journal_values(fields))
    return aerodrome


@transaction.atomic
def edit_aerodrome(*, aerodrome: Aerodrome, changes: dict[str, Any], by: Person, at: datetime) -> Aerodrome:
    """Change an aerodrome. Its indicator is in signed records, so it is not changed once a record uses it."""
    refuse_unless_manager(by)
    aerodrome = Aerodrome.objects.select_for_update().get(pk=aerodrome.pk)
    # Its own runways do not count, or no aerodrome with a runway could have its indicator corrected.
    if changes.get("ident", aerodrome.ident) != aerodrome.ident and is_referenced(aerodrome, besides=(Runway,)):
        raise Refusal(
            f"{aerodrome.ident} is used in the records: its indicator cannot be changed. Nothing was changed."
        )
    if changes.get("ident", aerodrome.ident) != aerodrome.ident:
        _refuse_duplicate_ident(changes["ident"])
    _apply_changes(aerodrome, changes, AERODROME_FIELDS, "aerodrome changed", by, at)
    return aerodrome


@transaction.atomic
def add_runway(*, aerodrome: Aerodrome, by: Person, at: datetime, **fields: Any) -> Runway:
    """Add one direction of a runway, by the names of RUNWAY_FIELDS."""
    refuse_unless_manager(by)
    aerodrome = Aerodrome.objects.select_for_update().get(pk=aerodrome.pk)  # one runway at a time
    if aerodrome.runways.filter(designator=fields["designator"]).exists():
        raise Refusal(f"{aerodrome.ident} has a runway {fields['designator']} already. Nothing was added.")
    runway = Runway.objects.create(aerodrome=aerodrome, **fields)
    journal.record(by=by, at=at, what="runway added", subject=runway, after=_journal_values(fields))
    return runway


@transaction.atomic
def edit_runway(*, runway: Runway, changes: dict[str, Any], by: Person, at: datetime) -> Runway:
    """Change one direction. Wind on record rests on designator and heading, so a runway that was flown keeps both."""
    refuse_unless_manager(by)
    # The aerodrome first, as in add_runway: two directions that are renamed at one moment are compared one by one.
    Aerodrome.objects.select_for_update().get(pk=runway.aerodrome_id)
    runway = Runway.objects.select_for_update(of=("self",)).select_related("aerodrome").get(pk=runway.pk)
    fixed = [name for name in ("designator", "heading_magnetic") if changes.get(name) != getattr(runway, name)]
    # Its own obstacles do not count: no wind on record rests on them.
    if fixed and is_referenced(runway, besides=(Obstacle,)):
        raise Refusal(
            f"Runway {runway.designator} has been used: its designator and heading cannot be changed. Enter a"
            " renumbered runway as a new one. Nothing was changed."
        )
    taken = runway.aerodrome.runways.filter(designator=changes.get("designator")).exclude(pk=runway.pk)
    if taken.exists():
        raise Refusal(f"{runway.aerodrome.ident} has a runway {changes['designator']} already. Nothing was changed.")
    _refuse_aim_beyond(changes.get("length_ft", runway.length_ft), runway.aiming_point_ft)
    _apply_changes(runway, changes, RUNWAY_FIELDS, "runway changed", by, at)
    return runway


@transaction.atomic
def place_runway(
    *, runway: Runway, place: dict[str, Any], obstacles: list[dict[str, Any]], by: Person, at: datetime
) -> Runway:
    """Record where a runway lies, by RUNWAY_PLACE_FIELDS, and all of its obstacles, by OBSTACLE_FIELDS."""
    refuse_unless_manager(by)
    runway = Runway.objects.select_for_update(of=("self",)).select_related("aerodrome").get(pk=runway.pk)
    # As it is stored now: the form compared with the length that it was shown.
    _refuse_aim_beyond(runway.length_ft, place.get("aiming_point_ft", runway.aiming_point_ft))
    _apply_changes(runway, place, RUNWAY_PLACE_FIELDS, "position of a runway changed", by, at)
    before = list(runway.obstacles.order_by("pk").values(*OBSTACLE_FIELDS))
    if before != obstacles:
        runway.obstacles.all().delete()
        Obstacle.objects.bulk_create(Obstacle(runway=runway, **row) for row in obstacles)
        journal.record(
            by=by,
            at=at,
            what="obstacles of a runway changed",
            subject=runway,
            before={"obstacles": before},
            after={"obstacles": obstacles},
        )
    return runway


@transaction.atomic
def add_type(*, by: Person, at: datetime, **fields: Any) -> AircraftType:
    """Add an aircraft type, by the names of ALL_TYPE_FIELDS. Its code is made of its name."""
    refuse_unless_manager(by)
    advisory_locks.lock_names()
    _refuse_duplicate_type(fields["name"])
    aircraft_type = AircraftType.objects.create(code=free_type_code(fields["name"]), **fields)
    after = _journal_values({"code": aircraft_type.code, **fields})
    journal.record(by=by, at=at, what="aircraft type added", subject=aircraft_type, after=after)
    return aircraft_type


@transaction.atomic
def edit_type(*, aircraft_type: AircraftType, changes: dict[str, Any], by: Person, at: datetime) -> AircraftType:
    """Correct a type that nothing rests on yet. Gates, enrolments and lessons rest on its numbers."""
    refuse_unless_manager(by)
    aircraft_type = AircraftType.objects.select_for_update().get(pk=aircraft_type.pk)
    if is_type_used(aircraft_type):
        raise Refusal(
            f"{aircraft_type} has gates or students: its figures are changed by a new issue. Nothing was changed."
        )
    advisory_locks.lock_names()
    if changes["name"] != aircraft_type.name:
        _refuse_duplicate_type(changes["name"])
    _apply_changes(aircraft_type, changes, ALL_TYPE_FIELDS, "aircraft type changed", by, at)
    return aircraft_type


def is_type_used(aircraft_type: AircraftType) -> bool:
    """Return whether anything rests on the numbers of a type; aircraft of it do not."""
    return is_referenced(aircraft_type, besides=(Aircraft,))


def _refuse_duplicate_type(name: str) -> None:
    if AircraftType.objects.filter(name__iexact=name).exists():
        raise Refusal(f"{name} is a type of the school already. Nothing was changed.")


def free_type_code(name: str) -> str:
    """Return a code that no type has; a name without letters of the alphabet still gets one."""
    stem = slugify(name)[:MAX_CODE_LENGTH].strip("-") or "type"
    taken = set(AircraftType.objects.values_list("code", flat=True))
    number, code = 1, stem
    while code in taken:
        number += 1
        code = f"{stem[: MAX_CODE_LENGTH - len(str(number)) - 1].strip('-')}-{number}"
    return code


@transaction.atomic
def record_type_features(
    *, aircraft_type: AircraftType, flaps: bool, horsepower: int, by: Person, at: datetime
) -> AircraftType:
    """Record what nobody knew of a type and what asks for an endorsement before solo; verdicts are derived anew."""
    refuse_unless_manager(by)
    aircraft_type = AircraftType.objects.select_for_update().get(pk=aircraft_type.pk)
    if aircraft_type.horsepower is not None:
        raise Refusal(f"The horsepower of the {aircraft_type} is on record: other figures come as a new issue.")
    changes = {"flaps": flaps, "horsepower": horsepower}
    _apply_changes(aircraft_type, changes, TYPE_FIELDS, "aircraft type changed", by, at)
    return aircraft_type


def _refuse_aim_beyond(length_ft: int, aiming_point_ft: int | None) -> None:
    if aiming_point_ft is not None and aiming_point_ft >= length_ft:
        raise Refusal(
            f"The aiming point lies {aiming_point_ft:,} ft past the threshold, and the runway would be {length_ft:,} ft"
            " long: change the aiming point first, under “Position and obstacles”. Nothing was changed."
        )


def _apply_changes(
    row: Aerodrome | Runway | AircraftType,
    changes: dict[str, Any],
    names: tuple[str, ...],
    what: str,
    by: Person,
    at: datetime,
) -> None:
    changed = {name: changes[name] for name in names if name in changes and getattr(row, name) != changes[name]}
    if not changed:
        return
    before = _journal_values({name: getattr(row, name) for name in changed})
    for name, value in changed.items():
        setattr(row, name, value)
    row.save(update_fields=list(changed))
    journal.record(by=by, at=at, what=what, subject=row, before=before, after=_journal_values(changed))


def is_referenced(row: models.Model, besides: tuple[type[models.Model], ...] = ()) -> bool:
    """Return whether a row of any other table refers to this one, also in apps that this one must not import."""
    links = [field for field in row._meta.get_fields(include_hidden=True) if field.one_to_many]
    return any(
        link.related_model._default_manager.filter(**{link.field.name: row}).exists()  # type: ignore[union-attr]
        for link in links
        if link.related_model not in besides
    )


def refuse_unless_manager(by: Person) -> None:
    if not can_manage_places(by):
        raise Refusal("Only the administrator and the chief instructor manage aircraft and aerodromes.")


def _journal_values(fields: dict[str, Any]) -> dict[str, Any]:
    return {name: str(value) if isinstance(value, Decimal) else value for name, value in fields.items()}


def _refuse_duplicate_ident(ident: str) -> None:
    advisory_locks.lock_names()
    if Aerodrome.objects.filter(ident=ident).exists():
        raise Refusal(f"An aerodrome {ident} is already on record. Nothing was changed.")
