"""Assess a student against a standard on a day: a function that is pure, total, deterministic and explained."""

from datetime import date

from grading.rules.readiness.checks import CHECKS
from grading.rules.readiness.facts import Facts, SetAsideFact
from grading.rules.readiness.history import History
from grading.rules.readiness.standard import RequirementSpec, StandardSpec, validate_standard
from grading.rules.readiness.verdict import CheckResult, Outcome, State, Verdict


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
    state, how_far, reason, since = finding.state, finding.how_far, "", finding.since
    # What is met needs no decision: the verdict then rests on the evidence and not on the one who set it aside.
    if decision and state is not State.MET:
        # Ignored and not only refused where it is written: facts may also come from a file.
        if spec.kind == "legal":
            how_far += " (required by law: it cannot be set aside)"
        else:
            state, since = State.SET_ASIDE, decision.on
            reason = f"Set aside by {decision.by}: {decision.reason}"
    return Outcome(
        key=spec.key,
        title=spec.title,
        group=spec.group,
        kind=spec.kind,
        source=spec.source,
        state=state,
        how_far=how_far,
        done=finding.done,
        needed=finding.needed,
        evidence=finding.evidence,
        would_meet="" if state is State.MET else finding.would_meet,
        since=since,
        until=finding.until,
        reason=reason,
        more=None if state is State.MET else finding.more,
    )
