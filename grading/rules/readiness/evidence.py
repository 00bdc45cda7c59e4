"""Point to the lesson or the circuit where something was flown."""

from typing import Any

from grading.rules.readiness.facts import LessonFact
from grading.rules.readiness.history import FlownAttempt
from grading.rules.readiness.verdict import Evidence
from grading.rules.said import said


def flown_evidence(flown: FlownAttempt, key: str = "", **values: Any) -> Evidence:
    """Return evidence that points to the circuit, or the lesson, where something was flown; key: what is said of it."""
    number, on = flown.lesson.number, flown.lesson.on
    circuit = flown.circuit.number if flown.circuit else None
    if flown.lesson.is_brought_forward:
        place = said("flown_before", instructor=flown.lesson.instructor, on=on)
        return Evidence(said(key, place=place, **values) if key else place)
    if circuit is None:
        place = said("flown_in_lesson", lesson=number, on=on)
    else:
        place = said("flown_in_circuit", lesson=number, circuit=circuit, on=on)
    return Evidence(said(key, place=place, **values) if key else place, number, circuit, flown.lesson.id)


def lesson_evidence(lesson: LessonFact, key: str, **values: Any) -> Evidence:
    """Return evidence that points to a lesson as a whole."""
    place = said("flown_in_lesson", lesson=lesson.number, on=lesson.on)
    return Evidence(said(key, place=place, **values), lesson.number, None, lesson.id)
