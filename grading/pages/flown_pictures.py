"""This module draws circuits as flown from their numbers: plan, strips along the way, touchdowns; each for two widths.

Its functions take plain values, so that a lesson, a debrief and a sheet draw the same. Obstacles are handed in.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from grading.rules.flown import (
    ABEAM,
    STRIP_QUANTITIES,
    TOUCHDOWN,
    FlownCircuit,
    GatePlace,
    NumberTarget,
    Pattern,
    amount_words,
    height_between,
    plain_number,
)
from lessons.rules.pattern import Leg, Shape, Station, UnclosedCircuit, lay_out
from lessons.rules.unit_words import scale_bar
from lessons.rules.units import KNOTS_AND_FEET, DisplayUnits, convert
from school import marks
from school.marks import PlanGate, PlanGround, PlanObstacle, PlanWind, Strip, StripGate, StripLine, StripObstacle
from school.marks.labels import marked_values

TRACK_POINTS = 240  # enough for smooth curves at the width of a page
MOST_TICKS = 5
STRIP_TITLES = {"height": "Height", "speed": "Speed", "bank": "Bank"}


@dataclass(frozen=True)
class Drawn:
    """One figure, drawn for a page and drawn anew for a telephone."""

    wide: str
    narrow: str


@dataclass(frozen=True)
class ObstacleSpot:
    """An obstacle before a runway: feet before the aiming point, feet to the right of its line, feet high."""

    name: str
    before_ft: float
    side_ft: float
    height_ft: float


@dataclass(frozen=True)
class Ground:
    """What the plan needs of a runway: its name, its circuit's side, its length; wind relative to its heading.

    aim_ft: from the threshold to the aiming point, None for a sixth of the length; heading_true: None draws no north;
    words: where it lies.
    """

    shape: Shape
    designator: str
    left: bool
    length_ft: float
    wind: PlanWind | None = None
    units: DisplayUnits = KNOTS_AND_FEET
    aim_ft: float | None = None
    heading_true: float | None = None
    words: str = ""


@dataclass(frozen=True)
class FlownPictures:
    """The figures of circuits, None for what cannot be drawn; `label` is the sentence that each has as its name.

    out: the strips from the lift-off to before abeam, only where a number was noted there. place: where the runway of
    the plan lies, in words. obstacles: each with the margin that the dashed line has over it.
    """

    label: str
    plan: Drawn | None
    out: Drawn | None
    approach: Drawn | None
    touchdowns: Drawn | None
    place: str = ""
    obstacles: tuple[str, ...] = ()


def draw_twice(draw: Callable[[bool], str]) -> Drawn:
    return Drawn(draw(False), draw(True))


def draw_circuit(
    pattern: Pattern,
    shown: FlownCircuit,
    earlier: Sequence[FlownCircuit],
    ground: Ground,
    label: str,
    obstacles: Sequence[ObstacleSpot] = (),
) -> FlownPictures:
    """Draw one circuit, thick, before the earlier ones, thin."""
    lines = [*earlier, shown]
    return FlownPictures(
        label,
        _plan(pattern, [shown], ground, label, obstacles),
        _strips(pattern, lines, label, obstacles, out=True, thick=True),
        _strips(pattern, lines, label, obstacles, out=False, thick=True),
        _touchdowns(pattern, lines, label, newest=shown),
        ground.words,
        tuple(_over(row, pattern, lines, height_unit(pattern), thick=True)[2] for row in obstacles if pattern.gates),
    )


def draw_lesson(
    pattern: Pattern,
    circuits: Sequence[FlownCircuit],
    ground: Ground,
    label: str,
    obstacles: Sequence[ObstacleSpot] = (),
) -> FlownPictures:
    """Draw the circuits of a lesson over each other, none thicker than another."""
    return FlownPictures(
        label,
        _plan(pattern, circuits, ground, label, obstacles),
        _strips(pattern, circuits, label, (), out=True, thick=False),
        _strips(pattern, circuits, label, (), out=False, thick=False),
        _touchdowns(pattern, circuits, label, newest=None),
        ground.words,
    )


def part_of_circuit(pattern: Pattern, *, out: bool) -> list[GatePlace]:
    """Return the gates of the way out, or of the approach, which begins abeam the point."""
    abeam = pattern.by_code.get(ABEAM)
    begins = abeam.along_ft if abeam else 0
    return [gate for gate in pattern.gates if (gate.along_ft < begins) is out]


def _strips(
    pattern: Pattern,
    lines: Sequence[FlownCircuit],
    label: str,
    obstacles: Sequence[ObstacleSpot],
    *,
    out: bool,
    thick: bool,
) -> Drawn | None:
    gates = part_of_circuit(pattern, out=out)
    noted = any(key.partition(".")[0] in {gate.code for gate in gates} for row in lines for key in row.values)
    if not gates or (out and not noted):
        return None
    name = f"{label} The way out, from the lift-off." if out else label
    return draw_twice(
        lambda narrow: flown_strips(pattern, gates, lines, name, () if out else obstacles, thick=thick, narrow=narrow)
    )


def picture_of_number(
    key: str, pattern: Pattern, shown: FlownCircuit, others: Sequence[FlownCircuit], label: str
) -> Drawn | None:
    """Draw one number of a circuit, thick, before others, thin: its strip or the touchdowns; None without either."""
    target, gate = pattern.target(key), pattern.by_code.get(key.partition(".")[0])
    if target is None or gate is None or key not in shown.values:
        return None
    lines = [*others, shown]
    if target == pattern.touchdown:
        return draw_twice(lambda narrow: touchdown_strip(pattern, lines, label, shown, narrow=narrow))
    if target.quantity not in STRIP_QUANTITIES:
        return None
    out = gate in part_of_circuit(pattern, out=True)
    gates = part_of_circuit(pattern, out=out)
    asked = (target.quantity,)
    return draw_twice(
        lambda narrow: flown_strips(pattern, gates, lines, label, thick=True, narrow=narrow, quantities=asked)
    )


def flown_strips(
    pattern: Pattern,
    gates: Sequence[GatePlace],
    lines: Sequence[FlownCircuit],
    label: str,
    obstacles: Sequence[ObstacleSpot] = (),
    *,
    thick: bool,
    narrow: bool = False,
    halo: bool = True,
    quantities: Sequence[str] = STRIP_QUANTITIES,
) -> str:
    """Draw the strips of some gates, one a quantity; the last of the lines is thick where `thick`."""
    strips = [strip for name in quantities if (strip := _strip(name, pattern, gates, lines, thick=thick))]
    unit = height_unit(pattern)
    stops = [StripObstacle(*_over(row, pattern, lines, unit, thick=thick)) for row in obstacles] if gates else []
    return marks.flown_strips(
        strips,
        [(gate.number, float(gate.along_ft)) for gate in gates],
        distance_ticks(pattern, gates, unit),
        label,
        obstacles=stops,
        narrow=narrow,
        halo=halo,
    )


def height_unit(pattern: Pattern) -> str:
    """Return the unit in which the heights of a circuit are read."""
    return next((row.unit for row in pattern.targets if row.quantity == "height"), "ft")


def _strip(
    quantity: str, pattern: Pattern, gates: Sequence[GatePlace], lines: Sequence[FlownCircuit], *, thick: bool
) -> Strip | None:
    by_gate = {row.gate: row for row in pattern.targets if row.quantity == quantity}
    asked = [(gate, by_gate[gate.code]) for gate in gates if gate.code in by_gate]
    noted = any(target.key in row.values for row in lines for _, target in asked)
    # Bank is asked for at one gate or none: without a number its strip would show nothing.
    if not asked or (quantity == "bank" and not noted):
        return None
    unit = asked[0][1].unit
    return Strip(
        quantity,
        f"{STRIP_TITLES[quantity]}, {'degrees' if unit == 'deg' else unit}",
        [StripGate(gate.number, gate.along_ft, row.value, row.over, row.under) for gate, row in asked],
        [_line(row, asked, _said(row, lines, thick=thick)) for row in lines],
        thick,
    )


def _said(row: FlownCircuit, lines: Sequence[FlownCircuit], *, thick: bool) -> str:
    """Return what stands beside the numbers of a circuit: of one among equals its own number."""
    if not thick:
        return "circuit"
    return "amount" if row is lines[-1] else ""


def _line(circuit: FlownCircuit, asked: Iterable[tuple[GatePlace, NumberTarget]], said: str) -> StripLine:
    """Return the numbers of a circuit; said: beside those outside "amount", "circuit" (its number) or nothing."""
    noted = [(gate.number, row) for gate, row in asked if row.key in circuit.values]
    outside = [(number, row) for number, row in noted if row.key in circuit.outside]
    words = {
        "amount": {number: amount_words(circuit.amounts[row.key], row) for number, row in outside},
        "circuit": {number: str(circuit.circuit) for number, _ in outside},
    }
    values = {number: circuit.values[row.key] for number, row in noted}
    return StripLine(values, frozenset(number for number, _ in outside), words.get(said, {}))


def _over(
    row: ObstacleSpot, pattern: Pattern, lines: Sequence[FlownCircuit], unit: str, *, thick: bool
) -> tuple[float, float, str]:
    """Return where an obstacle stands along the way, its height, and what the dashed line has over it."""
    along = pattern.gates[-1].along_ft - row.before_ft
    high = float(convert(round(row.height_ft), "ft", unit))
    over = height_between(lines[-1], pattern, along) if thick and lines else None
    said = f"{row.name} {plain_number(round(high))} {unit}"
    if over is not None:
        said += f", the dashed line {plain_number(round(over - high))} {unit} over it"
    return along, high, said


def distance_ticks(pattern: Pattern, gates: Sequence[GatePlace], unit: str) -> list[tuple[float, str]]:
    """Return round distances: before the touchdown point on the approach, from the lift-off on the way out."""
    last, end = gates[-1].along_ft, pattern.gates[-1].along_ft
    feet = float(convert(1, unit, "ft"))
    if last == end:
        span = (end - gates[0].along_ft) / feet
        values = marked_values(0, span, MOST_TICKS)
        return [(end - value * feet, f"{value:,.0f} {unit}" if value else "point") for value in reversed(values)]
    values = marked_values(0, last / feet, MOST_TICKS)
    return [(value * feet, f"{value:,.0f} {unit}" if value else "lift-off") for value in values]


def _plan(
    pattern: Pattern, circuits: Sequence[FlownCircuit], ground: Ground, label: str, obstacles: Sequence[ObstacleSpot]
) -> Drawn | None:
    wide, narrow = (
        circuit_plan(pattern, circuits, ground, label, obstacles, narrow=narrow) for narrow in (False, True)
    )
    return Drawn(wide, narrow) if wide else None


def circuit_plan(
    pattern: Pattern,
    circuits: Sequence[FlownCircuit],
    ground: Ground,
    label: str,
    obstacles: Sequence[ObstacleSpot] = (),
    *,
    narrow: bool = False,
    halo: bool = True,
) -> str:
    """Draw the target from above with each gate as it was met; empty where the distances make no circuit.

    Of several circuits each gate says in how many of them it was inside, of those in which a number was noted there.
    """
    stations = tuple(Station(gate.code, Leg(gate.leg), gate.along_ft) for gate in pattern.gates)
    points = target_points(stations, ground.shape)
    if not points:
        return ""
    # Common practice: the aiming point in the touchdown zone, drawn at a sixth of the runway.
    aim = ground.length_ft / 6 if ground.aim_ft is None else ground.aim_ft
    runway = -aim, ground.length_ft - aim
    track = lay_out(stations, ground.shape)
    gates = [
        PlanGate(gate.number, *track.position_at(gate.along_ft), *_gate_in_all(gate.code, pattern, circuits))
        for gate in pattern.gates
        if gate.code != TOUCHDOWN
    ]
    return marks.flown_plan(
        PlanGround(points, runway, ground.designator, ground.left, scale_bar(ground.units), ground.heading_true),
        gates,
        label,
        touchdowns=[spot for row in circuits if (spot := _touchdown(pattern, row))],
        wind=ground.wind,
        obstacles=[PlanObstacle(row.before_ft, row.side_ft, row.name) for row in obstacles],
        narrow=narrow,
        halo=halo,
    )


# The same few circuits are drawn for every lesson.
@lru_cache(maxsize=64)
def target_points(stations: tuple[Station, ...], shape: Shape) -> tuple[tuple[float, float], ...]:
    """Return points along the target, none where the distances make no circuit."""
    try:
        track = lay_out(stations, shape)
    except (UnclosedCircuit, IndexError):
        return ()
    # The corners are added to the even steps, or a square circuit would have its corners cut.
    along = sorted({track.length * step / TRACK_POINTS for step in range(TRACK_POINTS + 1)} | set(track.corners))
    return tuple(track.position_at(place) for place in along)


def gate_state(code: str, pattern: Pattern, circuit: FlownCircuit) -> str:
    """Return how a gate was met: "outside" where one of its numbers is, "inside", "not_measured"."""
    keys = [row.key for row in pattern.targets if row.gate == code and row.key in circuit.values]
    if not keys:
        return "not_measured"
    return "outside" if any(key in circuit.outside for key in keys) else "inside"


def _gate_in_all(code: str, pattern: Pattern, circuits: Sequence[FlownCircuit]) -> tuple[str, str]:
    """Return how a gate was met in all of the circuits, and of several how often, as "3 of 4"."""
    states = [state for row in circuits if (state := gate_state(code, pattern, row)) != "not_measured"]
    if not states:
        return "not_measured", ""
    inside = states.count("inside")
    said = f"{inside} of {len(states)}" if len(circuits) > 1 else ""
    return "inside" if inside == len(states) else "outside", said


def _touchdown(pattern: Pattern, circuit: FlownCircuit) -> tuple[float, bool] | None:
    """Return the touchdown in feet past the aiming point, and whether it is inside."""
    target = pattern.touchdown
    if target is None or target.key not in circuit.values:
        return None
    feet = float(convert(1, target.unit, "ft"))
    return circuit.values[target.key] * feet, circuit.inside(target.key)


def _touchdowns(
    pattern: Pattern, lines: Sequence[FlownCircuit], label: str, newest: FlownCircuit | None
) -> Drawn | None:
    target = pattern.touchdown
    if target is None or not any(target.key in row.values for row in lines):
        return None
    return draw_twice(lambda narrow: touchdown_strip(pattern, lines, label, newest, narrow=narrow))


def touchdown_strip(
    pattern: Pattern,
    lines: Sequence[FlownCircuit],
    label: str,
    newest: FlownCircuit | None,
    *,
    narrow: bool = False,
    halo: bool = True,
) -> str:
    """Draw where the wheels met the ground; a circuit of another lesson is named with its lesson."""
    target = pattern.touchdown
    assert target is not None
    here = (newest or lines[-1]).lesson
    spots = [
        marks.TouchdownSpot(
            str(row.circuit) if row.lesson == here else f"{row.lesson}/{row.circuit}",
            row.values[target.key],
            row.inside(target.key),
            row is newest,
        )
        for row in lines
        if target.key in row.values
    ]
    limits = (target.value - target.under, target.value + target.over)
    return marks.touchdown_strip(spots, limits, target.unit, label, narrow=narrow, halo=halo)
