"""Recent training (law) and a recent circuit to standard (school)."""

from datetime import timedelta

from grading.rules.readiness.dates import long_date
from grading.rules.readiness.facts import Circuit, Lesson
from grading.rules.readiness.history import History
from grading.rules.readiness.standard import RequirementSpec
from grading.rules.readiness.verdict import Finding, State
from grading.rules.readiness.wording import in_lesson
from lessons.rules.scale import UnitKind


def training(history: History, spec: RequirementSpec) -> Finding:
    """Dual training in the type within so many days: the last of them still counts."""
    given = [
        lesson
        for lesson in history.lessons
        if lesson.kind in (UnitKind.DUAL, UnitKind.STAGE_CHECK)
        and lesson.aircraft_type == history.facts.aircraft_type.code
    ]
    nothing = "no training in this type yet"
    return _recent(given, history, spec.number("days"), nothing, "Dual training in this type.")


def circuit(history: History, spec: RequirementSpec) -> Finding:
    """A circuit with every part to standard within so many days."""
    last = next((lesson for lesson, row in reversed(history.circuits) if _whole(history, row)), None)
    flown = [last] if last is not None else []
    nothing = "no circuit to standard yet"
    return _recent(flown, history, spec.number("days"), nothing, "One circuit with every part to standard.")


def _whole(history: History, row: Circuit) -> bool:
    landed = row.landing is not None and row.landing.observed
    return landed and all(history.to_standard(part) for part in row.parts if part.observed)


def _recent(lessons: list[Lesson], history: History, days: int, nothing: str, would: str) -> Finding:
    if not lessons:
        return Finding(State.OPEN, nothing, would_meet=would)
    last = lessons[-1]
    until = last.on + timedelta(days=days)
    ago = (history.on - last.on).days
    evidence = (in_lesson(last, f"With {last.instructor}"),)
    when = "today" if ago == 0 else "yesterday" if ago == 1 else f"{ago} days ago"
    if history.on > until:
        how_far = f"last {when}, counted until {long_date(until)}"
        return Finding(State.LAPSED, how_far, ago, days, evidence, would, until=until)
    return Finding(State.MET, f"last {when}", ago, days, evidence, since=last.signed, until=until)
