"""Prepare the numbers of a part of the circuit: each gate as a row of steps around its target, exact beside them."""

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache

from grading.models import Measure
from grading.reading.grade_lines import GradingContext, target_in_wind
from grading.rules.gate_words import SIDES
from grading.rules.marking import Target, ToleranceBand, deviation_from_target
from lessons.models.published_values import PublishedTarget
from lessons.rules.units import convert_for_display, format_target, round_to_step

STEPS_IN_ROW = 5
# As a needle is read: in fives on a dial of knots, in tens on one of kilometres an hour.
SPEED_STEPS = {"kt": 5, "km/h": 10}
STEP_SIZES = (1, 2, 5, 10, 20, 30, 50, 100, 200, 500, 1000)


@dataclass(frozen=True)
class StepKey:
    """One step: its difference from the target, the value to read off the dial, and what it means in words.

    first, last: the brackets of the tolerance stand before and behind these.
    """

    value: str
    difference: str
    below: str
    words: str
    inside: bool
    first: bool
    last: bool
    chosen: bool

    @property
    def place(self) -> str:
        """Return the classes of its key: inside the tolerance, and at which of its edges."""
        return "".join(
            f" {name}" for name, on in (("in", self.inside), ("first", self.first), ("last", self.last)) if on
        )


@dataclass(frozen=True)
class MeasureEntry:
    """One number that can be entered; `start` and `value` are in the school's unit.

    sign: gate and quantity, as signs of faults name them. over, under: the tolerances in that unit, for a script that
    judges a number as it is typed. counts_from: the unit from which the number will count, while that is to come.
    """

    field: str
    gate: str
    quantity: str
    target: str
    unit: str
    start: str
    value: str
    sign: str = ""
    aim: str = ""
    over: str = ""
    under: str = ""
    sides: str = ""
    counts_from: int | None = None
    steps: tuple[StepKey, ...] = ()

    @property
    def label(self) -> str:
        return f"{self.gate}: {self.quantity}"


def measure_entry(
    field: str, row: PublishedTarget, value: str, grading_context: GradingContext, counts_from: int | None = None
) -> MeasureEntry:
    # The target of the day: gusts raise the speed of an approach.
    today, units = target_in_wind(row, grading_context), grading_context.units
    unit = units.unit_for(row.unit)
    aim, over, under = (convert_for_display(number, row.unit, units) for number in (today.value, row.over, row.under))
    start = round_to_step(aim)
    return MeasureEntry(
        field=field,
        gate=row.gate.name,
        quantity=row.quantity,
        target=format_target(today.value, today.over, today.under, row.unit, units),
        unit=unit,
        start=f"{start:f}",
        value=value,
        sign=f"{row.gate.code}.{row.quantity}",
        aim=f"{aim:f}",
        over=f"{over:f}",
        under=f"{under:f}",
        sides="/".join(SIDES[row.quantity]),
        counts_from=counts_from,
        steps=step_keys(today, unit, int(start), (over, under), value) if field else (),
    )


# A page asks for some twenty rows, mostly the same ones in the same wind.
@lru_cache(maxsize=4096)
def step_keys(
    target: Target, unit: str, start: int, tolerances: tuple[Decimal, Decimal], value: str
) -> tuple[StepKey, ...]:
    """Return five steps of one size around a target, in the unit that people read."""
    rows = []
    for offset in step_offsets(target.quantity, unit, start, tolerances):
        number = start + offset
        deviation = deviation_from_target(target, Decimal(number), unit)
        side = SIDES[target.quantity][0 if deviation.amount > 0 else 1]
        away = f"{abs(offset):,} {unit} {side}" if offset else "on target"
        rows.append((offset, number, away, deviation.place is ToleranceBand.INSIDE, side))
    inside = [row[1] for row in rows if row[3]]
    return tuple(
        StepKey(
            value=str(number),
            difference=f"{offset:+,}".replace("-", "\u2212") if offset else "on",
            # A distance from the point has its point for a target: what it is called says more than its zero.
            below=f"{number:,}" if start else side if offset else "point",
            words=f"{away}, {'within' if within else 'outside'} tolerance",
            inside=within,
            first=bool(inside) and number == inside[0],
            last=bool(inside) and number == inside[-1],
            chosen=_same(value, number),
        )
        for offset, number, away, within, side in rows
    )


def step_offsets(quantity: str, unit: str, start: int, tolerances: tuple[Decimal, Decimal]) -> list[int]:
    """Return the offsets of the steps, so that the edge of the tolerance falls on or beside one."""
    over, under = tolerances
    two_sided = [side for side in (over, under) if side > 0]
    if quantity == "speed":
        size, first = SPEED_STEPS.get(unit, 5), -2
    elif len(two_sided) == 2:
        size, first = step_size(min(two_sided)), -2
    else:
        # On one side everything is outside: one step says so, and the room goes to the other.
        size, first = step_size(max(over, under) / 2), -1 if over else -3
    # Below the ground there is nothing to read.
    if quantity != "distance" and start:
        while first < 0 and start + first * size < 0:
            first += 1
    return [(first + step) * size for step in range(STEPS_IN_ROW)]


def step_size(most: Decimal) -> int:
    return max((size for size in STEP_SIZES if size <= most), default=1)


def _same(value: str, number: int) -> bool:
    text = value.replace("\u2212", "-").strip()
    return text.lstrip("-").isdecimal() and Fraction(text) == number


def measure_input(noted: Measure, unit: str) -> str:
    """Return the number alone where it was entered in the school's unit of today, else with its own unit behind it."""
    number = f"{Decimal(noted.value).normalize():f}"
    # A number stays in the unit it was noted in: converted, it would be rounded at each save of the form.
    return number if noted.effective_unit == unit else f"{number} {noted.effective_unit}"
