"""Check the one-time endorsements that some aeroplanes require of their pilot in command: 14 CFR 61.31(e), (f), (i).

Students are exempt from the limits of ratings only (61.31(d)(2)), so each is needed before solo in such a type.
"""

from collections.abc import Callable

from grading.rules.in_force import is_withdrawn_by
from grading.rules.readiness.checks.training import TRAINING_FLIGHTS
from grading.rules.readiness.facts import AircraftTypeFact, EndorsementFact
from grading.rules.readiness.history import History
from grading.rules.readiness.standard import RequirementSpec
from grading.rules.readiness.verdict import CheckResult, Evidence, State
from grading.rules.said import said

HIGH_PERFORMANCE_ABOVE_HP = 200  # 14 CFR 61.31(f)(1): an engine of more than 200 horsepower


def is_complex(aircraft: AircraftTypeFact) -> bool | None:
    """Return whether a type has flaps, retractable gear and a controllable propeller; None where that is not known."""
    features = (aircraft.flaps, aircraft.retractable, aircraft.constant_speed_propeller)
    # One that it lacks decides, whatever is not known of the others.
    if False in features:
        return False
    return None if None in features else True


def is_high_performance(aircraft: AircraftTypeFact) -> bool | None:
    """Return whether a type has more than 200 horsepower; None where that is not known."""
    return None if aircraft.horsepower is None else aircraft.horsepower > HIGH_PERFORMANCE_ABOVE_HP


def check_tailwheel_endorsement(history: History, spec: RequirementSpec) -> CheckResult | None:
    """Check the endorsement of 14 CFR 61.31(i); None for a type without a tailwheel."""
    return _check(history, "tailwheel", lambda aircraft: aircraft.tailwheel, "features")


def check_complex_endorsement(history: History, spec: RequirementSpec) -> CheckResult | None:
    """Check the endorsement of 14 CFR 61.31(e); None for a type that is not complex."""
    return _check(history, "complex", is_complex, "features")


def check_high_performance_endorsement(history: History, spec: RequirementSpec) -> CheckResult | None:
    """Check the endorsement of 14 CFR 61.31(f); None for a type of 200 horsepower or less."""
    return _check(history, "high_performance", is_high_performance, "horsepower")


def _check(
    history: History, kind: str, applies: Callable[[AircraftTypeFact], bool | None], feature: str
) -> CheckResult | None:
    needed = applies(history.facts.aircraft_type)
    if needed is None:
        # Not None: what nobody has recorded must not make the requirement go away.
        return CheckResult(State.NOT_KNOWN, said(f"{feature}_not_recorded"), to_meet=said(f"record_{feature}"))
    # None and not met: a requirement that does not apply must not raise the count of those that are met.
    if not needed:
        return None
    given = sorted(
        (
            row
            for row in history.facts.endorsements
            if row.kind == kind and row.on <= history.on and not is_withdrawn_by(row.withdrawn, history.on)
        ),
        key=lambda row: row.on,
    )
    if not given:
        return CheckResult(State.OPEN, said("not_endorsed"), to_meet=said("train_and_endorse"))
    evidence = tuple(Evidence(said("endorsed_by", on=row.on, by=row.by)) for row in given)
    first = next((row for row in given if _was_trained(history, row)), None)
    if first is None:
        far = said("endorsed_untrained", on=given[-1].on)
        return CheckResult(State.OPEN, far, evidence=evidence, to_meet=said("log_and_endorse"))
    return CheckResult(State.MET, said("endorsed", on=first.on), evidence=evidence, since=first.on)


def _was_trained(history: History, endorsement: EndorsementFact) -> bool:
    """Return whether signed training in such an aircraft was flown by the day of the endorsement."""
    types = {history.facts.aircraft_type.code, endorsement.aircraft_type}
    return any(
        row.kind in TRAINING_FLIGHTS and row.aircraft_type in types and row.on <= endorsement.on
        for row in history.lessons
    )
