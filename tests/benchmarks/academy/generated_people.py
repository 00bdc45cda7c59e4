"""The people of the academy: names out of syllables, how each student learns, how each instructor marks."""

import random
from collections import Counter
from dataclasses import dataclass, field
from datetime import date

from grading.simulation.demo.demo_people import Learner, Staff
from school.models import Person

NAME_BEGINNINGS = (
    "Bra",
    "Cel",
    "Dor",
    "Fen",
    "Gal",
    "Hes",
    "Ild",
    "Jor",
    "Kel",
    "Lum",
    "Mor",
    "Nev",
    "Ost",
    "Quil",
    "Tav",
    "Yor",
)
GIVEN_NAME_ENDINGS = ("a", "an", "eth", "ik", "is", "or", "ine", "um", "ael", "ys")
FAMILY_NAME_ENDINGS = ("dahl", "fenn", "gart", "holt", "lind", "mere", "nock", "rath", "stead", "vane", "wick", "zand")
STUDENTS_PER_INSTRUCTOR = 8
LESSONS_PER_DAY = 5


@dataclass
class SimulatedInstructor:
    """An instructor. `severity`: how much less they see in the same flying; `diligence`: the share of circuits with
    numbers. `booked_lessons`: lessons of each day, no more than a day holds."""

    person: Person
    certificate: str
    certificate_valid: str
    severity: float
    diligence: float
    booked_lessons: Counter[date] = field(default_factory=Counter)


def draw_names(draw: random.Random) -> tuple[str, str]:
    """Given and family name."""
    family = draw.choice(NAME_BEGINNINGS) + draw.choice(("", "e", "en", "o")) + draw.choice(FAMILY_NAME_ENDINGS)
    return draw.choice(NAME_BEGINNINGS) + draw.choice(GIVEN_NAME_ENDINGS), family


def draw_staff(students: int, draw: random.Random) -> list[Staff]:
    """The chief instructor, the administrator, and an instructor for every eight students."""
    rows = [Staff("chief", *draw_names(draw), "AC-S-001", ("chief", "instructor"), "CFI-100001")]
    rows.append(Staff("admin", *draw_names(draw), "AC-A-001", ("admin",)))
    for number in range(1, max(3, -(-students // STUDENTS_PER_INSTRUCTOR)) + 1):
        certificate = f"CFI-{200_000 + number}"
        reference = f"AC-I-{number:03d}"
        rows.append(
            Staff(f"teacher{number}", *draw_names(draw), reference, ("instructor",), certificate, draw.random() < 0.3)
        )
    return rows


def draw_learner(number: int, draw: random.Random) -> Learner:
    """Most learn to standard within some thirty circuits, a few slowly, a few never quite."""
    given, family = draw_names(draw)
    return Learner(
        username=f"student{number}",
        given=given,
        family=family,
        reference=f"AC-{number:05d}",
        age=draw.choice((16, 17, 18, 19, 21, 23, 26, 30, 35, 41, 48, 56)),
        instructor="",
        until_unit=18,
        tailwheel=draw.random() < 0.4,
        ceiling=min(1.0, max(0.72, draw.gauss(0.95, 0.06))),
        pace=min(80.0, max(7.0, draw.lognormvariate(3.1, 0.5))),
        slump=draw.random() < 0.1,
        medical_months_ago=draw.randint(0, 50) if draw.random() < 0.15 else draw.randint(0, 3),
    )
