"""This module lists the levels that the instructor kept against a number, and counts those given by one key."""

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from django.db.models import Count, Q

from grading.models import Attempt
from grading.rules.gate_words import amount_with_side
from grading.rules.readiness.facts import AttemptFact, GateNumberFact
from grading.rules.readiness.history import FlownAttempt, History
from lessons.models import Lesson
from lessons.rules.units import DisplayUnits, convert_for_display


@dataclass(frozen=True)
class KeptLevel:
    """One such attempt: where it was flown, what spoke against its level, and the instructor's reason."""

    flown: FlownAttempt
    against: str

    @property
    def where(self) -> str:
        circuit = f", circuit {self.flown.circuit.number}" if self.flown.circuit else ""
        return f"Lesson {self.flown.lesson.number}{circuit}: {self.flown.attempt.manoeuvre.replace('_', ' ')}"


def kept_levels(history: History, units: DisplayUnits) -> list[KeptLevel]:
    """Return the attempts whose level would be lower without the instructor's word for it, the newest first."""
    kept = [flown for flown in history.attempts if flown.attempt.kept and _is_lowered(flown.attempt)]
    return [KeptLevel(flown, "; ".join(_against(flown.attempt, units))) for flown in reversed(kept)]


def count_levels_by_closing(lessons: Iterable[Lesson]) -> tuple[int, int]:
    """Return how many levels of the circuits were given together by the key that closes one, of how many."""
    given = Attempt.objects.filter(lesson__in=lessons, circuit__isnull=False, level__isnull=False)
    counts = given.aggregate(together=Count("pk", filter=Q(by_closing=True)), levels=Count("pk"))
    return counts["together"], counts["levels"]


def _is_lowered(attempt: AttemptFact) -> bool:
    return bool(attempt.not_done) or attempt.outside


def _against(attempt: AttemptFact, units: DisplayUnits) -> list[str]:
    words = [_number_words(number, units) for number in attempt.numbers if number.counts and number.outside]
    return words + [f"not done: {code.replace('-', ' ').replace('_', ' ')}" for code in attempt.not_done]


def _number_words(number: GateNumberFact, units: DisplayUnits) -> str:
    """Return '9 kt slow at final'."""
    amount = convert_for_display(Fraction(abs(number.amount)), number.unit, units)
    said = amount_with_side(amount, units.unit_for(number.unit), number.quantity, over=number.amount > 0)
    return f"{said} at {number.gate.replace('-', ' ')}"
