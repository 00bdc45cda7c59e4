"""Open a school in an empty installation: once, by a person who can read what the server prints."""

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db import connection, transaction
from django.utils.crypto import constant_time_compare, salted_hmac

from grading.actions.load_standards import FIXTURES, load_standards
from grading.evidence import register
from lessons.loading import load_scales, load_syllabus
from school import actions as school_actions
from school import journal
from school.days import day_of
from school.errors import Refusal
from school.models import Aerodrome, Aircraft, AircraftType, Person, Role, Runway, School
from school.places import free_type_code

OPENING_LOCK = 6_187_142  # any constant: two people cannot open the school at one time


@dataclass(frozen=True)
class HomeAerodrome:
    """Describe the home aerodrome with one runway: feet, degrees east positive, `designator` of one direction."""

    ident: str
    name: str
    elevation_ft: int
    variation_deg: Decimal
    circuit_height_ft: int
    designator: str
    length_ft: int


@dataclass(frozen=True)
class FirstAircraft:
    """Describe the first aircraft type: speeds in knots, from the aircraft's handbook."""

    name: str
    registration: str
    tailwheel: bool
    retractable: bool
    constant_speed_propeller: bool
    flaps: bool
    horsepower: int
    stall_landing_kt: int
    stall_clean_kt: int
    demonstrated_crosswind_kt: int


@dataclass(frozen=True)
class FirstPerson:
    """Describe the first administrator, who may teach and decide too and then holds an instructor certificate."""

    given_name: str
    family_name: str
    reference: str
    username: str
    email: str
    password: str
    teaches: bool
    decides: bool
    certificate_number: str
    certificate_issued: date | None
    certificate_expires: date | None
    recent_experience_until: date | None


def opening_code() -> str:
    """Return the code that only the operator of the server can know: derived from its secret, stored nowhere."""
    # 48 bits: short enough to type, and the page's limit of tries makes guessing hopeless.
    return salted_hmac("school.opening", "code", algorithm="sha256").hexdigest()[:12]


def reciprocal_designator(designator: str) -> str:
    """Return the designator of the opposite direction: 25R for 07L."""
    # Half a turn is 18 tens of degrees, and north is 36 and not 0.
    number = (int(designator[:2]) + 17) % 36 + 1
    return f"{number:02d}{ {'L': 'R', 'R': 'L'}.get(designator[2:], designator[2:]) }"


@transaction.atomic
def open_school(
    *,
    name: str,
    rule_set: str,
    paper: str,
    time_zone: str,
    home: HomeAerodrome,
    aircraft: FirstAircraft,
    first: FirstPerson,
    code: str,
    at: datetime,
) -> School:
    """Create the school with its aerodrome, the project's standards, scales and syllabus, an aircraft and a person."""
    with connection.cursor() as cursor:
        # An advisory lock: in an empty installation there is no row to lock.
        cursor.execute("SELECT pg_advisory_xact_lock(%s)", [OPENING_LOCK])
    if School.objects.exists():
        raise Refusal("This installation already has its school: log in.")
    # Without it the first stranger on the page would own the school; constant time gives no part of the code away.
    if not constant_time_compare(code.strip().lower(), opening_code()):
        raise Refusal(
            "That is not the code: manage.py setup_code prints it on the server. What you typed is still here."
        )
    school_actions.refuse_time_zone(time_zone)
    school = School.objects.create(
        pk=1, name=name, rule_set=rule_set, paper=paper, time_zone=time_zone, aerodrome=_add_aerodrome(home)
    )
    load_standards()
    load_scales(FIXTURES / "scales")
    load_syllabus(FIXTURES / "syllabus/first-solo.json", published_on=day_of(at, school.zone))
    person = _add_first_person(first, at)
    kind = AircraftType.objects.create(
        code=free_type_code(aircraft.name),
        **{key: value for key, value in vars(aircraft).items() if key != "registration"},
    )
    Aircraft.objects.create(registration=aircraft.registration, type=kind)
    after = {"name": name, "rules": rule_set, "time_zone": time_zone}
    journal.record(by=person, at=at, what="school opened", subject=school, after=after)
    # From its first day on facts and journal are sealed: the first seals are of what the school begins with.
    register.open_register(at)
    return school


def _add_aerodrome(home: HomeAerodrome) -> Aerodrome:
    aerodrome = Aerodrome.objects.create(
        ident=home.ident.upper(),
        name=home.name,
        elevation_ft=home.elevation_ft,
        variation_deg=home.variation_deg,
        circuit_height_ft=home.circuit_height_ft,
    )
    for designator in (home.designator.upper(), reciprocal_designator(home.designator.upper())):
        Runway.objects.create(
            aerodrome=aerodrome,
            designator=designator,
            # A runway is named by its magnetic heading in tens of degrees.
            heading_magnetic=int(designator[:2]) * 10,
            length_ft=home.length_ft,
        )
    return aerodrome


def _add_first_person(first: FirstPerson, at: datetime) -> Person:
    roles = [Role.ADMIN]
    if first.teaches or first.decides:
        roles += [Role.INSTRUCTOR]
    if first.decides:
        roles += [Role.CHIEF]
    person = school_actions.add_person(
        username=first.username,
        given_name=first.given_name,
        family_name=first.family_name,
        reference=first.reference,
        email=first.email,
        password=first.password,
        roles=roles,
        # Nobody is logged in yet: in the journal this is an act of the system.
        by=None,
        at=at,
    )
    if first.certificate_number and first.certificate_issued:
        school_actions.record_paper(
            person=person,
            kind="instructor_certificate",
            number=first.certificate_number,
            issued=first.certificate_issued,
            expires=first.certificate_expires,
            recent_experience_until=first.recent_experience_until,
            by=person,
            at=at,
        )
    return person
