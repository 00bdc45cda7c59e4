"""Check for recent training (law) and a recent circuit to standard (school)."""

from datetime import timedelta

from grading.rules.readiness.evidence import lesson_evidence
from grading.rules.readiness.facts import CircuitFact, LessonFact
from grading.rules.readiness.history import History
from grading.rules.readiness.standard import RequirementSpec
from grading.rules.readiness.verdict import CheckResult, State
from grading.rules.said import Said, said
from lessons.rules.scale import UnitKind


def check_recent_training(history: History, spec: RequirementSpec) -> CheckResult:
    """Check for dual training in the type within a number of days, the last of which still counts."""
    given = [
        lesson
        for lesson in history.lessons
        # A solo flight is no training by an instructor, however recent it is.
        if lesson.kind in (UnitKind.DUAL, UnitKind.STAGE_CHECK)
        and lesson.aircraft_type == history.facts.aircraft_type.code
    ]
    nothing, would = said("no_training_in_type"), said("train_in_type")
    return _check_recent(given, history, spec.number("days"), nothing, would)


def check_recent_circuit(history: History, spec: RequirementSpec) -> CheckResult:
    """Check for a circuit with every part to standard within a number of days."""
    last = next(
        (lesson for lesson, row in reversed(history.circuits) if _is_to_standard_throughout(history, row)), None
    )
    flown = [last] if last is not None else []
    nothing, would = said("no_circuit_to_standard"), said("fly_circuit_to_standard")
    return _check_recent(flown, history, spec.number("days"), nothing, would)


def _is_to_standard_throughout(history: History, row: CircuitFact) -> bool:
    # A go-around shows no landing, so such a circuit cannot show that every part is to standard.
    landed = row.landing is not None and row.landing.observed
    # Control that was taken is evidence without a level, and so is a critical fault.
    return landed and all(history.judge(part) is not False for part in row.parts)


def _check_recent(lessons: list[LessonFact], history: History, days: int, nothing: Said, would: Said) -> CheckResult:
    if not lessons:
        return CheckResult(State.OPEN, nothing, to_meet=would)
    last = lessons[-1]
    until = last.on + timedelta(days=days)
    ago = (history.on - last.on).days
    evidence = (lesson_evidence(last, "with", instructor=last.instructor),)
    if history.on > until:
        far = said("last_counted_until", days_ago=ago, ended=until)
        return CheckResult(State.LAPSED, far, ago, days, evidence, would, until=until)
    return CheckResult(State.MET, said("last", days_ago=ago), ago, days, evidence, since=last.signed, until=until)
