"""Lay out the facts as they were at the end of a day, in the order flown."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import Any, NamedTuple, TypeVar

from grading.rules.readiness.facts import (
    COUNTED_PARTS,
    AttemptFact,
    CircuitFact,
    Facts,
    GateNumberFact,
    LessonFact,
    PaperFact,
    SetAsideFact,
)
from grading.rules.readiness.standard import StandardSpec
from lessons.rules.scale import Help, Level

Derived = TypeVar("Derived")

# Three in a row is common practice: it counts where a standard asks for no number.
COMMON_STREAK = 3
COMMON_CLEAN_ATTEMPTS = 3


class FlownAttempt(NamedTuple):
    """Place one attempt where it was flown. `circuit` None: a manoeuvre by itself."""

    lesson: LessonFact
    circuit: CircuitFact | None
    attempt: AttemptFact


@dataclass(frozen=True)
class History:
    """What was signed by the end of the day `on`, and what the standard says of it.

    set_aside: the latest decision of each requirement; clean_needed: clean attempts that close a fault;
    streaks_needed: how many in a row to standard each counted part needs.
    """

    facts: Facts
    standard: StandardSpec
    on: date
    lessons: tuple[LessonFact, ...]
    circuits: tuple[tuple[LessonFact, CircuitFact], ...]
    set_aside: dict[str, SetAsideFact]
    clean_needed: int
    streaks_needed: Mapping[str, int]

    @classmethod
    def from_facts(cls, facts: Facts, standard: StandardSpec, on: date) -> "History":
        """Select and order what counts by the end of a day; whatever is dated later is ignored."""
        # By both days: a lesson that was flown before the day and signed after it was no evidence on that day.
        signed = (row for row in facts.lessons if row.on <= on and row.signed is not None and row.signed <= on)
        lessons = tuple(sorted(signed, key=lambda lesson: (lesson.on, lesson.number)))
        circuits = tuple(
            (lesson, circuit) for lesson in lessons for circuit in sorted(lesson.circuits, key=lambda row: row.number)
        )
        # Sorted by day, so that the latest decision of a requirement is the one that remains in the dictionary.
        decisions = sorted((row for row in facts.set_aside if row.on <= on), key=lambda row: row.on)
        return cls(
            facts,
            standard,
            on,
            lessons,
            circuits,
            {row.requirement: row for row in decisions},
            _clean_attempts_needed(standard),
            _streaks_needed(standard),
        )

    # That of functools, which is refused where Django may be imported: nothing here waits for a database while it holds
    # the lock.
    @cached_property
    def _derived(self) -> dict[Callable[["History"], Any], Any]:
        return {}

    def derive_once(self, derive: Callable[["History"], Derived]) -> Derived:
        """Return what follows from this history alone, derived on the first call with the function as key.

        Every caller shares the result, so it is only read.
        """
        if derive not in self._derived:
            self._derived[derive] = derive(self)
        derived: Derived = self._derived[derive]
        return derived

    def papers(self, kind: str) -> list[PaperFact]:
        """Return the papers of a kind on record on the day and not void then, the newest last."""
        known = (
            paper
            for paper in self.facts.papers
            if paper.kind == kind
            and paper.issued <= self.on
            and (paper.recorded is None or paper.recorded <= self.on)
            and (paper.void_from is None or paper.void_from > self.on)
        )
        return sorted(known, key=lambda paper: paper.issued)

    def part(self, pick: Callable[[CircuitFact], AttemptFact | None]) -> list[FlownAttempt]:
        """Return one part of every circuit, in the order flown."""
        return [
            FlownAttempt(lesson, circuit, attempt)
            for lesson, circuit in self.circuits
            if (attempt := pick(circuit)) is not None
        ]

    @cached_property
    def attempts(self) -> list[FlownAttempt]:
        """Return every attempt in the order flown: the circuits of a lesson, then what was flown by itself."""
        flown: list[FlownAttempt] = []
        for lesson in self.lessons:
            for circuit in sorted(lesson.circuits, key=lambda row: row.number):
                flown += [FlownAttempt(lesson, circuit, part) for part in circuit.parts]
            flown += [FlownAttempt(lesson, None, row) for row in lesson.manoeuvres]
        return flown

    def numbers(self) -> dict[str, list[tuple[FlownAttempt, GateNumberFact]]]:
        """Return every number noted, in the order flown, by gate and quantity.

        What the instructor flew after taking control is left out: it says nothing about the student.
        """
        by_gate: dict[str, list[tuple[FlownAttempt, GateNumberFact]]] = {}
        for flown in self.attempts:
            if flown.attempt.help is not Help.TOOK_CONTROL:
                for number in flown.attempt.numbers:
                    by_gate.setdefault(number.key, []).append((flown, number))
        return by_gate

    def manoeuvre(self, code: str) -> list[FlownAttempt]:
        """Return every attempt at a manoeuvre, in circuits or by itself, in the order flown."""
        return [flown for flown in self.attempts if flown.attempt.manoeuvre == code]

    @cached_property
    def standard_levels(self) -> frozenset[Level]:
        """Return the solo level and those above it, as a set: it is looked up once for every attempt."""
        return frozenset(level for level in Level if level.observed and level.rank >= self.standard.solo_level.rank)

    def is_to_standard(self, attempt: AttemptFact) -> bool:
        """Return whether an attempt was at the solo level, unaided and without a critical fault."""
        return attempt.level in self.standard_levels and attempt.help is Help.NONE and not attempt.critical


def _clean_attempts_needed(standard: StandardSpec) -> int:
    """Return the clean attempts that close a fault."""
    clean = (spec.number("clean") for spec in standard.requirements if "clean" in spec.values)
    return next(clean, COMMON_CLEAN_ATTEMPTS)


def _streaks_needed(standard: StandardSpec) -> dict[str, int]:
    """Return how many in a row to standard each counted part needs, by the requirement of that part."""
    needed = dict.fromkeys(COUNTED_PARTS, COMMON_STREAK)
    for spec in standard.requirements:
        if spec.check == "in_a_row":
            needed[spec.words("part")[0]] = spec.number("needed")
    return needed
