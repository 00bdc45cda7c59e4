"""What the readiness engine would read of one student, kept while it is made.

Asking the database on every Friday would mean waiting until it has written everything before.
"""

from datetime import UTC
from functools import cache

from grading.models import SetAside
from grading.reading import fact_mapping
from grading.rules.readiness import Facts
from grading.rules.readiness import facts as fact
from lessons.models import Endorsement, Enrolment, Fault, KnowledgeTest, Manoeuvre
from lessons.rules.scale import Help, Level
from school.models import Paper
from tests.benchmarks.academy.lesson_generator import SimulatedLesson, SimulatedTry


class KnownFacts:
    """`lessons`: the last signed version of each, by its number."""

    def __init__(self) -> None:
        self.papers: list[Paper] = []
        self.tests: list[KnowledgeTest] = []
        self.endorsements: list[Endorsement] = []
        self.set_aside: list[SetAside] = []
        self.lessons: dict[int, fact.LessonFact] = {}

    def add(self, flown: SimulatedLesson, manoeuvres: dict[str, Manoeuvre]) -> None:
        """A lesson that was just signed."""
        seen = [
            fact_mapping.PlacedAttempt(row.circuit, row.part, manoeuvres[row.code].items, _attempt(row))
            for row in flown.tries
        ]
        circuits = ((number, number, ending, False) for number, ending in flown.circuits)
        self.lessons[flown.lesson.number] = fact_mapping.map_lesson(flown.lesson, circuits, seen, UTC)

    def facts(self, enrolment: Enrolment) -> Facts:
        papers = tuple(fact_mapping.map_paper(row, UTC) for row in self.papers)
        return fact_mapping.map_facts(
            enrolment, papers, self.tests, self.endorsements, tuple(self.lessons.values()), self.set_aside, UTC
        )


def _attempt(row: SimulatedTry) -> fact.AttemptFact:
    if not row.noted:
        return _without_numbers(row.code, row.level, row.help, _faults(row.fault))
    numbers = tuple(fact_mapping.map_deviation(noted.target, noted.seen, True) for noted in row.noted)
    return fact.AttemptFact(row.code, row.level, row.help, _faults(row.fault), "", numbers)


@cache
def _without_numbers(code: str, level: Level, help_: Help, faults: tuple[fact.FaultFact, ...]) -> fact.AttemptFact:
    """One and the same for all that are alike: a few hundred for millions of tries."""
    return fact.AttemptFact(code, level, help_, faults)


def _faults(fault: Fault | None) -> tuple[fact.FaultFact, ...]:
    return (fact.FaultFact(fault.code, fault.name, fault.critical),) if fault else ()
