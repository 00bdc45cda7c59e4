"""Check the numbers at the gates: the chance that the next one lies inside its tolerance."""

from grading.rules.marking import SIDES
from grading.rules.readiness.facts import GateNumberFact
from grading.rules.readiness.history import FlownAttempt, History
from grading.rules.readiness.standard import RequirementSpec
from grading.rules.readiness.statistics import Consistency, compute_consistency
from grading.rules.readiness.verdict import CheckResult, State
from grading.rules.readiness.wording import flown_evidence

# What a person reads an instrument to, or judges a distance to, in the unit of the target.
# The spread is never below that of rounding, or a few equal readings would look like certainty.
READING_RESOLUTION = {"speed": 1.0, "height": 10.0, "distance": 50.0, "bank": 1.0}


def gate_consistency(noted: list[tuple[FlownAttempt, GateNumberFact]], most: int) -> Consistency | None:
    """Return the consistency of the last `most` numbers of one gate, by the tolerance of the newest.

    Each number has the deviation from the target of its own day.
    """
    newest = noted[-1][1]
    # A target whose unit was changed starts a new series: the amounts do not compare.
    same = [number.amount for _, number in noted if number.unit == newest.unit]
    return compute_consistency(same, -newest.under, newest.over, READING_RESOLUTION.get(newest.quantity, 1.0), most)


def _in_newest_unit(noted: list[tuple[FlownAttempt, GateNumberFact]]) -> list[tuple[FlownAttempt, GateNumberFact]]:
    return [(flown, number) for flown, number in noted if number.unit == noted[-1][1].unit]


def describe_bias(found: Consistency, number: GateNumberFact) -> str:
    """Return '6 kt fast on average'."""
    amount = round(abs(found.mean))
    if amount == 0:
        return "on target on average"
    return f"{amount} {number.unit} {SIDES[number.quantity][0 if found.mean > 0 else 1]} on average"


def check_consistent(history: History, spec: RequirementSpec) -> CheckResult:
    """Check that at each gate with enough numbers the next one is as likely inside as the school asks.

    Gates with fewer are not judged: too few numbers say nothing for the student and nothing against.
    """
    least, percent, keys = spec.number("least"), spec.number("percent"), spec.words("gates")
    numbers = history.numbers()
    in_one_unit = {key: _in_newest_unit(numbers[key]) for key in keys if key in numbers}
    judged = [(key, noted) for key, noted in in_one_unit.items() if len(noted) >= least]
    if not judged:
        return CheckResult(State.MET, f"no gate has {least} numbers yet, so none is judged")
    short, evidence = [], []
    for key, noted in judged:
        found = gate_consistency(noted, history.standard.policy.gate_numbers_most)
        if found is not None and found.probability * 100 < percent:
            name = key.replace("-", " ").replace(".", " ")
            short.append(f"{name} {round(found.probability * 100)} %, {describe_bias(found, noted[-1][1])}")
            evidence.append(flown_evidence(noted[-1][0], name.capitalize()))
    done = len(judged) - len(short)
    if not short:
        since = max((noted[-1][0].lesson.signed for _, noted in judged if noted[-1][0].lesson.signed), default=None)
        return CheckResult(State.MET, f"{done} of {len(judged)} gates judged", done, len(judged), since=since)
    would = f"The next number as likely inside as {percent} % by the last ones: fly these gates closer."
    return CheckResult(State.OPEN, "; ".join(short), done, len(judged), tuple(evidence), would)
