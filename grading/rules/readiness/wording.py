"""Hold the small words that the checks share."""

from grading.rules.readiness.dates import long_date
from grading.rules.readiness.facts import LessonFact
from grading.rules.readiness.history import FlownAttempt
from grading.rules.readiness.verdict import Evidence


def flown_evidence(flown: FlownAttempt, text: str = "") -> Evidence:
    """Return evidence that points to the circuit, or the lesson, where something was flown."""
    circuit = flown.circuit.number if flown.circuit else None
    place = f"lesson {flown.lesson.number}" + (f", circuit {circuit}" if circuit else "")
    words = f"{text}: {place}" if text else place.capitalize()
    return Evidence(f"{words}, {long_date(flown.lesson.on)}", flown.lesson.number, circuit, flown.lesson.id)


def lesson_evidence(lesson: LessonFact, text: str) -> Evidence:
    """Return evidence that points to a lesson as a whole."""
    where = f"lesson {lesson.number}, {long_date(lesson.on)}"
    return Evidence(f"{text}: {where}", lesson.number, None, lesson.id)


def describe_days_ago(days: int) -> str:
    """Return 'today', 'yesterday' or '9 days ago'."""
    return {0: "today", 1: "yesterday"}.get(days, f"{days} days ago")


def count_noun(number: int, noun: str) -> str:
    """Return '1 circuit' or '3 approaches'."""
    if number == 1:
        return f"1 {noun}"
    return f"{number} {noun}es" if noun.endswith("ch") else f"{number} {noun}s"
