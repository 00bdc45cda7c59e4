"""Check the training received and logged, and the endorsement that a tailwheel aeroplane requires."""

from grading.rules.in_force import is_withdrawn_by
from grading.rules.readiness.dates import long_date
from grading.rules.readiness.facts import LessonFact
from grading.rules.readiness.history import History
from grading.rules.readiness.standard import RequirementSpec
from grading.rules.readiness.verdict import CheckResult, Evidence, State
from grading.rules.readiness.wording import lesson_evidence


def check_training_received(history: History, spec: RequirementSpec) -> CheckResult:
    """Check that each item was taught in a signed lesson, in the type or one the school calls similar."""
    items = spec.words("items")
    types = {history.facts.aircraft_type.code, *spec.words("similar_types")}
    logged: dict[str, LessonFact] = {}
    for lesson in history.lessons:
        # An item taught on the ground names no aircraft; one flown counts in the type only.
        if lesson.aircraft_type and lesson.aircraft_type not in types:
            continue
        for item in lesson.training:
            logged.setdefault(item, lesson)  # the first lesson is the evidence
    missing = [item for item in items if item not in logged]
    evidence = tuple(lesson_evidence(logged[item], item) for item in items if item in logged)
    done = len(items) - len(missing)
    how_far = f"{done} of {len(items)} logged"
    if missing:
        would = "Still to be taught and logged: " + ", ".join(missing) + "."
        return CheckResult(State.OPEN, how_far, done, len(items), evidence, would)
    since = max((logged[item].signed or logged[item].on for item in items), default=None)
    return CheckResult(State.MET, how_far, done, len(items), evidence, since=since)


def check_tailwheel_endorsement(history: History, spec: RequirementSpec) -> CheckResult | None:
    """Check the endorsement of 14 CFR 61.31(i); None for a type without a tailwheel."""
    # None and not met: a requirement that does not apply must not raise the count of those that are met.
    if not history.facts.aircraft_type.tailwheel:
        return None
    given = [
        endorsement
        for endorsement in history.facts.endorsements
        if endorsement.kind == "tailwheel"
        and endorsement.on <= history.on
        and not is_withdrawn_by(endorsement.withdrawn, history.on)
    ]
    if not given:
        return CheckResult(
            State.OPEN,
            "not endorsed",
            would_meet="Tailwheel training logged, proficiency found, and the endorsement given.",
        )
    first = min(given, key=lambda endorsement: endorsement.on)
    evidence = (Evidence(f"Endorsed {long_date(first.on)} by {first.by}"),)
    return CheckResult(State.MET, f"endorsed {long_date(first.on)}", evidence=evidence, since=first.on)
