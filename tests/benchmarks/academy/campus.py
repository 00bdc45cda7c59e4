"""The ground on which the lives of students run: what all of them share."""

import itertools
import random
from collections.abc import Callable
from datetime import date, datetime
from typing import Generic, TypeVar

from grading.rules.readiness.standard import StandardSpec
from grading.simulation.demo.catalogue import Catalogue
from school.models import Aerodrome, Aircraft, AircraftType, Runway
from tests.benchmarks.academy.bulk_copy import BulkTables
from tests.benchmarks.academy.desk import Desk
from tests.benchmarks.academy.generated_people import SimulatedInstructor
from tests.benchmarks.academy.lesson_generator import LessonGenerator
from tests.benchmarks.academy.office import Office
from tests.benchmarks.academy.weather import Weather

SimulatedEvent = tuple[datetime, int, Callable[[], None]]
LifeT = TypeVar("LifeT")


class Campus(Generic[LifeT]):
    """Fleet, weather, instructors and offices, and the lives that run now, ask for a decision or have ended.

    Who builds the academy fills it; a life only reads it and enters itself in the lists.
    """

    types: dict[bool, AircraftType]
    fleet: dict[bool, list[Aircraft]]
    runways: dict[int, Runway]
    home: Aerodrome
    standard: StandardSpec
    catalogue: Catalogue
    teachers: list[SimulatedInstructor]
    lesson_generator: LessonGenerator
    desk: Desk
    office: Office

    def __init__(self, seed: int, today: date) -> None:
        self.seed, self.today = seed, today
        self.tables, self.weather = BulkTables(), Weather(seed)
        self.draw = random.Random(f"{seed} academy")
        self.serials = itertools.count()
        self.active: list[LifeT] = []
        self.candidates: list[LifeT] = []
        self.ended: list[LifeT] = []

    def event(self, at: datetime, happen: Callable[[], None]) -> SimulatedEvent:
        """Return what happens at a moment; the serial keeps what happens at one moment in order."""
        return at, next(self.serials), happen

    def choose_other_instructor(self, teacher: SimulatedInstructor, draw: random.Random) -> SimulatedInstructor:
        return draw.choice([other for other in self.teachers if other is not teacher])
