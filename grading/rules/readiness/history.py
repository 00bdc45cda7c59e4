"""The facts as they stood at the end of a day, laid out in the order flown."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import Any, NamedTuple, TypeVar

from grading.rules.readiness.facts import Attempt, Circuit, Facts, Lesson, Number, Paper, SetAside
from grading.rules.readiness.standard import Standard
from lessons.rules.scale import Help, Level

Derived = TypeVar("Derived")


class Flown(NamedTuple):
    """One attempt where it was flown. `circuit` None: a manoeuvre by itself."""

    lesson: Lesson
    circuit: Circuit | None
    attempt: Attempt


@dataclass(frozen=True)
class History:
    facts: Facts
    on: date
    solo_level: Level
    lessons: tuple[Lesson, ...]
    circuits: tuple[tuple[Lesson, Circuit], ...]
    set_aside: dict[str, SetAside]
    clean_needed: int
    row_needed: int

    @classmethod
    def of(cls, facts: Facts, standard: Standard, on: date) -> "History":
        signed = (row for row in facts.lessons if row.on <= on and row.signed is not None and row.signed <= on)
        lessons = tuple(sorted(signed, key=lambda lesson: (lesson.on, lesson.number)))
        circuits = tuple(
            (lesson, circuit) for lesson in lessons for circuit in sorted(lesson.circuits, key=lambda row: row.number)
        )
        decisions = sorted((row for row in facts.set_aside if row.on <= on), key=lambda row: row.on)
        return cls(
            facts,
            on,
            standard.solo_level,
            lessons,
            circuits,
            {row.requirement: row for row in decisions},
            _clean(standard),
            _row(standard),
        )

    @cached_property
    def _derived(self) -> dict[Callable[["History"], Any], Any]:
        return {}

    def once(self, derive: Callable[["History"], Derived]) -> Derived:
        """What follows from this history alone, derived when first asked for. Shared by whoever asks: read it only."""
        if derive not in self._derived:
            self._derived[derive] = derive(self)
        found: Derived = self._derived[derive]
        return found

    def papers(self, kind: str) -> list[Paper]:
        """Papers of a kind on record and in force as documents on the day, the newest last."""
        known = (
            paper
            for paper in self.facts.papers
            if paper.kind == kind
            and paper.issued <= self.on
            and (paper.recorded is None or paper.recorded <= self.on)
            and (paper.void_from is None or paper.void_from > self.on)
        )
        return sorted(known, key=lambda paper: paper.issued)

    def part(self, pick: Callable[[Circuit], Attempt | None]) -> list[Flown]:
        """One part of every circuit, in the order flown."""
        return [
            Flown(lesson, circuit, attempt)
            for lesson, circuit in self.circuits
            if (attempt := pick(circuit)) is not None
        ]

    @cached_property
    def attempts(self) -> list[Flown]:
        """Every attempt in the order flown: the circuits of a lesson, then what was flown by itself."""
        flown: list[Flown] = []
        for lesson in self.lessons:
            for circuit in sorted(lesson.circuits, key=lambda row: row.number):
                flown += [Flown(lesson, circuit, part) for part in circuit.parts]
            flown += [Flown(lesson, None, row) for row in lesson.manoeuvres]
        return flown

    def numbers(self) -> dict[str, list[tuple[Flown, Number]]]:
        """Every number noted, in the order flown, by gate and quantity; what the instructor flew is left out."""
        found: dict[str, list[tuple[Flown, Number]]] = {}
        for flown in self.attempts:
            if flown.attempt.help is not Help.TOOK_CONTROL:
                for number in flown.attempt.numbers:
                    found.setdefault(number.key, []).append((flown, number))
        return found

    def manoeuvre(self, code: str) -> list[Flown]:
        """Every attempt at a manoeuvre, in circuits or by itself, in the order flown."""
        return [flown for flown in self.attempts if flown.attempt.manoeuvre == code]

    @cached_property
    def standard_levels(self) -> frozenset[Level]:
        """The solo level and those above it."""
        return frozenset(level for level in Level if level.observed and level.rank >= self.solo_level.rank)

    def to_standard(self, attempt: Attempt) -> bool:
        """At the solo level, unaided and without a critical fault."""
        return attempt.level in self.standard_levels and attempt.help is Help.NONE and not attempt.critical


def _clean(standard: Standard) -> int:
    """Clean attempts that close a fault, by the standard; three, as is common practice, where it asks for none."""
    return next((spec.number("clean") for spec in standard.requirements if "clean" in spec.values), 3)


def _row(standard: Standard) -> int:
    """The longest row to standard that it asks for; three, as is common practice, where it asks for none."""
    return max((spec.number("needed") for spec in standard.requirements if "needed" in spec.values), default=3)
