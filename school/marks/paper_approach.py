"""Draw the last approaches on paper: the target's way over the ground, heights along it, heights against the target."""

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass

from school.marks.flown_strips import polyline
from school.marks.labels import Labels, grouped, marked_values
from school.marks.paper import diamonds, tees
from school.marks.svg import n, path, svg_element, tint_path, tint_rect

PLAN_WIDTH, PROFILE_WIDTH, HEIGHT, SMALL_HEIGHT, TYPE = 166.0, 322.0, 136.0, 110.0, 8.0
LEFT, RIGHT, TOP = 34.0, 16.0, 14.0
RUNWAY_HALF, PLAN_MARGIN = 4.5, 12.0
Point = tuple[float, float]
Scale = Callable[[float], float]


@dataclass(frozen=True)
class ApproachGate:
    """A gate of the approach: name, way flown, place from the touchdown point, height asked for (None without one)."""

    name: str
    along: float
    x: float
    y: float
    height: float | None = None
    over: float = 0.0
    under: float = 0.0


@dataclass(frozen=True)
class ApproachLine:
    """Heights of one circuit by the way flown, each with whether it is inside; the touchdown past the aiming point.

    tracked: the places along the way whose height came from a flight track; each gets a T.
    """

    heights: Sequence[tuple[float, float, bool]]
    touchdown: tuple[float, bool] | None = None
    tracked: Collection[float] = ()
    touchdown_tracked: bool = False


@dataclass(frozen=True)
class TouchdownZone:
    """Where the wheels may touch, past the aiming point, in words and in feet."""

    begin: float
    end: float
    words: str


def approach_plan(
    gates: Sequence[ApproachGate],
    track: Sequence[Point],
    lines: Sequence[ApproachLine],
    zone: TouchdownZone | None,
    label: str,
    *,
    scale_bar: tuple[float, str],
    small: bool = False,
) -> str:
    """Draw the target over the ground from abeam to the runway; track: points in feet, the touchdown at 0, 0.

    scale_bar: its length in feet, and its words.

    Where between the gates a circuit lay nobody measured, so only its touchdown is drawn.
    """
    tall_pt = SMALL_HEIGHT if small else HEIGHT
    ahead = max([1500.0, *((zone.end + 500,) if zone else ())])
    left = min(x for x, _ in track)
    tall = max(y for _, y in track) or 1.0
    scale = min((PLAN_WIDTH - 2 * PLAN_MARGIN) / (ahead - left), (tall_pt - 46) / tall)

    def place(x: float, y: float) -> Point:
        return PLAN_MARGIN + (x - left) * scale, tall_pt - 26 - y * scale

    labels = Labels(PLAN_WIDTH, tall_pt, halo=False)
    body = path(polyline([place(x, y) for x, y in track]), 1, dash="1 2.2")
    (begin, axis), (end, _) = place(-min(400.0, ahead / 4), 0), place(ahead, 0)
    body += path(
        f"M{n(end)} {n(axis - RUNWAY_HALF)}H{n(begin)}v{n(2 * RUNWAY_HALF)}H{n(end)}", 0.8, fill="var(--paper)"
    )
    if zone:
        low, high = place(zone.begin, 0)[0], place(zone.end, 0)[0]
        body += tint_rect(low, axis - RUNWAY_HALF, high - low, 2 * RUNWAY_HALF).replace('width="1"/>', 'width=".4"/>')
        body += labels.put([(end, axis + 15, "end")], zone.words, TYPE)
    body += path(f"M{n(place(0, 0)[0])} {n(axis - 7)}v14", 1.4)
    body += _gate_names(gates, place, labels)
    body += _scale_bar(scale_bar, scale, labels, tall_pt)
    spots = [(place(row.touchdown[0], 0)[0], row.touchdown[1]) for row in lines if row.touchdown]
    drawn = [(min(x, end), axis) for x, inside in spots if inside]
    body += diamonds(drawn, 3, inside=True)
    body += diamonds([(min(x, end), axis) for x, inside in spots if not inside], 3, inside=False)
    tracked = [row.touchdown[0] for row in lines if row.touchdown and row.touchdown_tracked]
    body += tees([(min(place(x, 0)[0], end) - 4.5, axis - 4) for x in tracked])
    return svg_element(PLAN_WIDTH, tall_pt, body, label, cls="pic")


def _gate_names(gates: Sequence[ApproachGate], place: Callable[[float, float], Point], labels: Labels) -> str:
    body, front = "", ""
    for gate in gates[:-1]:
        x, y = place(gate.x, gate.y)
        body += path(f"M{n(x)} {n(y - 6)}v12" if abs(gate.x) < 1 or gate.y < 1 else f"M{n(x - 6)} {n(y)}h12", 0.8)
        spots = [(x + 9, y + 3, "start"), (x, y - 9, "middle"), (x + 9, y - 9, "start"), (x, y + 16, "middle")]
        front += labels.put(spots[1:] if gate.y < 1 else spots, gate.name, TYPE, 600)
    return body + front


def _scale_bar(bar: tuple[float, str], scale: float, labels: Labels, high: float) -> str:
    wide = bar[0] * scale
    x, y = PLAN_WIDTH / 2 - wide / 2 + 8, high / 2 + 8
    front = labels.put([(x, y + 10, "start")], bar[1], TYPE)
    return path(f"M{n(x)} {n(y - 5)}v5h{n(wide)}v-5", 0.7) + front


def approach_heights(
    gates: Sequence[ApproachGate],
    lines: Sequence[ApproachLine],
    unit: str,
    ticks: Sequence[tuple[float, str]],
    label: str,
    *,
    small: bool = False,
) -> str:
    """Draw heights along the way, and under them against the target. The last line is thick.

    ticks: places along the way with words under the drawing.
    """
    high = SMALL_HEIGHT if small else HEIGHT
    first, last = gates[0].along, gates[-1].along
    span = max(last - first, 1.0)

    def along(way: float) -> float:
        return LEFT + 8 + (way - first) / span * (PROFILE_WIDTH - LEFT - RIGHT - 8)

    labels = Labels(PROFILE_WIDTH, high, halo=False)
    body, front = "", ""
    for gate in gates:
        x = along(gate.along)
        body += path(f"M{n(x)} {n(TOP)}V{n(high - 15)}", 0.4, stroke="var(--hair)")
    # From the touchdown back: near the ground a name is the one to know.
    for gate in reversed(gates):
        x = along(gate.along)
        spots = [(x, 9.0, "middle"), (PROFILE_WIDTH - 1, 9.0, "end")] if gate is gates[-1] else [(x, 9.0, "middle")]
        front += labels.put(spots, gate.name, TYPE, 600)
    for way, words in reversed(ticks):
        x = along(way)
        front += labels.put([(x, high - 3, "middle"), (PROFILE_WIDTH - 1, high - 3, "end")], words, TYPE)
    asked = [gate for gate in gates if gate.height is not None]
    if asked:
        body += _height_strip(asked, lines, along, unit, labels, high)
        body += _deviation_strip(asked, lines, along, unit, labels, high)
    return svg_element(PROFILE_WIDTH, high, body + front, label, cls="pic")


def _height_strip(
    gates: Sequence[ApproachGate], lines: Sequence[ApproachLine], along: Scale, unit: str, labels: Labels, tall: float
) -> str:
    top, foot = TOP + 2, tall * 0.59
    values = [value for row in lines for _, value, _ in row.heights]
    high = max([1.0, *((gate.height or 0) + gate.over for gate in gates), *values]) * 1.05

    def up(value: float) -> float:
        return foot - max(value, 0) / high * (foot - top)

    bound = [(gate, gate.height or 0) for gate in gates]
    over = [(along(gate.along), up(height + gate.over)) for gate, height in bound]
    under = [(along(gate.along), up(height - gate.under)) for gate, height in bound]
    body = tint_path(polyline([*over, *reversed(under)]) + "Z").replace('width="1"/>', 'width=".4"/>')
    body += path(polyline([(along(gate.along), up(height)) for gate, height in bound]), 0.6, dash="1 1.8")
    body += path(f"M{n(LEFT)} {n(foot)}H{n(PROFILE_WIDTH - 4)}", 1)
    for value in [0.0, *(value for value in marked_values(0, high, 3) if value)]:
        words = f"0 {unit}" if not value else grouped(value)
        body += labels.put([(LEFT - 7, up(value) + 2.8, "end")], words, TYPE)
        body += path(f"M{n(LEFT - 5)} {n(up(value))}h5", 0.7)
    body += _lines(lines, along, up)
    return body + labels.put(
        [(PROFILE_WIDTH - 90, top + 14, "middle"), (LEFT + 90, foot - 8, "middle")], "Height above the field", TYPE
    )


def _deviation_strip(
    gates: Sequence[ApproachGate], lines: Sequence[ApproachLine], along: Scale, unit: str, labels: Labels, tall: float
) -> str:
    top, foot = tall * 0.66, tall - 17
    middle = (top + foot) / 2
    most = max(1.0, *(max(gate.over, gate.under) for gate in gates)) * 1.25
    targets = {gate.along: gate.height or 0 for gate in gates}

    def up(value: float) -> float:
        return middle - min(max(value, -most), most) / most * (foot - top) / 2

    over = [(along(gate.along), up(gate.over)) for gate in gates]
    under = [(along(gate.along), up(-gate.under)) for gate in gates]
    body = tint_path(polyline([*over, *reversed(under)]) + "Z").replace('width="1"/>', 'width=".4"/>')
    body += path(f"M{n(LEFT + 8)} {n(middle)}H{n(along(gates[-1].along))}", 0.5, dash="1 1.8")
    end = marked_values(0, most, 1)[-1] or round(most)
    for value, words in ((end, f"+{grouped(end)}"), (0.0, f"0 {unit}"), (-end, f"\u2212{grouped(end)}")):
        body += labels.put([(LEFT - 7, up(value) + 2.8, "end")], words, TYPE)
        body += path(f"M{n(LEFT - 5)} {n(up(value))}h5", 0.7)
    against = [
        ApproachLine(
            [(way, value - targets[way], inside) for way, value, inside in row.heights if way in targets],
            tracked=row.tracked,
        )
        for row in lines
    ]
    body += _lines(against, along, up)
    return body + labels.put(
        [(LEFT + 90, foot - 3, "middle"), (PROFILE_WIDTH - 90, foot - 3, "middle")], "Height against the target", TYPE
    )


def _lines(lines: Sequence[ApproachLine], along: Scale, up: Scale) -> str:
    """Join the heights of each circuit by broken lines: between the gates nobody measured."""
    thin, thick = "", ""
    spots: dict[bool, list[Point]] = {True: [], False: []}
    tracked: list[Point] = []
    for place, row in enumerate(lines):
        points = [(along(way), up(value)) for way, value, _ in row.heights]
        if len(points) > 1 and place == len(lines) - 1:
            thick = path(polyline(points), 1.8, dash="5 2")
        elif len(points) > 1:
            thin += polyline(points)
        for way, value, inside in row.heights:
            spots[inside].append((along(way), up(value)))
        tracked += [(along(way), up(value)) for way, value, _ in row.heights if way in row.tracked]
    body = path(thin, 0.6, dash="3 1.6") if thin else ""
    body += thick + diamonds(spots[True], 2.6, inside=True) + diamonds(spots[False], 2.6, inside=False)
    return body + tees(tracked)
