"""What the readiness engine would read of one student, kept while it is made.

Asking the database on every Friday would mean waiting until it has written everything before.
"""

from datetime import UTC, date
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
            fact_mapping.PlacedAttempt(
                row.circuit, row.part, manoeuvres[row.code].items, _attempt(row, manoeuvres[row.code].pk, flown)
            )
            for row in flown.tries
        ]
        circuits = ((row.number, row.number, row.ending, row.shown) for row in flown.circuits)
        self.lessons[flown.lesson.number] = fact_mapping.map_lesson(flown.lesson, circuits, seen, UTC)

    def facts(self, enrolment: Enrolment) -> Facts:
        papers = tuple(fact_mapping.map_paper(row, UTC) for row in self.papers)
        return fact_mapping.map_facts(
            enrolment,
            papers,
            self.tests,
            self.endorsements,
            tuple(self.lessons.values()),
            self.set_aside,
            UTC,
            max((row.on for row in self.lessons.values()), default=date.min),
        )


def _attempt(row: SimulatedTry, manoeuvre: int, flown: SimulatedLesson) -> fact.AttemptFact:
    not_done = (row.watched[0].code,) if row.watched and not row.watched[1] else ()
    if not row.noted:
        return _without_numbers(row.code, row.level, row.help, _faults(row.fault), not_done, row.kept)
    numbers = tuple(
        fact_mapping.map_deviation(
            noted.target, noted.seen, flown.grading_context.counts_from(manoeuvre, noted.target) is None
        )
        for noted in row.noted
    )
    return fact.AttemptFact(row.code, row.level, row.help, _faults(row.fault), "", numbers, not_done, row.kept)


@cache
def _without_numbers(
    code: str, level: Level, help_: Help, faults: tuple[fact.FaultFact, ...], not_done: tuple[str, ...], kept: str
) -> fact.AttemptFact:
    """One and the same for all that are alike: a few hundred for millions of tries."""
    return fact.AttemptFact(code, level, help_, faults, not_done=not_done, kept=kept)


def _faults(fault: Fault | None) -> tuple[fact.FaultFact, ...]:
    return (fact.FaultFact(fault.code, fault.name, fault.critical),) if fault else ()
