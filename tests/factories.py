"""Builds what tests need, through the actions of the project."""

from datetime import UTC, date, datetime, timedelta
from functools import lru_cache
from typing import Any

from grading.actions import recording, signing
from grading.actions.load_standards import FIXTURES, load_standards
from grading.actions.opening import opening_code
from lessons import actions as lesson_actions
from lessons.loading import load_aircraft_type, load_scales, publish_syllabus
from lessons.models import Enrolment, Lesson, Unit
from lessons.rules.scale import Part
from lessons.syllabus_file import SyllabusForm, parse_syllabus
from school import actions as school_actions
from school.models import Aerodrome, Aircraft, Person, Role, Runway, School
from tests.cast import SECRET, Cast


def add_person(
    name: str, number: str, *roles: Role, at: datetime, certificate: str = "", born: date | None = None
) -> Person:
    somebody = school_actions.add_person(
        username=name.lower(),
        given_name=name,
        family_name="Example",
        reference=number,
        roles=list(roles),
        password=SECRET,
        by=None,
        at=at,
        born=born,
    )
    if certificate:
        school_actions.record_paper(
            person=somebody,
            kind="instructor_certificate",
            number=certificate,
            issued=at.date(),
            recent_experience_until=at.date() + timedelta(days=700),
            by=None,
            at=at,
        )
    return somebody


@lru_cache(maxsize=1)
def syllabus_form() -> SyllabusForm:
    """Read once for a whole run: the file is the same for every test."""
    return parse_syllabus((FIXTURES / "syllabus/first-solo.json").read_text())


def build_cast(today: date) -> Cast:
    at = datetime.combine(today - timedelta(days=200), datetime.min.time(), UTC)
    home = Aerodrome.objects.create(ident="ZZZX", name="Test Field", elevation_ft=10)
    runway = Runway.objects.create(aerodrome=home, designator="18", heading_magnetic=180, length_ft=3000)
    School.objects.create(pk=1, name="School of the Tests", aerodrome=home)
    load_standards()
    load_scales(FIXTURES / "scales")
    syllabus = publish_syllabus(syllabus_form(), published_on=at.date())
    kind = load_aircraft_type(FIXTURES / "aircraft/tailwheel.json")
    aircraft = Aircraft.objects.create(registration="QQ-XXA", type=kind)
    amelia = add_person("Amelia", "T-1", Role.CHIEF, Role.INSTRUCTOR, at=at, certificate="C-1")
    bert = add_person("Bert", "T-2", Role.INSTRUCTOR, at=at, certificate="C-2")
    cleo = add_person("Cleo", "T-3", Role.INSTRUCTOR, at=at, certificate="C-3")
    dora = add_person("Dora", "T-4", Role.STUDENT, at=at, born=date(2000, 5, 5))
    emil = add_person("Emil", "T-5", Role.STUDENT, at=at, born=date(2001, 6, 6))
    frida = add_person("Frida", "T-6", Role.ADMIN, at=at)
    enrolments = [
        lesson_actions.enrol(
            student=student, syllabus=syllabus, aircraft_type=kind, instructor=bert, on=at.date(), by=frida, at=at
        )
        for student in (dora, emil)
    ]
    units = {unit.number: unit for unit in Unit.objects.select_related("stage").filter(stage__syllabus=syllabus)}
    return Cast(amelia, bert, cleo, dora, emil, frida, *enrolments, kind, aircraft, runway, units, today)


def begin_lesson(cast: Cast, unit: int = 8, days_ago: int = 0, instructor: Any = None, enrolment: Any = None) -> Lesson:
    teacher = instructor or cast.bert
    return lesson_actions.begin_lesson(
        enrolment=enrolment or cast.enrolment,
        unit=cast.units[unit],
        on=cast.today - timedelta(days=days_ago),
        instructor=teacher,
        by=teacher,
        at=cast.at(9, days_ago),
        aircraft=cast.aircraft,
        runway=cast.runway,
    )


def record_entries(cast: Cast, lesson: Lesson, **entries: str) -> None:
    """tap(cast, lesson, **{"circuit.1.landing.level": "perform"})"""
    recording.record_entries(lesson=lesson, entries=entries, by=lesson.instructor, at=cast.at(10))


def record_circuit(cast: Cast, lesson: Lesson, number: int, level: str = "perform", **more: str) -> None:
    parts = {f"{part.value}.level": level for part in Part if part is not Part.GO_AROUND}
    entries = {**parts, **more, "closed": "on"}
    record_entries(cast, lesson, **{f"circuit.{number}.{name}": value for name, value in entries.items()})


def sign_lesson(cast: Cast, lesson: Lesson, days_ago: int = 0) -> Lesson:
    signing.sign_lesson(lesson=lesson, secret=SECRET, by=lesson.instructor, at=cast.at(11, days_ago))
    lesson.refresh_from_db()
    return lesson


def fly_lesson(cast: Cast, circuits: int = 1, days_ago: int = 0, level: str = "perform", **who: Any) -> Lesson:
    """A signed lesson of unit 8 with some circuits, all at one level."""
    lesson = begin_lesson(cast, 8, days_ago, **who)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0"})
    for number in range(1, circuits + 1):
        record_circuit(cast, lesson, number, level)
    return sign_lesson(cast, lesson, days_ago)


def add_students(cast: Cast, count: int) -> None:
    at, first = cast.at(8, 100), Enrolment.objects.count()
    for number in range(count):
        student = add_person(f"Student{first + number:02}", f"N-{first + number}", Role.STUDENT, at=at)
        lesson_actions.enrol(
            student=student, syllabus=cast.enrolment.syllabus, aircraft_type=cast.type, instructor=cast.bert,
            on=at.date(), by=cast.frida, at=at,
        )  # fmt: skip


def opening_form(**changed: str) -> dict[str, str]:
    return {
        "school-code": opening_code(), "school-name": "A New School", "school-rule_set": "us", "school-paper": "A4",
        "school-time_zone": "America/Chicago",
        "home-ident": "zzzy", "home-name": "New Field", "home-elevation_ft": "120", "home-variation_deg": "-2.5",
        "home-circuit_height_ft": "1000", "home-designator": "07l", "home-length_ft": "2400",
        "aircraft-name": "Trainer 1", "aircraft-registration": "QQ-NEW", "aircraft-tailwheel": "on",
        "aircraft-horsepower": "160", "aircraft-stall_landing_kt": "38", "aircraft-stall_clean_kt": "42",
        "aircraft-demonstrated_crosswind_kt": "12",
        "person-given_name": "Nora", "person-family_name": "First", "person-reference": "N-1",
        "person-username": "nora", "person-email": "", "person-password": SECRET, "duties-decides": "on",
        "duties-certificate_number": "C-9", "duties-certificate_issued": "2026-01-02",
        "duties-recent_experience_until": "2028-01-31",
    } | {name.replace("__", "-"): value for name, value in changed.items()}  # fmt: skip
