"""What each entry of a lesson writes: field name and value in, the value that stood there out.

The grammar of the names is in recording.py, the only caller.
"""

from enum import StrEnum
from typing import TypeVar

from django.core.exceptions import ValidationError

from grading.actions import details
from grading.models import Attempt, FaultSeen, Grade, Measure
from lessons.fields import as_decimal
from lessons.models import Circuit, Fault, GateSet, GateTarget, Lesson, Manoeuvre
from lessons.scale import Ending, Help, Level, Part
from school.errors import Refused

MOST_CIRCUITS = 60
Word = TypeVar("Word", bound=StrEnum)


def write(lesson: Lesson, field: str, value: str) -> str:
    """Write one entry and return what stood there before, as text. Raises Refused with a sentence."""
    try:
        match field.split("."):
            case ["circuit", number, "ending"]:
                return _write_ending(_circuit(lesson, number), value)
            case ["circuit", number, "closed"]:
                return _write_closed(_circuit(lesson, number), value)
            case ["circuit", number, part, *what]:
                return _write_attempt(_part(lesson, number, part), what, value)
            case ["manoeuvre", code, *what]:
                return _write_attempt(_flown_alone(lesson, code), what, value)
            case ["grade", code]:
                return _write_grade(lesson, code, value)
            case ["lesson", name]:
                return details.write(lesson, name, value)
    except ValidationError as error:
        raise Refused(" ".join(error.messages)) from error
    raise _unknown(field)


def _unknown(what: str) -> Refused:
    return Refused(f"“{what[:60]}” is not an entry of this lesson. Load the page again; nothing was lost.")


def _word(words: type[Word], value: str) -> Word:
    try:
        return words(value)
    except ValueError:
        raise _unknown(value) from None


def _circuit(lesson: Lesson, number: str) -> Circuit:
    """The circuit of that number; the next one is begun by its first entry."""
    if not number.isascii() or not number.isdigit():
        raise _unknown(number)
    flown = {circuit.number: circuit for circuit in lesson.circuits.all()}
    if int(number) in flown:
        return flown[int(number)]
    if int(number) != len(flown) + 1 or int(number) > MOST_CIRCUITS:
        raise _unknown(f"circuit {number}")
    return Circuit.objects.create(lesson=lesson, number=int(number), ending=lesson.unit.ending)


def _write_ending(circuit: Circuit, value: str) -> str:
    before, circuit.ending = circuit.ending, _word(Ending, value)
    circuit.save(update_fields=["ending"])
    return before


def _write_closed(circuit: Circuit, value: str) -> str:
    before, circuit.closed = circuit.closed, value == "on"
    circuit.save(update_fields=["closed"])
    return "on" if before else ""


def _part(lesson: Lesson, number: str, part: str) -> Attempt:
    word = _word(Part, part)
    circuit = _circuit(lesson, number)
    if attempt := Attempt.objects.filter(circuit=circuit, part=word).first():
        return attempt
    manoeuvre = _manoeuvre(lesson, word.value)
    return Attempt.objects.create(lesson=lesson, circuit=circuit, part=word, manoeuvre=manoeuvre)


def _flown_alone(lesson: Lesson, code: str) -> Attempt:
    attempt, _ = Attempt.objects.get_or_create(
        lesson=lesson, circuit=None, manoeuvre=_manoeuvre(lesson, code), ordinal=1
    )
    return attempt


def _manoeuvre(lesson: Lesson, code: str) -> Manoeuvre:
    found = Manoeuvre.objects.filter(syllabus=lesson.unit.stage.syllabus_id, code=code).first()
    if found is None:
        raise _unknown(code)
    return found


def _write_attempt(attempt: Attempt, what: list[str], value: str) -> str:
    match what:
        case ["level"]:
            before, attempt.level = attempt.level or "", _word(Level, value) if value else None
            attempt.save(update_fields=["level"])
            return before
        case ["help"]:
            before, attempt.help = attempt.help, _word(Help, value or Help.NONE)
            attempt.save(update_fields=["help"])
            return before
        case ["fault", code]:
            return _write_fault(attempt, code, value)
        case ["measure", gate, quantity]:
            return _write_measure(attempt, gate, quantity, value)
    raise _unknown(".".join(what))


def _write_fault(attempt: Attempt, code: str, value: str) -> str:
    fault = Fault.objects.filter(manoeuvres=attempt.manoeuvre_id, code=code).first()
    if fault is None:
        raise _unknown(code)
    seen = FaultSeen.objects.filter(attempt=attempt, fault=fault)
    before = "on" if seen.exists() else ""
    if value == "on" and not before:
        FaultSeen.objects.create(attempt=attempt, fault=fault)
    elif value != "on" and before:
        seen.delete()
    return before


def _write_measure(attempt: Attempt, gate: str, quantity: str, value: str) -> str:
    target = target_of(attempt.lesson, gate, quantity)
    if target is None:
        raise _unknown(f"{quantity} at {gate}")
    measure = Measure.objects.filter(attempt=attempt, target=target).first()
    before = str(measure.value) if measure else ""
    if not value.strip():
        if measure:
            measure.delete()
        return before
    Measure.objects.update_or_create(attempt=attempt, target=target, defaults={"value": as_decimal(value)})
    return before


def target_of(lesson: Lesson, gate: str, quantity: str) -> GateTarget | None:
    """The target in force on the day of the lesson for the type flown."""
    if lesson.aircraft is None:
        return None
    gates = GateSet.objects.in_force(lesson.on).filter(aircraft_type=lesson.aircraft.type_id).first()
    return GateTarget.objects.filter(gate__gate_set=gates, gate__code=gate, quantity=quantity).first()


def _write_grade(lesson: Lesson, code: str, value: str) -> str:
    manoeuvre = _manoeuvre(lesson, code)
    grade = Grade.objects.filter(lesson=lesson, manoeuvre=manoeuvre).first()
    before = grade.given if grade else ""
    if not value:
        if grade:
            grade.delete()
        return before
    # The proposal and its explanation are written beside it when the lesson is signed.
    given = _word(Level, value)
    Grade.objects.update_or_create(lesson=lesson, manoeuvre=manoeuvre, defaults={"given": given})
    return before
