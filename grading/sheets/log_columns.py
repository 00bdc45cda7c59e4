"""Divide the lessons of a record into tables and choose their columns: a number has the column of its gate.

A target stands once over its column; lessons with other targets or another aircraft type begin a new table.
"""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any

from lessons.rules.scale import Part
from lessons.rules.units import convert, round_to_step
from school.formats import write_number, write_tolerance

PARTS = (Part.TAKEOFF, Part.DOWNWIND, Part.APPROACH, Part.LANDING)
MOST_COLUMNS = 12  # narrower ones have no room for "1,600" at 8 points
FEW_COLUMNS = 7
SHORT_QUANTITIES = {"distance": "dist.", "propeller": "prop."}
Plain = Mapping[str, Any]


@dataclass(frozen=True)
class NumberColumn:
    """A quantity at a gate, in the unit its numbers were noted in."""

    gate: str
    quantity: str
    unit: str
    target: tuple[str, str, str, str]  # value, over, under, unit: as sealed

    @property
    def key(self) -> tuple[str, str]:
        return self.gate, self.quantity

    @property
    def heading(self) -> list[str]:
        """Return target, unit and tolerance, a line each: "68", "kt", "+10", "−5"."""
        value, over, under = (_in_unit(number, self.target[3], self.unit) for number in self.target[:3])
        # The unit on a line of its own: beside a number of four digits it would not fit over its column.
        return [write_number(value), "degrees" if self.unit == "deg" else self.unit, *write_tolerance(over, under)]

    @property
    def short(self) -> str:
        return SHORT_QUANTITIES.get(self.quantity, self.quantity)


def group_lessons(lessons: Sequence[Plain]) -> Iterator[list[Plain]]:
    """Yield runs of lessons that can stand under one head: same targets, same type, ground lessons in between."""
    run: list[Plain] = []
    targets: dict[tuple[str, str], tuple[str, ...]] = {}
    kind = ""
    for lesson in lessons:
        asked = {(row["gate"], row["quantity"]): target_of(row) for row in _circuit_measures(lesson)}
        other_type = bool(kind and lesson["circuits"] and (lesson["aircraft_type"] or kind) != kind)
        conflict = any(targets.get(key, target) != target for key, target in asked.items())
        begins = bool(lesson["circuits"]) and not any(row["circuits"] for row in run)
        if run and (other_type or conflict or begins):
            yield run
            run, targets = [], {}
        if lesson["circuits"]:
            kind = lesson["aircraft_type"] or kind
        targets |= asked
        run.append(lesson)
    if run:
        yield run


def attempts_of(circuit: Plain) -> Iterator[tuple[str, Plain]]:
    for part in (*PARTS, Part.GO_AROUND):
        if circuit.get(part):
            yield part.value, circuit[part]


def _circuit_measures(lesson: Plain) -> Iterator[Plain]:
    for circuit in lesson["circuits"]:
        for _, attempt in attempts_of(circuit):
            yield from attempt.get("measures", ())


def target_of(row: Plain) -> tuple[str, str, str, str]:
    return row["target"], row["over"], row["under"], row.get("target_unit") or row.get("unit", "")


def choose_columns(lessons: list[Plain], gates: Sequence[str]) -> list[NumberColumn]:
    """Return the numbers noted most often, in the order of the gates."""
    noted: Counter[tuple[str, str]] = Counter()
    units: dict[tuple[str, str], Counter[str]] = {}
    targets: dict[tuple[str, str], tuple[str, str, str, str]] = {}
    for row in (row for lesson in lessons for row in _circuit_measures(lesson)):
        key = row["gate"], row["quantity"]
        noted[key] += 1
        targets[key] = target_of(row)
        units.setdefault(key, Counter())[row.get("unit") or targets[key][3]] += 1
    place = {gate: number for number, gate in enumerate(gates)}
    chosen = sorted(key for key, _ in noted.most_common(MOST_COLUMNS))
    chosen.sort(key=lambda key: place.get(key[0], len(place)))
    return [NumberColumn(*key, units[key].most_common(1)[0][0], targets[key]) for key in chosen]


def gate_name(code: str, content: Plain) -> str:
    name = str(content["names"].get(code) or code.replace("-", " ")).removeprefix("The ")
    name = name.removesuffix(" the point")
    return name[0].upper() + name[1:]


def _in_unit(number: str, unit: str, other: str) -> Decimal:
    """Return a sealed number in another unit, to a tenth, for a person to read."""
    return Decimal(number) if unit == other else round_to_step(Fraction(convert(Decimal(number), unit, other)), "0.1")


def in_sentence(words: str) -> str:
    """Return a title within a sentence; one that begins with an abbreviation stays."""
    return words if words[1:2].isupper() else words[:1].lower() + words[1:]
