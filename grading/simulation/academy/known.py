"""What the readiness engine would read of one student, kept while it is made.

Asking the database on every Friday would mean waiting until it has written everything before.
"""

from functools import cache

from grading.models import SetAside
from grading.reading import fact_mapping
from grading.rules.readiness import Facts
from grading.rules.readiness import facts as fact
from grading.simulation.academy.flown import Flown, Try
from lessons.models import Endorsement, Enrolment, Fault, KnowledgeTest, Manoeuvre
from lessons.rules.scale import Help, Level
from school.models import Paper


class Known:
    """`lessons`: the last signed version of each, by its number."""

    def __init__(self) -> None:
        self.papers: list[Paper] = []
        self.tests: list[KnowledgeTest] = []
        self.endorsements: list[Endorsement] = []
        self.set_aside: list[SetAside] = []
        self.lessons: dict[int, fact.Lesson] = {}

    def add(self, flown: Flown, manoeuvres: dict[str, Manoeuvre]) -> None:
        """A lesson that was just signed."""
        seen = [
            fact_mapping.Seen(row.circuit, row.part, manoeuvres[row.code].items, _attempt(row)) for row in flown.tries
        ]
        circuits = ((number, number, ending) for number, ending in flown.circuits)
        self.lessons[flown.lesson.number] = fact_mapping.lesson(flown.lesson, circuits, seen)

    def facts(self, enrolment: Enrolment) -> Facts:
        papers = tuple(map(fact_mapping.paper, self.papers))
        return fact_mapping.facts(
            enrolment, papers, self.tests, self.endorsements, tuple(self.lessons.values()), self.set_aside
        )


def _attempt(row: Try) -> fact.Attempt:
    if not row.noted:
        return _without_numbers(row.code, row.level, row.help, _faults(row.fault))
    numbers = tuple(fact_mapping.number(noted.target, noted.seen) for noted in row.noted)
    return fact.Attempt(row.code, row.level, row.help, _faults(row.fault), "", numbers)


@cache
def _without_numbers(code: str, level: Level, help_: Help, faults: tuple[fact.Fault, ...]) -> fact.Attempt:
    """One and the same for all that are alike: a few hundred for millions of tries."""
    return fact.Attempt(code, level, help_, faults)


def _faults(fault: Fault | None) -> tuple[fact.Fault, ...]:
    return (fact.Fault(fault.code, fault.name, fault.critical),) if fault else ()
