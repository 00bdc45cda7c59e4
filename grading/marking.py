"""From what was tapped and measured to a proposed level, with its reason in a sentence. Pure.

The rules are the school's; no published standard ties a tolerance to a first solo:
* the level tapped is capped at Practice by a prompt, by assistance, by a critical fault and by a
  number outside its tolerance; at Explain when the instructor took control, so never to standard;
* how far outside, and how often, is said but does not cap further: the level of what was unsafe is
  tapped by the one who saw it;
* the level of a lesson is the lower of its last two observed attempts: recent consistency counts,
  not the best and not the mean. Not observed never counts.
The proposal only ever lowers what was tapped, and a worse value, more help or another fault never
raises it. The instructor accepts or changes it.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from lessons.scale import Help, Level
from lessons.units import converted

SIDES = {
    "speed": ("fast", "slow"),
    "height": ("high", "low"),
    "distance": ("long", "short"),
    "bank": ("steep", "shallow"),
    "centreline": ("right", "left"),
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

    def __post_init__(self) -> None:
        if self.quantity not in SIDES:
            raise ValueError(f"{self.quantity} is not a quantity that is marked")
        if self.over < 0 or self.under < 0:
            raise ValueError(f"{self.quantity} {self.gate}: a tolerance is not negative")


@dataclass(frozen=True)
class Deviation:
    """How far a measured value lies from its target, exactly, in the unit of the target."""

    target: Target
    amount: Fraction

    @property
    def tolerance(self) -> Fraction:
        """That of the side the value lies on. None at all makes that side a limit."""
        return Fraction(self.target.over if self.amount > 0 else self.target.under)

    @property
    def place(self) -> Place:
        """Inside up to and on the tolerance, beyond up to and on twice of it, far beyond past that.

        So a touchdown short of the point, a side without tolerance, is far beyond however little.
        """
        if abs(self.amount) <= self.tolerance:
            return Place.INSIDE
        return Place.BEYOND if abs(self.amount) <= 2 * self.tolerance else Place.FAR_BEYOND

    @property
    def words(self) -> str:
        """'speed on the landing line 9 kt slow, outside, within twice the tolerance'.

        Rounded away from the target to a tenth, so that the number never contradicts the place.
        """
        what = f"{self.target.quantity} {self.target.gate}"
        if self.amount == 0:
            return f"{what} on target"
        side = SIDES[self.target.quantity][0 if self.amount > 0 else 1]
        amount = Decimal(math.ceil(abs(self.amount) * 10)) / 10
        place = "outside, no tolerance on this side" if self.tolerance == 0 else PLACES[self.place]
        return f"{what} {amount:f} {self.target.unit} {side}, {place}"


PLACES = {
    Place.INSIDE: "inside",
    Place.BEYOND: "outside, within twice the tolerance",
    Place.FAR_BEYOND: "outside, more than twice the tolerance",
}


def deviation(target: Target, value: Decimal, unit: str | None = None) -> Deviation:
    """The value noted at a gate, in the unit of the target or another of its kind (ValueError for any other)."""
    return Deviation(target, converted(value, unit or target.unit, target.unit) - Fraction(target.value))


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
