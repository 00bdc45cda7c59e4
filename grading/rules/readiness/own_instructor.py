"""Say whose student this is: a stage check is flown with somebody who is none of them."""

from collections import Counter
from collections.abc import Iterable

from grading.rules.readiness.facts import LessonFact
from lessons.rules.scale import UnitKind


def own_instructors(lessons: Iterable[LessonFact], named: str | None = None) -> frozenset[str]:
    """Return the instructor the facts name, or else everyone who gave the most dual lessons; empty without any.

    Two who taught as often are both the student's own. Whoever is chosen between them, by the alphabet or by the order
    of the lessons, the other one could pass as the second instructor of a stage check.
    """
    if named:
        return frozenset({named})
    taught = Counter(row.instructor for row in lessons if row.kind is UnitKind.DUAL)
    most = max(taught.values(), default=0)
    return frozenset(name for name, count in taught.items() if count == most)
