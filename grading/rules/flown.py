"""Tell how a circuit was flown by the numbers that were tapped at its gates. Pure.

What lies between the gates nobody measured: nothing here makes a number of it. Amounts are in the unit that the school
reads. Whether a number is inside its tolerance is decided exactly, where it is read, and handed on.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from grading.rules.gate_words import amount_with_side
from lessons.rules.scale import Ending

WORST_GATES = 2
TOUCHDOWN = "touchdown"
# Before it lies the way out, from it on the approach: the one gate that every circuit has (lessons/rules/pattern.py).
ABEAM = "abeam"
STRIP_QUANTITIES = ("height", "speed", "bank")


@dataclass(frozen=True)
class GatePlace:
    """A gate in the order flown: number, code, name, where it lies in a sentence, leg, feet since the lift-off."""

    number: int
    code: str
    name: str
    phrase: str
    leg: str
    along_ft: int


@dataclass(frozen=True)
class NumberTarget:
    """What is asked for of a quantity at a gate, in the unit that the school reads, in the wind of the circuit."""

    gate: str
    quantity: str
    unit: str
    value: float
    over: float
    under: float

    @property
    def key(self) -> str:
        return f"{self.gate}.{self.quantity}"


@dataclass(frozen=True)
class FlownCircuit:
    """The numbers of one circuit by the key of their target; `outside`: those outside their tolerance.

    shown: the instructor flew it to show it. amounts: how far each lies from the target of its day. tracked: of the
    numbers that were entered from a flight track, their uncertainty.
    """

    lesson: int
    circuit: int
    ending: str
    values: Mapping[str, float]
    amounts: Mapping[str, float]
    outside: frozenset[str]
    shown: bool = False
    tracked: Mapping[str, float] = field(default_factory=dict)

    def inside(self, key: str) -> bool:
        return key in self.values and key not in self.outside


@dataclass(frozen=True)
class Pattern:
    """The gates and targets by which circuits were flown."""

    gates: Sequence[GatePlace]
    targets: Sequence[NumberTarget]

    @property
    def by_code(self) -> dict[str, GatePlace]:
        return {gate.code: gate for gate in self.gates}

    def target(self, key: str) -> NumberTarget | None:
        return next((row for row in self.targets if row.key == key), None)

    @property
    def touchdown(self) -> NumberTarget | None:
        return self.target(f"{TOUCHDOWN}.distance")


@dataclass(frozen=True)
class Miss:
    """A number outside its tolerance: its gate and target, how far it lies from the target, and in tolerances."""

    gate: GatePlace
    target: NumberTarget
    amount: float
    share: float

    @property
    def words(self) -> str:
        """Return '27 ft low'."""
        return amount_words(self.amount, self.target)


def amount_words(amount: float, target: NumberTarget) -> str:
    """Return how far a number lies from its target, as '27 ft low', or 'on target'."""
    if not amount:
        return "on target"
    return amount_with_side(abs(amount), target.unit, target.quantity, over=amount > 0)


def plain_number(value: float) -> str:
    """Return a number to a tenth, with its thousands parted and without a needless zero."""
    return f"{value:,.1f}".removesuffix(".0").replace("-", "\u2212")


def misses(circuit: FlownCircuit, pattern: Pattern) -> list[Miss]:
    """Return the numbers outside their tolerance before the touchdown, in the order flown."""
    gates = pattern.by_code
    rows = [
        Miss(gates[target.gate], target, circuit.amounts[target.key], _share(circuit.amounts[target.key], target))
        for target in pattern.targets
        if target.key in circuit.outside and target.gate != TOUCHDOWN
    ]
    return sorted(rows, key=lambda row: row.gate.number)


def _share(amount: float, target: NumberTarget) -> float:
    tolerance = target.over if amount > 0 else target.under
    return abs(amount) / tolerance if tolerance else float("inf")


def worst_gates(circuit: FlownCircuit, pattern: Pattern) -> list[Miss]:
    """Return the worst number of each of the two gates farthest outside, in the order flown."""
    worst: dict[str, Miss] = {}
    for row in misses(circuit, pattern):
        if row.gate.code not in worst or row.share > worst[row.gate.code].share:
            worst[row.gate.code] = row
    # Of equal ones the later: it is nearer to the ground.
    chosen = sorted(worst.values(), key=lambda row: (row.share, row.gate.number))[-WORST_GATES:]
    return sorted(chosen, key=lambda row: row.gate.number)


def circuit_sentence(circuit: FlownCircuit, pattern: Pattern) -> str:
    """Return the circuit in a sentence: the two worst gates in the order flown, then how it ended."""
    before = [key for key in circuit.values if not key.startswith(f"{TOUCHDOWN}.")]
    if worst := worst_gates(circuit, pattern):
        first = ", ".join(f"{row.words} {row.gate.phrase}" for row in worst)
    elif before:
        first = "inside at every gate that was noted"
    else:
        first = "no number was noted before the touchdown"
    return f"Circuit {circuit.circuit}: {first}; {touchdown_words(circuit, pattern)}."


def touchdown_words(circuit: FlownCircuit, pattern: Pattern) -> str:
    """Return how the circuit ended: where the wheels met the ground, or that it was a go-around."""
    target = pattern.touchdown
    if target is not None and target.key in circuit.values:
        place = distance_words(circuit.values[target.key], target.unit)
        return f"touchdown {place}, {'inside' if circuit.inside(target.key) else 'outside'}"
    if circuit.ending == Ending.GO_AROUND:
        return "a go-around"
    if circuit.ending == Ending.TOOK_CONTROL:
        return "the instructor took control"
    return "the touchdown was not noted"


def distance_words(distance: float, unit: str) -> str:
    """Return where the wheels met the ground, from the aiming point, as the sentence and the table say it."""
    if not distance:
        return "on the aiming point"
    return f"{plain_number(abs(distance))} {unit} {'past' if distance > 0 else 'before'} the aiming point"


def lesson_sentence(circuits: Sequence[FlownCircuit], pattern: Pattern) -> str:
    """Return the circuits of a lesson in a sentence: how many numbers were inside, and what was outside most often."""
    flown = [row for row in circuits if not row.shown]
    noted, outside = sum(len(row.values) for row in flown), sum(len(row.outside) for row in flown)
    if not circuits:
        return "No circuit was flown in this lesson."
    many = f"{len(circuits)} circuit{'' if len(circuits) == 1 else 's'}"
    if not noted:
        return f"{many}: no number was noted at a gate."
    if not outside:
        return f"{many}: all {noted} numbers inside." if noted > 1 else f"{many}: the one number inside."
    key, times = most_often_outside(flown, pattern)
    target, gate = pattern.target(key), pattern.by_code.get(key.partition(".")[0])
    assert target is not None
    assert gate is not None
    of = sum(key in row.values for row in flown)
    where = f"{target.quantity} {gate.phrase}"
    return f"{many}: {noted - outside} of {noted} numbers inside; most often outside: {where}, {times} of {of}."


def most_often_outside(circuits: Iterable[FlownCircuit], pattern: Pattern) -> tuple[str, int]:
    """Return the number that was outside most often and how often; of equal ones the later in the circuit."""
    times: dict[str, int] = {}
    for row in circuits:
        for key in row.outside:
            times[key] = times.get(key, 0) + 1
    order = {target.key: place for place, target in enumerate(pattern.targets)}
    return max(((key, count) for key, count in times.items() if key in order), key=lambda row: (row[1], order[row[0]]))


def height_between(circuit: FlownCircuit, pattern: Pattern, along_ft: float) -> float | None:
    """Return the height of the straight line between the two gates beside a place; None where one was not noted.

    An estimate: between the gates nobody measured, and who reads it must be told so.
    """
    noted = [
        (gate.along_ft, circuit.values.get(f"{gate.code}.height"))
        for gate in pattern.gates
        if pattern.target(f"{gate.code}.height")
    ]
    for (first, low), (second, high) in pairwise(noted):
        if first <= along_ft <= second:
            if low is None or high is None:
                return None
            return low + (high - low) * (along_ft - first) / max(second - first, 1)
    return None
