"""Find what is wrong with the gates of an aircraft type. Pure. Every problem names its place and what to do."""

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from itertools import pairwise

from lessons.rules.pattern import Leg, Shape, Station, Track, UnclosedCircuit, lay_out
from lessons.rules.units import convert

# The units in which a quantity may be written; the first is the one that the trade uses most.
QUANTITY_UNITS = {
    "height": ("ft", "m"),
    "speed": ("kt", "km/h"),
    "distance": ("ft", "m"),
    "bank": ("deg",),
    # As the power is set: by engine speed with a fixed-pitch propeller, by manifold pressure with one of constant
    # speed, whose own setting is the propeller's (common practice).
    "power": ("rpm", "inHg"),
    "propeller": ("rpm",),
}
WIND_RULES = ("none", "half_gust")
PHASES = ("takeoff", "circuit", "approach", "landing")
MAX_LENGTHS = {"code": 40, "name": 40, "configuration": 100, "where": 140}


@dataclass(frozen=True)
class TargetSpec:
    quantity: str
    value: Decimal
    over: Decimal
    under: Decimal
    unit: str
    wind_rule: str = "none"


@dataclass(frozen=True)
class GateSpec:
    code: str
    name: str
    phase: str
    leg: Leg
    along_ft: int
    configuration: str = ""
    where: str = ""
    targets: tuple[TargetSpec, ...] = ()


@dataclass(frozen=True)
class GateSetSpec:
    """Describe one issue of a type's gates, in the order flown."""

    issue: int
    valid_from: date
    shape: Shape
    gates: tuple[GateSpec, ...]

    @property
    def stations(self) -> list[Station]:
        return [Station(gate.code, gate.leg, gate.along_ft) for gate in self.gates]


@dataclass(frozen=True, slots=True)
class StallSpeeds:
    """Give the stall speeds of the type, knots indicated."""

    stall_landing_kt: int
    stall_clean_kt: int


@dataclass(frozen=True, slots=True)
class RunwayLength:
    """Give one direction of a runway: its length, and how far past its beginning the landing aims. Feet."""

    length_ft: int
    touchdown_ft: float


@dataclass(frozen=True, slots=True)
class GateProblem:
    """Name a problem. `gate` is an index in the list, or None for a problem of the whole."""

    gate: int | None
    sentence: str


def find_problems(form: GateSetSpec, speeds: StallSpeeds, runways: Sequence[RunwayLength] = ()) -> list[GateProblem]:
    """Return everything that prevents these gates from being published, in the order flown.

    `runways`: those of the home aerodrome; without any, where the lift-off lies is not looked at.
    """
    problems = [*_list_problems(form.gates)]
    for place, gate in enumerate(form.gates):
        problems += [GateProblem(place, sentence) for sentence in _gate_problems(gate, speeds)]
    problems += _order_problems(form.gates)
    # Without enough gates, or with two of one code, the track would fail for the same reason in other words.
    if not any(problem.gate is None for problem in problems):
        try:
            track = lay_out(form.stations, form.shape)
        except UnclosedCircuit as error:
            problems.append(GateProblem(None, str(error)))
        else:
            problems += _runway_problems(form.gates[0], track, runways)
    return problems


def _runway_problems(first: GateSpec, track: Track, runways: Sequence[RunwayLength]) -> Iterator[GateProblem]:
    """Yield a first gate on the takeoff that the drawing puts off every runway: then distances contradict each other.

    The touchdown is at 0, so the runway reaches from before it by the way to the aiming point to its end.
    """
    if not runways or first.phase != "takeoff":
        return
    x = track.position_at(first.along_ft)[0]
    beyond = min(x - (runway.length_ft - runway.touchdown_ft) for runway in runways)
    short = min(-runway.touchdown_ft - x for runway in runways)
    check = "check the distances of the first turn, of the gate abeam the point and of the touchdown"
    if beyond > 0:
        yield GateProblem(0, f"By these distances it lies {beyond:,.0f} ft beyond the end of the runway: {check}.")
    elif short > 0:
        yield GateProblem(0, f"By these distances it lies {short:,.0f} ft before the runway begins: {check}.")


def _list_problems(gates: Sequence[GateSpec]) -> Iterator[GateProblem]:
    if len(gates) < 4:
        yield GateProblem(None, "A circuit has at least four gates: lift-off, abeam the point, final, touchdown.")
    for code, count in Counter(gate.code for gate in gates).items():
        if count > 1:
            yield GateProblem(None, f"{count} gates have the code “{code}”: each gate needs its own code.")


def _gate_problems(gate: GateSpec, speeds: StallSpeeds) -> Iterator[str]:
    if not gate.code or not all(letter.isascii() and (letter.isalnum() or letter in "-_") for letter in gate.code):
        yield f"“{gate.code}” is not a code: use letters, digits and hyphens."
    if not gate.name.strip():
        yield "The gate has no name."
    for field, most in MAX_LENGTHS.items():
        if len(getattr(gate, field)) > most:
            yield f"The {field} is longer than {most} characters."
    if gate.phase not in PHASES:
        yield f"“{gate.phase}” is not a phase: {', '.join(PHASES)}."
    for quantity, count in Counter(target.quantity for target in gate.targets).items():
        if count > 1:
            yield f"The {quantity} has {count} targets: one is enough."
    for target in gate.targets:
        yield from _target_problems(gate, target, speeds)


def _target_problems(gate: GateSpec, target: TargetSpec, speeds: StallSpeeds) -> Iterator[str]:
    what = target.quantity
    if what not in QUANTITY_UNITS:
        yield f"“{what}” is not a quantity: {', '.join(QUANTITY_UNITS)}."
        return  # nothing more can be said of an unknown quantity
    if target.unit not in QUANTITY_UNITS[what]:
        yield f"The {what} is in {target.unit or 'no unit'}: use {' or '.join(QUANTITY_UNITS[what])}."
        return
    # Refused here as well as in marking.py, where it would be an error in the middle of a lesson.
    if target.over < 0 or target.under < 0:
        yield f"The tolerance of the {what} is negative: write both sides of the tolerance as positive numbers."
    elif not target.over and not target.under:
        yield f"The tolerance of the {what} is zero on both sides: nothing could ever be inside it."
    if target.wind_rule not in WIND_RULES or (target.wind_rule != "none" and what != "speed"):
        yield f"The wind rule of the {what} is not known: half the gust is added to a speed only."
    if what == "height" and target.value < target.under:
        yield f"The height may be {target.under - target.value} {target.unit} under the ground: raise it or narrow it."
    if what == "bank" and not 0 <= target.value + target.over < 90:
        yield "The bank with its tolerance lies outside 0 to 90 degrees."
    if what in ("power", "propeller") and target.value <= target.under:
        yield f"The {what} with its tolerance may be zero or less: raise the target or narrow the tolerance below it."
    if what == "speed":
        yield from _speed_problems(gate, target, speeds)


def _speed_problems(gate: GateSpec, target: TargetSpec, speeds: StallSpeeds) -> Iterator[str]:
    """Yield a tolerance that reaches down to the stall: clean up to the circuit, in landing configuration after."""
    # All that lies inside a tolerance is called good, so no tolerance may reach down to the stall.
    clean = gate.phase in ("takeoff", "circuit")
    stall = speeds.stall_clean_kt if clean else speeds.stall_landing_kt
    slowest = convert(target.value - target.under, target.unit, "kt")
    if slowest <= stall:
        how = "clean" if clean else "in landing configuration"
        yield (
            f"The speed may be as slow as {float(slowest):.0f} kt, and this type stalls at {stall} kt {how}:"
            " raise the target or narrow the tolerance below it."
        )


def _order_problems(gates: Sequence[GateSpec]) -> Iterator[GateProblem]:
    for place, (before, gate) in enumerate(pairwise(gates), start=1):
        if gate.leg.rank < before.leg.rank:
            yield GateProblem(
                place, f"It lies on the {gate.leg} leg, after a gate of the {before.leg} leg: check the legs."
            )
        if gate.along_ft <= before.along_ft:
            far = f"{gate.along_ft:,} ft along, and the gate before it at {before.along_ft:,} ft"
            yield GateProblem(place, f"It lies {far}: each gate is farther along than the one before.")
    yield from _height_problems(gates)


def _height_problems(gates: Sequence[GateSpec]) -> Iterator[GateProblem]:
    """Yield heights that fall on the way out or rise on the way in."""
    heights = [(place, height) for place, gate in enumerate(gates) if (height := _height(gate.targets)) is not None]
    for (_, before), (place, height) in pairwise(heights):
        gate = gates[place]
        if gate.phase == "takeoff" and height < before:
            yield GateProblem(
                place,
                f"It is {_feet_text(height)}, lower than the gate before it at {_feet_text(before)}, in the climb.",
            )
        if (
            gate.leg in (Leg.DOWNWIND, Leg.BASE, Leg.FINAL)
            # Straight after the upwind leg the aeroplane may still be climbing.
            and gates[place - 1].leg is not Leg.UPWIND
            and height > before
        ):
            down = "on the way down a gate is never higher than the one before"
            yield GateProblem(place, f"It is {_feet_text(height)}, the gate before it {_feet_text(before)}: {down}.")


def _height(targets: Iterable[TargetSpec]) -> Decimal | None:
    """Return the height in feet, so that heights in two units compare."""
    for target in targets:
        if target.quantity == "height" and target.unit in QUANTITY_UNITS["height"]:
            feet = convert(target.value, target.unit, "ft")
            return Decimal(feet.numerator) / Decimal(feet.denominator)
    return None


def _feet_text(feet: Decimal) -> str:
    return f"{feet:.0f} ft"
