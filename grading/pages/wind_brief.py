"""This module says before a flight what the wind does to the circuit: a sentence, pictures, and the same as a table.

A calculation from the targets of the gates and an assumed wind aloft: it advises and permits nothing.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from grading.pages.runway_place import RunwayPlace
from lessons.models import GateSet
from lessons.models.published_values import PublishedTarget
from lessons.published_content import gate_targets, gates_in_order
from lessons.rules.circuit_wind import (
    CannotFly,
    CircuitAir,
    CircuitInWind,
    CircuitTargets,
    GateAim,
    LegInWind,
    advice_sentence,
    assumption_words,
    usual_turn_sentence,
    work_out,
)
from lessons.rules.pattern import Leg, Shape
from lessons.rules.unit_words import TENS, rounded_length, scale_bar, write_length, write_sink, write_speed
from lessons.rules.units import DisplayUnits, convert
from lessons.rules.wind import Wind, wind_components, worst_crosswind_kt
from school.marks import WindObstacle, WindPlan, triangle_scale, wind_plan, wind_triangle
from school.models import Runway

NO_DIRECTION = "The wind has no direction, so nothing can be drawn: expect it from any side."
PATH_STEPS = 160
SHORT_NAME = 14
NEAR_FT = 1000
MAX_CACHED_BRIEFS = 256  # some 12 kB each; a school has few runways and few winds a day


@dataclass(frozen=True)
class TriangleFigure:
    """One wind triangle with its words below it."""

    name: str
    svg: str
    lines: tuple[str, ...]


@dataclass(frozen=True)
class LegRow:
    """One leg as a line of the table, in the units of the school."""

    name: str
    height: str
    airspeed: str
    wind: str
    groundspeed: str
    heading: str
    drift: str


@dataclass(frozen=True)
class WindBrief:
    """What the page shows. `refused`: in a sentence why nothing is drawn; the rest is empty then."""

    refused: str = ""
    sentence: str = ""
    usual: str = ""
    crosswind: str = ""
    plan: str = ""
    triangles: tuple[TriangleFigure, ...] = ()
    legs: tuple[LegRow, ...] = ()
    numbers: tuple[tuple[str, str], ...] = ()
    obstacles: tuple[str, ...] = ()
    assumptions: str = ""
    place: str = ""


def wind_brief(
    gate_set: GateSet | None, stall_landing_kt: int, runway: Runway | None, wind: Wind | None, units: DisplayUnits
) -> WindBrief:
    """Return what the wind does to the circuit of a type on a runway. One query, for the obstacles."""
    if wind is None or runway is None:
        return WindBrief(refused="Enter the wind and the runway to see what they do to the circuit.")
    if gate_set is None:
        return WindBrief(refused="This type has no gates in force, so its circuit cannot be drawn.")
    if wind.direction is None and wind.strongest_kt:
        return WindBrief(refused=NO_DIRECTION)
    return _brief_by_values(gate_set.pk, gate_set.shape, stall_landing_kt, RunwayPlace.of(runway), wind, units)


# By values alone: a published gate set never changes, and a runway that is placed anew is another key.
@lru_cache(maxsize=MAX_CACHED_BRIEFS)
def _brief_by_values(
    gate_set_id: int, shape: str, stall_kt: int, runway: RunwayPlace, wind: Wind, units: DisplayUnits
) -> WindBrief:
    targets = circuit_targets(gate_set_id, shape, stall_kt, wind)
    crosswind = describe_crosswind(wind, runway.heading)
    try:
        air = CircuitAir.from_wind(wind, runway.heading, left=runway.left)
        circuit = work_out(targets, air, runway.heading, left=runway.left)
    except CannotFly as refusal:
        return WindBrief(refused=refusal.words(units), crosswind=crosswind)
    sentence = advice_sentence(circuit, units)
    return WindBrief(
        sentence=sentence,
        usual="" if circuit.is_calm else usual_turn_sentence(circuit.turn, units),
        crosswind=crosswind,
        plan=wind_plan(
            _plan(circuit, runway, wind, units), f"The circuit of runway {runway.designator} from above. {sentence}"
        ),
        triangles=_triangles(circuit, runway.left, units),
        legs=tuple(_leg_row(leg, units) for leg in circuit.legs),
        numbers=tuple(_numbers(circuit, units)),
        obstacles=tuple(_describe_obstacle(*row, units) for row in runway.obstacles),
        assumptions=assumption_words(units),
        place=runway.words(units),
    )


def circuit_targets(gate_set_id: int, shape: str, stall_kt: int, wind: Wind) -> CircuitTargets:
    """Return the gates in feet and knots, approach speeds with half the gust where a target asks for it."""
    aims: dict[int, dict[str, float]] = {}
    for row in gate_targets(gate_set_id):
        # A gate may ask for other numbers too, such as power, which have no part in the circuit's way.
        if row.quantity in ("height", "speed", "bank"):
            aims.setdefault(row.gate_id, {})[row.quantity] = _target_value(row, wind)
    gates = (
        GateAim(
            gate.code,
            gate.name,
            Leg(gate.leg),
            gate.along_ft,
            aims.get(gate.pk, {}).get("height"),
            aims.get(gate.pk, {}).get("speed"),
            aims.get(gate.pk, {}).get("bank"),
        )
        for gate in gates_in_order(gate_set_id)[1]
    )
    return CircuitTargets(tuple(gates), Shape(shape), stall_kt)


def _target_value(row: PublishedTarget, wind: Wind) -> float:
    if row.quantity == "bank":
        return float(row.value)
    value = float(convert(row.value, row.unit, "kt" if row.quantity == "speed" else "ft"))
    return value + wind.gust_allowance_kt if row.wind_rule == "half_gust" else value


def describe_crosswind(wind: Wind, heading: int) -> str:
    """Return 'Crosswind 8 kt from the right, headwind 9 kt; crosswind up to 12 kt in the gust.'"""
    words = wind_components(wind, heading).words
    gust = f"; crosswind up to {math.ceil(worst_crosswind_kt(wind, heading))} kt in the gust" if wind.gust_kt else ""
    return f"{words[:1].upper()}{words[1:]}{gust}."


def _plan(circuit: CircuitInWind, runway: RunwayPlace, wind: Wind, units: DisplayUnits) -> WindPlan:
    track, turn = circuit.track, circuit.turn
    ends = -runway.touchdown_ft, runway.length_ft - runway.touchdown_ft
    far_x = track.lift_off_x + track.out
    lift_off, final = track.position_at(0), (0.0, 0.0)
    before = _path_to(circuit, turn.advised_path[0])
    inside, outside = _turn_sides(turn.advised_path)
    middle = turn.advised_path[len(turn.advised_path) // 2]
    # Its words lie on the side that the usual turn leaves free.
    square = track.shape is Shape.SQUARE
    half = (middle, outside if (turn.past_final_ft if square else turn.farther_out_ft) > 0 else inside)
    banks = [(*half, turn.advised_half_deg)]
    if not square:
        banks += [
            (turn.advised_path[0], inside, turn.advised_first_deg),
            (turn.advised_path[-1], inside, turn.advised_last_deg),
        ]
    legs = {leg.name: leg.over_ground.heading for leg in circuit.legs}
    crossing = track.position_at(track.out + track.across / 2)
    return WindPlan(
        runway=ends,
        designator=runway.designator,
        flown=(lift_off, *before, *turn.advised_path, final),
        usual=turn.usual_path,
        begins=(turn.advised_path[0], turn.usual_path[0]),
        begin_course=math.pi if track.shape is Shape.OVAL else math.pi * 3 / 2,
        banks=tuple((point, from_point, f"{bank:.0f}°") for point, from_point, bank in banks),
        noses=(
            ((far_x - 400, 0.0), legs["upwind"]),
            (crossing, legs["crosswind"]),
            ((0.0, track.width), legs["downwind"]),
            (middle if track.shape is Shape.OVAL else (-track.inbound, track.width * 0.55), legs["base"]),
            ((-track.inbound * 0.55 - runway.touchdown_ft * 0.45, 0.0), legs["final"]),
        ),
        wind=(circuit.air.along_kt, circuit.air.across_kt),
        wind_words=_wind_words(wind),
        obstacles=_drawn_obstacles(circuit, runway, units),
        left=runway.left,
        far_turn_x=far_x,
        scale_bar=scale_bar(units),
        heading_true=None if runway.heading_true is None else float(runway.heading_true),
    )


def _path_to(circuit: CircuitInWind, begin: tuple[float, float]) -> list[tuple[float, float]]:
    """Return the target track from the lift-off to where the advised turn begins."""
    track = circuit.track
    base, final = track.corners[2:]
    # Along the downwind leg x falls, along base y does. A turn that begins after the leg is reached straight on.
    end = min(base - track.inbound - begin[0], base) if track.shape is Shape.OVAL else min(final - begin[1], final)
    steps = {end * step / PATH_STEPS for step in range(PATH_STEPS + 1)}
    corners = {corner for corner in track.corners if corner < end}
    return [track.position_at(along) for along in sorted(steps | corners)]


def _turn_sides(points: Sequence[tuple[float, float]]) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return a point on the inside of a turn, and one on its outside beyond the middle of it."""
    (first_x, first_y), (last_x, last_y) = points[0], points[-1]
    middle_x, middle_y = points[len(points) // 2]
    # From the middle of the turn to the middle of its chord, whatever its shape.
    in_x, in_y = (first_x + last_x) / 2 - middle_x, (first_y + last_y) / 2 - middle_y
    return (middle_x + in_x, middle_y + in_y), (middle_x - in_x, middle_y - in_y)


def _wind_words(wind: Wind) -> tuple[str, ...]:
    if wind.direction is None or not wind.strongest_kt:
        return ("calm",)
    gust = (f"gust {wind.gust_kt} kt",) if wind.gust_kt else ()
    return (f"{wind.direction:03d}° {wind.speed_kt} kt", *gust)


def _drawn_obstacles(circuit: CircuitInWind, runway: RunwayPlace, units: DisplayUnits) -> tuple[WindObstacle, ...]:
    """Return the obstacles near the circuit: one far away would make the rest too small to read. All are told."""
    track = circuit.track
    rows = (_plan_obstacle(runway, units, *row) for row in runway.obstacles)
    return tuple(
        row
        for row in rows
        if -track.inbound - track.width / 2 - NEAR_FT <= row.x <= track.lift_off_x + track.out + track.width / 2
        and -NEAR_FT <= row.y <= track.width + NEAR_FT
    )


def _plan_obstacle(
    runway: RunwayPlace, units: DisplayUnits, name: str, before_ft: int, side_ft: int, height_ft: int
) -> WindObstacle:
    x = -runway.touchdown_ft - before_ft
    # Right of the centreline lies away from a left-hand circuit.
    y = -side_ft if runway.left else side_ft
    high = write_length(height_ft, units)
    short = f"{name} {high}" if len(name) <= SHORT_NAME else high
    return WindObstacle(short, float(x), float(y))


def _describe_obstacle(name: str, before_ft: int, side_ft: int, height_ft: int, units: DisplayUnits) -> str:
    where = f"{write_length(abs(before_ft), units)} {'before' if before_ft >= 0 else 'past'} the threshold"
    beside = f"{write_length(abs(side_ft), units)} {'right' if side_ft > 0 else 'left'}"
    side = f", {beside} of the centreline" if side_ft else ""
    return f"{name}, {write_length(height_ft, units)} high, {where}{side}"


def _leg_row(leg: LegInWind, units: DisplayUnits) -> LegRow:
    return LegRow(
        f"{leg.name[:1].upper()}{leg.name[1:]}",
        write_length(leg.height_ft, units),
        write_speed(leg.airspeed_kt, units),
        write_speed(leg.wind_kt, units),
        write_speed(leg.ground_kt, units),
        f"{leg.heading_deg:03d}°",
        leg.drift_words,
    )


def _triangles(circuit: CircuitInWind, left: bool, units: DisplayUnits) -> tuple[TriangleFigure, ...]:
    scale = triangle_scale([max(place.ground_kt, place.airspeed_kt) for place in circuit.places])
    return tuple(_triangle(place, left, scale, units) for place in circuit.places)


def _triangle(place: LegInWind, left: bool, scale: float, units: DisplayUnits) -> TriangleFigure:
    over = place.over_ground
    air = over.airspeed_kt * math.cos(over.heading), over.airspeed_kt * math.sin(over.heading)
    lines = [f"groundspeed {write_speed(place.ground_kt, units)}".replace(" k", "\u00a0k"), place.drift_words]
    if place.bank_deg is not None:
        lines.append(f"{place.bank_deg:.0f}° of bank")
    name = f"{place.name[:1].upper()}{place.name[1:]}"
    label = f"{name}: through the air {write_speed(place.airspeed_kt, units)}, {', '.join(lines)}"
    return TriangleFigure(name, wind_triangle(air, over.wind, left, scale, label), tuple(lines))


def _numbers(circuit: CircuitInWind, units: DisplayUnits) -> list[tuple[str, str]]:
    """Return what is worked out of the turn and the descent, as names and values."""
    turn, descent = circuit.turn, circuit.descent
    first, half, last = (f"{bank:.0f}°" for bank in turn.round_banks_deg)
    moved = rounded_length(turn.earlier_ft, units, TENS)
    side = "before" if moved > 0 else "after"
    shift = f"{write_length(abs(turn.earlier_ft), units, TENS)} {side} the usual place"
    rows = [
        ("Bank for a round path over the ground", f"{first} at first, {half} half way, {last} at the end"),
        ("Bank of a calm day", f"{turn.usual_bank_deg:.0f}° all the way"),
        ("With it from the usual place", usual_turn_sentence(turn, units)),
        ("The turn that comes out on final begins", shift if moved else "at the usual place"),
        ("and takes", f"{turn.seconds:.0f} s"),
    ]
    if descent is not None:
        off = f"{write_length(abs(descent.low_ft), units)} {'low' if descent.low_ft > 0 else 'high'}"
        end = write_length(abs(descent.short_ft), units, TENS)
        where = f"{end} {'short of' if descent.short_ft > 0 else 'past'} it"
        begun = f"{write_sink(descent.sink_fpm, units)} from {write_length(descent.height_ft, units)}"
        later = f"{abs(descent.later_s):.0f} s {'later' if descent.later_s > 0 else 'earlier'}"
        rows += [
            (
                f"Descent of a calm day, {begun}",
                f"reaches “{descent.end}” {off}: it ends {where}"
                if rounded_length(descent.low_ft, units)
                else "ends where it should",
            ),
            ("Begun so that it ends right", later if round(descent.later_s) else "as usual"),
        ]
    return rows
