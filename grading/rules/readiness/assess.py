"""Assess a student against a standard on a day: a function that is pure, total, deterministic and explained."""

from datetime import date

from grading.rules.readiness.checks import CHECKS
from grading.rules.readiness.facts import Facts, SetAsideFact
from grading.rules.readiness.history import History
from grading.rules.readiness.standard import RequirementSpec, StandardSpec, validate_standard
from grading.rules.readiness.verdict import CheckResult, Outcome, State, Verdict
from grading.rules.said import Said, said


def assess(facts: Facts, standard: StandardSpec, on: date) -> Verdict:
    """Return the verdict of a day, from what was recorded and signed by the end of that day.

    Raises StandardError for a standard that cannot be used; never raises for facts.
    """
    validate_standard(standard, CHECKS)
    history = History.from_facts(facts, standard, on)
    outcomes = []
    for spec in standard.requirements:
        finding = CHECKS[spec.check](history, spec)
        if finding is not None:  # None: the requirement does not apply, such as the tailwheel of a nosewheel type
            outcomes.append(_outcome(spec, finding, history.set_aside.get(spec.key)))
    return Verdict(
        student=facts.student.name,
        aircraft_type=facts.aircraft_type.name,
        on=on,
        standard=standard.key,
        rule_set=standard.rule_set,
        requirements=tuple(outcomes),
    )


def _outcome(spec: RequirementSpec, finding: CheckResult, decision: SetAsideFact | None) -> Outcome:
    state, far, since = finding.state, finding.far, finding.since
    aside: Said | None = None
    # What is met needs no decision: the verdict then rests on the evidence and not on the one who set it aside.
    if decision and state is not State.MET:
        # Ignored and not only refused where it is written: facts may also come from a file.
        if spec.kind == "legal":
            far = said("fixed_by_law", far=far)
        else:
            state, since = State.SET_ASIDE, decision.on
            aside = said("set_aside", by=decision.by, reason=decision.reason)
    return Outcome(
        key=spec.key,
        title=spec.title,
        group=spec.group,
        kind=spec.kind,
        source=spec.source,
        state=state,
        far=far,
        done=finding.done,
        needed=finding.needed,
        evidence=finding.evidence,
        to_meet=None if state is State.MET else finding.to_meet,
        since=since,
        until=finding.until,
        aside=aside,
        more=None if state is State.MET else finding.more,
    )
