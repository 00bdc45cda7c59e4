"""Lay out the facts as they were at the end of a day, in the order flown."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property
from operator import attrgetter
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
from grading.rules.readiness.success_rules import COMMON_RULE, SuccessRule, rule_of
from lessons.rules.scale import Help, Level, UnitKind

Derived = TypeVar("Derived")

# Three clean attempts are common practice: they count where a standard asks for no number.
COMMON_CLEAN_ATTEMPTS = 3


class FlownAttempt(NamedTuple):
    """Place one attempt where it was flown. `circuit` None: a manoeuvre by itself."""

    lesson: LessonFact
    circuit: CircuitFact | None
    attempt: AttemptFact


@dataclass(frozen=True)
class History:
    """What was signed by the end of the day `on`, and what the standard says of it.

    lessons: every signed one; circuits: those that count, with the lesson of each; brought_forward: the same of lessons
    from before this record that were decided to count, the newest last. set_aside: the latest decision of
    each requirement; clean_needed: attempts without a fault that close it; rules: what each part that the standard asks
    for must show.
    """

    facts: Facts
    standard: StandardSpec
    on: date
    lessons: tuple[LessonFact, ...]
    circuits: tuple[tuple[LessonFact, CircuitFact], ...]
    brought_forward: tuple[tuple[LessonFact, CircuitFact], ...]
    set_aside: dict[str, SetAsideFact]
    clean_needed: int
    rules: Mapping[str, SuccessRule]

    @classmethod
    def from_facts(cls, facts: Facts, standard: StandardSpec, on: date) -> "History":
        """Select and order what counts by the end of a day; whatever is dated later is ignored."""
        # By both days: a lesson that was flown before the day and signed after it was no evidence on that day.
        signed = (row for row in facts.lessons if row.on <= on and row.signed is not None and row.signed <= on)
        lessons = tuple(sorted(signed, key=lambda lesson: (lesson.on, lesson.number)))
        types = counted_types(facts, standard)
        circuits = tuple(
            (lesson, circuit.with_control_taken())
            for lesson in lessons
            if counts_as_flown(lesson, types)
            for circuit in sorted(lesson.circuits, key=lambda row: row.number)
            if not circuit.shown
        )
        # Sorted by day, so that the latest decision of a requirement is the one that remains in the dictionary.
        decisions = sorted((row for row in facts.set_aside if row.on <= on), key=lambda row: row.on)
        return cls(
            facts,
            standard,
            on,
            lessons,
            circuits,
            _brought_forward(facts, types, on),
            {row.requirement: row for row in decisions},
            _clean_attempts_needed(standard),
            _rules(standard),
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

    @cached_property
    def attempts(self) -> list[FlownAttempt]:
        """Return every attempt in the order flown: the circuits of a lesson, then what was flown by itself."""
        types = counted_types(self.facts, self.standard)
        flown: list[FlownAttempt] = []
        circuits, place = self.circuits, 0
        for lesson in self.lessons:
            if counts_as_flown(lesson, types):
                while place < len(circuits) and circuits[place][0] is lesson:
                    circuit = circuits[place][1]
                    # Part by part and without a call: this runs for every circuit of every student.
                    for part in (
                        circuit.takeoff, circuit.downwind, circuit.approach, circuit.landing, circuit.go_around
                    ):  # fmt: skip
                        if part is not None:
                            flown.append(FlownAttempt(lesson, circuit, part))
                    place += 1
                flown += [FlownAttempt(lesson, None, row) for row in lesson.manoeuvres]
        return flown

    def numbers(self, *, from_tracks: bool = True) -> dict[str, list[tuple[FlownAttempt, GateNumberFact]]]:
        """Return every number noted, in the order flown, by gate and quantity; those of a flight track on request.

        What the instructor flew after taking control is left out: it says nothing about the student.
        """
        by_gate: dict[str, list[tuple[FlownAttempt, GateNumberFact]]] = {}
        for flown in self.attempts:
            if flown.attempt.help is not Help.TOOK_CONTROL:
                for number in flown.attempt.numbers:
                    if from_tracks or not number.from_track:
                        by_gate.setdefault(number.key, []).append((flown, number))
        return by_gate

    def last_numbers(
        self, key: str, last: int, *, from_tracks: bool = True
    ) -> list[tuple[FlownAttempt, GateNumberFact]]:
        """Return the last numbers noted at a gate and quantity, oldest first, fewer where fewer were noted.

        Those of the newest unit: after a target changes its unit the amounts do not compare. What the instructor flew
        after taking control is left out. `from_tracks`: those that were entered from a flight track too.
        """
        noted: list[tuple[FlownAttempt, GateNumberFact]] = []
        for flown in reversed(self.attempts):
            if flown.attempt.help is Help.TOOK_CONTROL:
                continue
            for number in flown.attempt.numbers:
                if number.key == key and (from_tracks or not number.from_track):
                    if not noted or number.unit == noted[0][1].unit:
                        noted.append((flown, number))
                    break
            if len(noted) == last:
                break
        return noted[::-1]

    def manoeuvre(self, code: str) -> list[FlownAttempt]:
        """Return every attempt at a manoeuvre, in circuits or by itself, in the order flown."""
        return [flown for flown in self.attempts if flown.attempt.manoeuvre == code]

    @cached_property
    def standard_levels(self) -> frozenset[Level]:
        """Return the solo level and those above it, as a set: it is looked up once for every attempt."""
        return frozenset(level for level in Level if level.observed and level.rank >= self.standard.solo_level.rank)

    def is_to_standard(self, attempt: AttemptFact) -> bool:
        """Return whether an attempt counts as to standard: at the solo level, unaided."""
        return attempt.help is Help.NONE and attempt.counted in self.standard_levels

    def judge(self, attempt: AttemptFact) -> bool | None:
        """Return whether an attempt was to standard, None where it says nothing for or against the student.

        Help without a level is a miss, and so is a critical fault: the worst must not pass because one key was left
        out.
        """
        if self.is_to_standard(attempt):
            return True
        missed = attempt.observed or attempt.help is not Help.NONE or attempt.critical
        return False if missed else None

    def newest_outcomes(self, part: str) -> Iterator[tuple[FlownAttempt, bool]]:
        """Yield the attempts at a part that say something, with whether each was to standard, the newest first.

        A circuit without this part, as a go-around may have no landing, is passed over.
        """
        # Backwards and on request, so that the work grows with what is asked for and not with the years flown.
        pick = attrgetter(part)
        for lesson, circuit in reversed(self.circuits):
            attempt = pick(circuit)
            if attempt is not None and (good := self.judge(attempt)) is not None:
                yield FlownAttempt(lesson, circuit, attempt), good

    def newest_evidence(self, part: str) -> Iterator[tuple[FlownAttempt, bool]]:
        """Yield the same, and behind what was signed here what was brought forward, whichever was flown first."""
        yield from self.newest_outcomes(part)
        pick = attrgetter(part)
        for lesson, circuit in reversed(self.brought_forward):
            attempt = pick(circuit)
            if attempt is not None and (good := self.judge(attempt)) is not None:
                yield FlownAttempt(lesson, circuit, attempt), good

    def outcomes(self, part: str) -> list[tuple[FlownAttempt, bool]]:
        """Return the same of the whole history, oldest first."""
        return [*self.newest_outcomes(part)][::-1]


def counted_types(facts: Facts, standard: StandardSpec) -> frozenset[str]:
    """Return the types whose flights count: the one to be flown solo, and those that the school calls similar.

    14 CFR 61.87(c)(2) asks for proficiency in the make and model to be flown or a similar one.
    """
    naming = (spec for spec in standard.requirements if "similar_types" in spec.values)
    return frozenset((facts.aircraft_type.code, *(code for spec in naming for code in spec.words("similar_types"))))


def counts_as_flown(lesson: LessonFact, types: frozenset[str]) -> bool:
    """Return whether what a lesson shows counts: neither on the ground nor in another type."""
    return lesson.kind is not UnitKind.GROUND and lesson.aircraft_type in types


def _brought_forward(facts: Facts, types: frozenset[str], on: date) -> tuple[tuple[LessonFact, CircuitFact], ...]:
    """Return the circuits of earlier lessons that count, from the day of the decision on.

    Their lessons are numbered −1, −2 and so on, so that none is taken for a lesson of this record, and count as signed
    on the day of the decision.
    """
    decided = facts.brought_forward
    if decided is None or decided.on > on:
        return ()
    flown = sorted((row for row in decided.lessons if row.on <= on), key=lambda row: (row.on, row.number))
    return tuple(
        (replace(lesson, number=-place, signed=decided.on), circuit.with_control_taken())
        for place, lesson in enumerate(flown, start=1)
        if counts_as_flown(lesson, types)
        for circuit in sorted(lesson.circuits, key=lambda row: row.number)
        if not circuit.shown
    )


def _clean_attempts_needed(standard: StandardSpec) -> int:
    """Return the attempts without a fault that close it."""
    clean = (spec.number("clean") for spec in standard.requirements if "clean" in spec.values)
    return next(clean, COMMON_CLEAN_ATTEMPTS)


def _rules(standard: StandardSpec) -> dict[str, SuccessRule]:
    """Return the rule of each part that the standard asks for, in the order flown."""
    asked = {spec.words("part")[0]: rule for spec in standard.requirements if (rule := rule_of(spec)) is not None}
    # A standard without any still has circuits to show, and a page needs something to hold them against.
    return {part: asked[part] for part in COUNTED_PARTS if part in asked} or dict.fromkeys(COUNTED_PARTS, COMMON_RULE)
