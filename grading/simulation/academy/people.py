"""The people of the academy: names out of syllables, how each student learns, how each instructor marks."""

import random
from collections import Counter
from dataclasses import dataclass, field
from datetime import date

from grading.simulation.demo.people import Learner, Staff
from school.models import Person

BEGINS = (
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
GIVEN_ENDS = ("a", "an", "eth", "ik", "is", "or", "ine", "um", "ael", "ys")
FAMILY_ENDS = ("dahl", "fenn", "gart", "holt", "lind", "mere", "nock", "rath", "stead", "vane", "wick", "zand")
STUDENTS_OF_AN_INSTRUCTOR = 8
LESSONS_A_DAY = 5


@dataclass
class Teacher:
    """An instructor. `severity`: how much less they see in the same flying; `diligence`: the share of circuits with
    numbers. `booked`: lessons of each day, no more than a day holds."""

    person: Person
    certificate: str
    certificate_valid: str
    severity: float
    diligence: float
    booked: Counter[date] = field(default_factory=Counter)


def names(draw: random.Random) -> tuple[str, str]:
    """Given and family name."""
    family = draw.choice(BEGINS) + draw.choice(("", "e", "en", "o")) + draw.choice(FAMILY_ENDS)
    return draw.choice(BEGINS) + draw.choice(GIVEN_ENDS), family


def staff(students: int, draw: random.Random) -> list[Staff]:
    """The chief instructor, the records administrator, and an instructor for every eight students."""
    rows = [Staff("chief", *names(draw), "AC-S-001", ("chief", "instructor"), "CFI-100001")]
    rows.append(Staff("admin", *names(draw), "AC-A-001", ("admin",)))
    for number in range(1, max(3, -(-students // STUDENTS_OF_AN_INSTRUCTOR)) + 1):
        certificate = f"CFI-{200_000 + number}"
        reference = f"AC-I-{number:03d}"
        rows.append(
            Staff(f"teacher{number}", *names(draw), reference, ("instructor",), certificate, draw.random() < 0.3)
        )
    return rows


def learner(number: int, draw: random.Random) -> Learner:
    """Most learn to standard within some thirty circuits, a few slowly, a few never quite."""
    given, family = names(draw)
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
