"""Find what cannot be true in facts that come from a file: days in the wrong order, absurd amounts, unknown codes.

The tables are read twice: here for the sentences, and by json_format.py for the JSON Schema. The database refuses the
same by its constraints, so facts read from it are not checked again. Pure: today is an argument.
"""

from collections.abc import Callable, Iterator
from datetime import date
from functools import cache
from typing import Any

from grading.rules.readiness.fact_forms import fields_of
from grading.rules.readiness.facts import (
    AircraftTypeFact,
    AttemptFact,
    BroughtForwardFact,
    CircuitFact,
    EndorsementFact,
    Facts,
    FaultFact,
    GateNumberFact,
    KnowledgeTestFact,
    LessonFact,
    PaperFact,
    SetAsideFact,
    StudentFact,
)
from lessons.rules.gate_rules import QUANTITY_UNITS
from lessons.rules.scale import Part
from lessons.rules.units import MINUTES_PER_DAY

# Before and after these years a date is a slip of the hand, and sums of days and years stay inside the calendar.
FIRST_YEAR, LAST_YEAR = 1900, 2200

# The largest number of a lesson or circuit that the database can hold.
MOST_NUMBER = 32767
# Far beyond any gate of a light aeroplane, in whatever unit.
MOST_DEVIATION = 100_000

Field = tuple[type, str]

# Least and most of each amount.
AMOUNTS: dict[Field, tuple[int, int]] = {
    (KnowledgeTestFact, "wrong"): (0, MOST_NUMBER),
    (LessonFact, "number"): (1, MOST_NUMBER),
    (LessonFact, "dual_minutes"): (0, MINUTES_PER_DAY),
    (LessonFact, "solo_minutes"): (0, MINUTES_PER_DAY),
    (CircuitFact, "number"): (1, MOST_NUMBER),
    (GateNumberFact, "amount"): (-MOST_DEVIATION, MOST_DEVIATION),
    (GateNumberFact, "over"): (0, MOST_DEVIATION),
    (GateNumberFact, "under"): (0, MOST_DEVIATION),
    (GateNumberFact, "uncertainty"): (0, MOST_DEVIATION),
}

# The closed lists: a test holds them against the choices of the database. Codes of manoeuvres, faults, gates, training
# items and requirements are data of a school and cannot be known here.
CODES: dict[Field, tuple[str, ...]] = {
    (PaperFact, "kind"): (
        "student_certificate",
        "medical",
        "english",
        "identity",
        "endorsement",
        "instructor_certificate",
    ),
    (PaperFact, "medical_class"): ("1", "2", "3", "lapl"),
    (KnowledgeTestFact, "topics"): ("rules", "aerodrome", "make_and_model"),
    (EndorsementFact, "kind"): (
        "complex",
        "high_performance",
        "pre_solo_training",
        "solo_at_night",
        "solo_nearby",
        "tailwheel",
    ),
    (GateNumberFact, "quantity"): tuple(QUANTITY_UNITS),
}

# An empty code would equal the empty one of a lesson without an aircraft; a name with a space more would be another
# instructor, and two instructors are what a stage check asks for.
WORDS: frozenset[Field] = frozenset(
    {
        (StudentFact, "name"),
        (AircraftTypeFact, "code"),
        (AircraftTypeFact, "name"),
        (KnowledgeTestFact, "aircraft_type"),
        (EndorsementFact, "by"),
        (FaultFact, "code"),
        (GateNumberFact, "gate"),
        (AttemptFact, "manoeuvre"),
        (AttemptFact, "kept"),
        (LessonFact, "instructor"),
        (SetAsideFact, "requirement"),
        (SetAsideFact, "by"),
        (SetAsideFact, "reason"),
        (BroughtForwardFact, "by"),
        (BroughtForwardFact, "reason"),
        (Facts, "own_instructor"),
    }
)
# These may be left out; a space alone would still be no reason to let a level stand.
WORDS_OR_NOTHING: frozenset[Field] = frozenset({(AttemptFact, "kept")})

# The second day is never before the first.
DAYS_IN_ORDER: dict[type, tuple[tuple[str, str], ...]] = {
    PaperFact: (("issued", "expires"), ("recorded", "void_from")),
    KnowledgeTestFact: (("on", "reviewed"),),
    EndorsementFact: (("on", "withdrawn"),),
    LessonFact: (("on", "signed"),),
}

# A document may end in the future; everything else has happened.
DAYS_TO_COME: frozenset[Field] = frozenset({(PaperFact, "expires")})

# Of the lists, the field in which no two entries are equal. Two versions of a lesson are never both facts.
DIFFERENT: dict[Field, tuple[str, ...]] = {
    (Facts, "lessons"): ("number", "id"),
    (BroughtForwardFact, "lessons"): ("number", "id"),
    (LessonFact, "circuits"): ("number",),
}


def contradictions(facts: Facts, today: date | None = None) -> Iterator[str]:
    """Yield a sentence for each contradiction, which names the fields by their paths.

    `today` None: days to come are not looked for.
    """
    yield from _in_fact(facts, "", today)


def _in_fact(fact: Any, path: str, today: date | None) -> Iterator[str]:
    kind: type = type(fact)
    plain, lists, single = _plan(kind)
    for name in plain:
        value = getattr(fact, name)
        if value is not None:
            yield from _in_value(kind, name, value, f"{path}{name}", today)
    for name in single:
        value = getattr(fact, name)
        if value is not None:
            yield from _in_fact(value, f"{path}{name}.", today)
    for name in lists:
        if entries := getattr(fact, name):
            for place, entry in enumerate(entries):
                yield from _in_fact(entry, f"{path}{name}[{place}].", today)
            yield from _repeated(kind, name, entries, f"{path}{name}")
    for first, second in DAYS_IN_ORDER.get(kind, ()):
        before, after = getattr(fact, first), getattr(fact, second)
        if before and after and after < before:
            yield f"{path}{second} is before {path}{first}: {after} and {before}"
    if kind in _OTHERS:
        yield from _OTHERS[kind](fact, path)


@cache
def _plan(kind: type) -> tuple[list[str], list[str], list[str]]:
    """Return the fields to look at, those that are lists of facts, and those that are one fact."""
    # Once for each kind: a long history has a hundred thousand facts.
    plain: list[str] = []
    lists: list[str] = []
    single: list[str] = []
    for name, form in fields_of(kind).items():
        if fields_of(form.inside):
            (lists if form.is_list else single).append(name)
        elif form.inside is date or any((kind, name) in table for table in (AMOUNTS, CODES, WORDS)):
            plain.append(name)
    return plain, lists, single


def _in_value(kind: type, name: str, value: Any, path: str, today: date | None) -> Iterator[str]:
    field = (kind, name)
    if field in AMOUNTS:
        least, most = AMOUNTS[field]
        if not least <= value <= most:
            yield f"{path}: expected {least} to {most}, got {_shorten(value)}"
    elif isinstance(value, date):
        if not FIRST_YEAR <= value.year <= LAST_YEAR:
            yield f"{path}: expected a year from {FIRST_YEAR} to {LAST_YEAR}, got {value}"
        if today is not None and value > today and field not in DAYS_TO_COME:
            yield f"{path} is after today: {value} and {today}"
    elif field in CODES:
        for place, code in enumerate(value) if isinstance(value, tuple) else ((None, value),):
            if code not in CODES[field]:
                where = path if place is None else f"{path}[{place}]"
                yield f"{where}: expected one of {', '.join(CODES[field])}, got “{_shorten(code)}”"
    elif field in WORDS and (value != value.strip() or (not value and field not in WORDS_OR_NOTHING)):
        yield f"{path}: expected words without a space before or after them, got “{_shorten(value)}”"


def _repeated(kind: type, name: str, entries: tuple[Any, ...], path: str) -> Iterator[str]:
    for inner in DIFFERENT.get((kind, name), ()):
        seen: dict[Any, int] = {}
        for place, entry in enumerate(entries):
            value = getattr(entry, inner)
            # An empty one is no name: histories that were written by hand leave it out.
            if value == "":
                continue
            if value in seen:
                yield f"{path}[{place}].{inner} is the same as {path}[{seen[value]}].{inner}: {_shorten(value)}"
            seen.setdefault(value, place)


def _in_paper(paper: PaperFact, path: str) -> Iterator[str]:
    if (paper.kind == "medical") is (paper.medical_class is None):
        needed = "a medical has a class" if paper.kind == "medical" else "only a medical has a class"
        yield f"{path}medical_class contradicts {path}kind: {needed}"


def _in_gate_number(number: GateNumberFact, path: str) -> Iterator[str]:
    units = QUANTITY_UNITS.get(number.quantity)
    if units and number.unit not in units:
        yield (
            f"{path}unit is not a unit of {path}quantity: {number.quantity} is in {' or '.join(units)},"
            f" got “{_shorten(number.unit)}”"
        )


def _in_circuit(circuit: CircuitFact, path: str) -> Iterator[str]:
    # A landing is judged by its place and its faults by its manoeuvre: with another name it would be two things.
    for part in Part:
        attempt: AttemptFact | None = getattr(circuit, part)
        if attempt is not None and attempt.manoeuvre != part:
            got = _shorten(attempt.manoeuvre)
            yield f"{path}{part}.manoeuvre contradicts {path}{part}: expected “{part}”, got “{got}”"


def _in_lesson(lesson: LessonFact, path: str) -> Iterator[str]:
    if lesson.dual_minutes + lesson.solo_minutes > MINUTES_PER_DAY:
        yield f"{path}dual_minutes and {path}solo_minutes are together more than a day, {MINUTES_PER_DAY} minutes"


_OTHERS: dict[type, Callable[[Any, str], Iterator[str]]] = {
    PaperFact: _in_paper,
    CircuitFact: _in_circuit,
    GateNumberFact: _in_gate_number,
    LessonFact: _in_lesson,
}


def _shorten(value: Any) -> str:
    # A sentence on one line, whatever was in the file: str() of a number of 5,000 digits is an error of Python.
    try:
        text = str(value)
    except ValueError:
        return "a number of thousands of digits"
    return " ".join(text.split())[:60]
