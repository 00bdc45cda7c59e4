"""Check the numbers at the gates: how many of the last lie inside, or how likely the next one does."""

from dataclasses import dataclass

from grading.rules.readiness.evidence import flown_evidence
from grading.rules.readiness.facts import GateNumberFact
from grading.rules.readiness.history import FlownAttempt, History
from grading.rules.readiness.standard import RequirementSpec
from grading.rules.readiness.statistics import Consistency, allow_for_lessons, compute_consistency
from grading.rules.readiness.verdict import CheckResult, State
from grading.rules.said import Said, said

# What a person reads an instrument to, or judges a distance to, in the unit of the target.
# The spread is never below that of rounding, or a few equal readings would look like certainty.
READING_RESOLUTION = {"speed": 1.0, "height": 10.0, "distance": 50.0, "bank": 1.0}
# A dial of engine speed is read to its half division, one of manifold pressure to half an inch (common practice).
RESOLUTION_OF_UNIT = {"rpm": 50.0, "inHg": 0.5}


def gate_consistency(noted: list[tuple[FlownAttempt, GateNumberFact]], most: int) -> Consistency | None:
    """Return the consistency of the last `most` numbers of one gate, by the tolerance of the newest.

    Each number has the deviation from the target of its own day.
    """
    newest = noted[-1][1]
    # A target whose unit was changed starts a new series: the amounts do not compare.
    same = [number.amount for _, number in _in_newest_unit(noted)]
    return compute_consistency(same, -newest.under, newest.over, _resolution(newest), most)


def predict_number(noted: list[tuple[FlownAttempt, GateNumberFact]], most: int) -> Consistency | None:
    """Return the same with the next number expected in another lesson: the picture of a gate, and no requirement."""
    found = gate_consistency(noted, most)
    if found is None:
        return None
    by_lesson: dict[int, list[float]] = {}
    for flown, number in _in_newest_unit(noted)[-most:]:
        by_lesson.setdefault(flown.lesson.number, []).append(number.amount)
    return allow_for_lessons(found, list(by_lesson.values()))


def _resolution(number: GateNumberFact) -> float:
    return RESOLUTION_OF_UNIT.get(number.unit) or READING_RESOLUTION.get(number.quantity, 1.0)


def _in_newest_unit(noted: list[tuple[FlownAttempt, GateNumberFact]]) -> list[tuple[FlownAttempt, GateNumberFact]]:
    return [(flown, number) for flown, number in noted if number.unit == noted[-1][1].unit]


def bias_of(found: Consistency, number: GateNumberFact) -> Said:
    """Return how far from the target on average: '6 kt fast on average'."""
    amount = round(abs(found.mean))
    if amount == 0:
        return said("on_target")
    return said("off_target", offset=(amount, number.unit, number.quantity, found.mean > 0))


def check_numbers_inside(history: History, spec: RequirementSpec) -> CheckResult:
    """Check that at each gate at least `good` of the `last` numbers lie inside their tolerance.

    A gate with fewer numbers is not known, and what is not known is not met. One from a flight track whose uncertainty
    reaches over an edge counts as not inside.
    """
    good, last = spec.number("good"), spec.number("last")
    gates = [
        _GateNumbers(key, history.last_numbers(key, last, from_tracks=spec.counts_tracks), good, last)
        for key in spec.words("gates")
    ]
    met = [gate for gate in gates if gate.met]
    if len(met) == len(gates):
        since = max((gate.newest.lesson.signed for gate in gates if gate.newest.lesson.signed), default=None)
        return CheckResult(State.MET, _all(gates), len(met), len(gates), since=since)
    short = [gate for gate in gates if not gate.met]
    # Open says that they were looked at and are outside, which is worse than too few of them.
    state = State.OPEN if any(gate.known for gate in short) else State.NOT_KNOWN
    evidence = tuple(
        flown_evidence(flown, "gate_outside" if number.outside else "gate_not_certain", gate=gate.key)
        for gate in short
        for flown, number in gate.noted
        if not number.inside
    )
    would = said("fly_gates_inside", good=good, last=last)
    return CheckResult(state, _all(short), len(met), len(gates), evidence, would)


def _all(gates: "list[_GateNumbers]") -> Said:
    return said("gates", gates=tuple(gate.far for gate in gates))


@dataclass(frozen=True, slots=True)
class _GateNumbers:
    """The last numbers noted at one gate, oldest first."""

    key: str
    noted: list[tuple[FlownAttempt, GateNumberFact]]
    good: int
    last: int

    @property
    def inside(self) -> int:
        return sum(number.inside for _, number in self.noted)

    @property
    def known(self) -> bool:
        return len(self.noted) >= self.last

    @property
    def met(self) -> bool:
        return self.known and self.inside >= self.good

    @property
    def newest(self) -> FlownAttempt:
        return self.noted[-1][0]

    @property
    def far(self) -> Said:
        """Return 'final speed 9 of the last 10 inside', or '6 of 10 noted' while there are too few."""
        if not self.known:
            return said("gate_noted", gate=self.key, noted=len(self.noted), needed=self.last)
        return said("gate_inside", gate=self.key, inside=self.inside, last=self.last)


def check_consistent(history: History, spec: RequirementSpec) -> CheckResult:
    """Check that at each gate the next number is as likely inside as the school asks, by a normal sample.

    Standards before 2026-11-28 ask so. A gate with too few numbers is not known, and what is not known is not met. The
    error of a flight track widens the spread of the numbers, and so is counted already.
    """
    least, percent, keys = spec.number("least"), spec.number("percent"), spec.words("gates")
    numbers = history.numbers(from_tracks=spec.counts_tracks)
    in_one_unit = {key: _in_newest_unit(numbers[key]) for key in keys if key in numbers}
    judged = [(key, noted) for key, noted in in_one_unit.items() if len(noted) >= least]
    few = [key for key in keys if len(in_one_unit.get(key, ())) < least]
    short, evidence = [], []
    for key, noted in judged:
        found = gate_consistency(noted, history.standard.policy.gate_numbers_most)
        if found is not None and found.probability * 100 < percent:
            chance, bias = round(found.probability * 100), bias_of(found, noted[-1][1])
            short.append(said("gate_likely", gate=key, percent=chance, bias=bias))
            evidence.append(flown_evidence(noted[-1][0], "gate", gate=key))
    done = len(judged) - len(short)
    if few and not short:
        counts = [(key, len(in_one_unit.get(key, ()))) for key in few]
        far = tuple(said("gate_noted", gate=key, noted=count, needed=least) for key, count in counts)
        return CheckResult(State.NOT_KNOWN, said("gates", gates=far), done, len(keys), to_meet=said("note_gates"))
    if not short:
        since = max((noted[-1][0].lesson.signed for _, noted in judged if noted[-1][0].lesson.signed), default=None)
        met = said("gates_judged", done=done, needed=len(judged))
        return CheckResult(State.MET, met, done, len(judged), since=since)
    would = said("fly_gates_likely", percent=percent)
    return CheckResult(State.OPEN, said("gates", gates=tuple(short)), done, len(judged), tuple(evidence), would)
