"""From what was tapped and measured to a proposed level, with its reason in a sentence. Pure.

The rules are the school's (measured ones from the test tolerances where those exist):
* the level tapped is capped at Practice by a prompt, by assistance, by a critical fault and by a
  number outside its tolerance; at Explain when the instructor took control;
* the level of a lesson is the lower of its last two observed attempts: recent consistency counts,
  not the best and not the mean. Not observed never counts.
The proposal only ever lowers what was tapped; the instructor accepts or changes it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from lessons.scale import Help, Level

# Exact by definition: the international foot and nautical mile.
TO_BASE = {
    "ft": ("m", Decimal("0.3048")),
    "m": ("m", Decimal(1)),
    "kt": ("km/h", Decimal("1.852")),
    "km/h": ("km/h", Decimal(1)),
    "deg": ("deg", Decimal(1)),
}
SIDES = {
    "speed": ("fast", "slow"),
    "height": ("high", "low"),
    "distance": ("long", "short"),
    "bank": ("steep", "shallow"),
}
ATTEMPTS_THAT_COUNT = 2


class Place(StrEnum):
    INSIDE = "inside"
    BEYOND = "beyond"
    FAR_BEYOND = "far_beyond"

    @property
    def rank(self) -> int:
        return list(Place).index(self)


@dataclass(frozen=True)
class Target:
    """A quantity at a gate. `over` and `under` are the tolerances on either side, not negative."""

    gate: str
    quantity: str
    value: Decimal
    over: Decimal
    under: Decimal
    unit: str


@dataclass(frozen=True)
class Deviation:
    """How far a measured value lies from its target, in the unit of the target."""

    target: Target
    amount: Decimal
    place: Place

    @property
    def words(self) -> str:
        """'speed on the landing line 9 kt fast, within twice the tolerance'."""
        what = f"{self.target.quantity} {self.target.gate}"
        if self.amount == 0:
            return f"{what} on target"
        side = SIDES[self.target.quantity][0 if self.amount > 0 else 1]
        amount = f"{abs(self.amount).normalize():f} {self.target.unit}"
        return f"{what} {amount} {side}, {PLACES[self.place]}"


PLACES = {
    Place.INSIDE: "inside",
    Place.BEYOND: "outside, within twice the tolerance",
    Place.FAR_BEYOND: "outside, more than twice the tolerance",
}


def deviation(target: Target, value: Decimal, unit: str | None = None) -> Deviation:
    """Inside up to and on the tolerance, beyond up to and on twice of it, far beyond past that.

    A side without tolerance is a limit: a touchdown short of the point is far beyond however little.
    """
    amount = converted(value, unit or target.unit, target.unit) - target.value
    tolerance = target.over if amount > 0 else target.under
    if abs(amount) <= tolerance:
        return Deviation(target, amount, Place.INSIDE)
    return Deviation(target, amount, Place.BEYOND if abs(amount) <= 2 * tolerance else Place.FAR_BEYOND)


def converted(value: Decimal, unit: str, to: str) -> Decimal:
    """Exact between ft and m, kt and km/h (rounded to a millionth where the quotient has no end)."""
    if unit == to:
        return value
    (base, factor), (other, divisor) = TO_BASE[unit], TO_BASE[to]
    if base != other:
        raise ValueError(f"{unit} cannot be converted to {to}")
    return (value * factor / divisor).quantize(Decimal("0.000001")).normalize()


@dataclass(frozen=True)
class Marked:
    """One attempt as it was recorded. `level` None: not tapped."""

    level: Level | None
    help: Help = Help.NONE
    critical_faults: tuple[str, ...] = ()
    deviations: tuple[Deviation, ...] = ()

    @property
    def observed(self) -> bool:
        return self.level is not None and self.level.observed


@dataclass(frozen=True)
class Proposal:
    level: Level
    sentence: str


def propose_attempt(marked: Marked) -> Proposal:
    """The level an attempt counts as, and why."""
    if marked.level is None or not marked.level.observed:
        return Proposal(Level.NOT_OBSERVED, "Not observed.")
    caps = [(cap, reason) for cap, reason in _caps(marked) if cap.rank < marked.level.rank]
    level = min((cap for cap, _ in caps), key=lambda cap: cap.rank, default=marked.level)
    if not caps:
        return Proposal(level, f"{level.label}: as tapped.")
    return Proposal(level, f"{level.label}: " + "; ".join(reason for _, reason in caps) + ".")


def propose_grade(attempts: Sequence[Marked]) -> Proposal:
    """The lower of the last two observed attempts, in the order flown, or that of the only one."""
    observed = [marked for marked in attempts if marked.observed]
    if not observed:
        return Proposal(Level.NOT_OBSERVED, "Not observed in this lesson.")
    last = [propose_attempt(marked) for marked in observed[-ATTEMPTS_THAT_COUNT:]]
    # The later of two equal ones explains better: it is what the instructor remembers.
    lowest = min(reversed(last), key=lambda proposal: proposal.level.rank)
    if len(last) == 1:
        return lowest
    return Proposal(lowest.level, f"{lowest.sentence.rstrip('.')} (the lower of the last two).")


def _caps(marked: Marked) -> list[tuple[Level, str]]:
    caps: list[tuple[Level, str]] = []
    if marked.help is Help.TOOK_CONTROL:
        caps.append((Level.EXPLAIN, "the instructor took control"))
    elif marked.help is not Help.NONE:
        caps.append((Level.PRACTICE, {Help.PROMPTED: "with a prompt", Help.ASSISTED: "with assistance"}[marked.help]))
    caps += [(Level.PRACTICE, f"{name.lower()}, a critical fault") for name in marked.critical_faults]
    outside = [row for row in marked.deviations if row.place is not Place.INSIDE]
    caps += [(Level.PRACTICE, row.words) for row in sorted(outside, key=lambda row: -row.place.rank)]
    return caps
