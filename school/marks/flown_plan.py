"""Draw a flown circuit from above: the target over the ground, each gate as it was met, the touchdown, the wind."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from school.marks.flown_strips import polyline
from school.marks.ground import NORTH_REACH, aiming_mark, north_mark, obstacle_mark, threshold_mark
from school.marks.labels import Labels
from school.marks.svg import n, path, svg_element, text
from school.marks.symbols import diamond, half_diamond

WIDE, NARROW, NARROW_LENGTH = 760.0, 340.0, 620.0
ACROSS_MARGIN, ALONG_MARGIN, FOOT = 44.0, 40.0, 34.0
RUNWAY_HALF = 9.0
Point = tuple[float, float]
Projection = Callable[[float, float], Point]


@dataclass(frozen=True)
class PlanGate:
    """A gate at its place: feet along the takeoff (x) and to the circuit's side (y) from the touchdown point.

    state: "inside" where all its numbers are, "outside" where one is not, "unsure" where the uncertainty of one reaches
    over the edge of its tolerance, "not_measured". said: behind its number.
    """

    number: int
    x: float
    y: float
    state: str
    said: str = ""


@dataclass(frozen=True)
class PlanWind:
    """Wind relative to the takeoff: degrees clockwise to where it comes from, knots, and words, a line each."""

    angle: float
    speed: float
    lines: Sequence[str]


@dataclass(frozen=True)
class PlanObstacle:
    """An obstacle: feet before the aiming point, feet to the right of the centreline (left negative), and words."""

    before: float
    side: float
    said: str


@dataclass(frozen=True)
class PlanGround:
    """What lies still: the target's track, both ends of the runway on the x axis, its name, the circuit's side.

    scale_bar: its length in feet, and its words. heading_true: of the landing, degrees; None draws no north.
    """

    track: Sequence[Point]
    runway: Point
    designator: str
    left: bool
    scale_bar: tuple[float, str] = (1000.0, "1,000 ft")
    heading_true: float | None = None


def flown_plan(
    ground: PlanGround,
    gates: Sequence[PlanGate],
    label: str,
    *,
    touchdowns: Sequence[tuple[float, bool]] = (),
    wind: PlanWind | None = None,
    obstacles: Sequence[PlanObstacle] = (),
    narrow: bool = False,
    halo: bool = True,
    way: Sequence[Point] = (),
    earlier: Sequence[Sequence[Point]] = (),
) -> str:
    """Draw the plan, takeoff to the right; `narrow` with the takeoff upwards, for a telephone.

    touchdowns: feet from the aiming point, and whether that lies inside its tolerance; one alone is drawn large.
    way: where the aircraft was, in feet as the gates; without one nothing says where it was. earlier: the ways before
    it, thin.
    """
    place, size, scale = _projection(ground, narrow, [point for line in (way, *earlier) for point in line])
    labels = Labels(*size, halo=halo)
    body = _runway(ground, place, narrow) + path(polyline([place(x, y) for x, y in ground.track]), 2, dash="2 6")
    body += _direction(ground, place)
    for line in earlier:
        body += path(polyline([place(x, y) for x, y in line]), 1.3, stroke="var(--ink-2)")
    if way:
        drawn = polyline([place(x, y) for x, y in way])
        body += path(drawn, 6, stroke="var(--paper)") + path(drawn, 3)
    front = _designator(ground, place, narrow, labels)
    body += aiming_mark(*place(0, 0), _landing(narrow), 16) + _north(ground, size, narrow, labels)
    spots = [(gate, place(gate.x, gate.y)) for gate in gates]
    for _, (x, y) in spots:
        labels.block(x - 9, y - 9, x + 9, y + 9)
    landed = [(*place(_on_drawing(feet, ground), 0), inside) for feet, inside in touchdowns]
    for x, y, _ in landed:
        labels.block(x - 11, y - 11, x + 11, y + 11)
    body += _wind(wind, ground, place, narrow, labels) if wind else ""
    for obstacle in obstacles:
        drawn, words = _obstacle(obstacle, ground, place, labels)
        body, front = body + drawn, front + words
    middle, half = place(*_middle(ground)), _half(ground, place)
    for gate, (x, y) in spots:
        body += _gate_mark(x, y, gate.state)
        spots_round = _round(x, y, middle, half)
        front += (gate.said and labels.put(spots_round, f"{gate.number}: {gate.said}", 14, 600)) or labels.put(
            spots_round, str(gate.number), 16, 800
        )
    for x, y, inside in landed:
        body += path(f"M{n(x - 13)} {n(y)}H{n(x + 13)}", 5, stroke="var(--paper)") if not narrow else ""
        body += diamond(x, y, 9 if len(landed) == 1 else 5.5, inside)
    return svg_element(*size, body + front + _scale_bar(size, scale, ground.scale_bar), label, cls="g pattern flown")


def _on_drawing(x: float, ground: PlanGround) -> float:
    """Return a place on the runway's line that lies on the drawing."""
    xs = [x for x, _ in ground.track] + list(ground.runway)
    return min(max(x, min(xs)), max(xs))


def _projection(ground: PlanGround, narrow: bool, way: Sequence[Point]) -> tuple[Projection, Point, float]:
    points = [*ground.track, *way]
    xs = [x for x, _ in points] + list(ground.runway)
    first, long, tall = min(xs), max(max(xs) - min(xs), 1.0), max([1.0, *(y for _, y in points)])
    if narrow:
        scale = min((NARROW_LENGTH - 2 * ALONG_MARGIN) / long, (NARROW - 2 * ACROSS_MARGIN) / tall)
        high, middle = long * scale + 2 * ALONG_MARGIN + FOOT, (NARROW + tall * scale) / 2
        side = -1 if ground.left else 1
        foot = middle if ground.left else NARROW - middle

        def up(x: float, y: float) -> Point:
            return foot + side * y * scale, high - FOOT - ALONG_MARGIN - (x - first) * scale

        return up, (NARROW, high), scale
    scale = (WIDE - 2 * ALONG_MARGIN) / long
    high = tall * scale + 2 * ACROSS_MARGIN + FOOT

    def place(x: float, y: float) -> Point:
        across = ACROSS_MARGIN + y * scale
        # SVG's y axis points down, so a left-hand circuit is the one that is mirrored.
        return ALONG_MARGIN + (x - first) * scale, high - FOOT - across if ground.left else across

    return place, (WIDE, high), scale


def _middle(ground: PlanGround) -> Point:
    xs, ys = zip(*ground.track, strict=True)
    return (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2


def _half(ground: PlanGround, place: Projection) -> Point:
    """Return half the width and half the height of the circuit as drawn."""
    xs, ys = zip(*(place(x, y) for x, y in ground.track), strict=True)
    return max((max(xs) - min(xs)) / 2, 1.0), max((max(ys) - min(ys)) / 2, 1.0)


def _runway(ground: PlanGround, place: Projection, narrow: bool) -> str:
    (x0, y0), (x1, y1) = place(ground.runway[0], 0), place(ground.runway[1], 0)
    half = RUNWAY_HALF
    left, right, top, foot = min(x0, x1), max(x0, x1), min(y0, y1), max(y0, y1)
    if narrow:
        left, right = left - half, right + half
    else:
        top, foot = top - half, foot + half
    body = (
        f'<rect x="{n(left)}" y="{n(top)}" width="{n(right - left)}" height="{n(foot - top)}" fill="var(--paper)"'
        f' stroke="currentColor" stroke-width="2"/>'
    )
    # The threshold only of a runway that is known: without a name it is one of a common length.
    body += threshold_mark(x0, y0, _landing(narrow)) if ground.designator else ""
    u, v = _landing(narrow)
    return body + path(polyline([(x0 + 18 * u, y0 + 18 * v), (x1, y1)]), 1.5, dash="10 8")


def _landing(narrow: bool) -> Point:
    """Return the direction of the landing on the drawing: up a telephone, to the right elsewhere."""
    return (0.0, -1.0) if narrow else (1.0, 0.0)


def _north(ground: PlanGround, size: Point, narrow: bool, labels: Labels) -> str:
    if ground.heading_true is None:
        return ""
    x, y = size[0] - NORTH_REACH - 2, size[1] - NORTH_REACH - 2
    labels.block(x - NORTH_REACH, y - NORTH_REACH, x + NORTH_REACH, y + NORTH_REACH)
    return north_mark(x, y, (0 if narrow else 90) - ground.heading_true)


def _designator(ground: PlanGround, place: Projection, narrow: bool, labels: Labels) -> str:
    x, y = place(ground.runway[0], 0)
    # On the side away from the circuit, where no gate is.
    away = 1 if ground.left else -1
    spots = [(x + away * 14, y + 5, "start" if away > 0 else "end")] if narrow else [(x, y + away * 20 + 6, "middle")]
    return labels.put(spots, ground.designator, 16, 800)


def _direction(ground: PlanGround, place: Projection) -> str:
    """Draw the arrowhead of the direction of flight, in the middle of the downwind leg."""
    middle = len(ground.track) // 2
    (x0, y0), (x1, y1) = place(*ground.track[middle - 1]), place(*ground.track[middle])
    return arrowhead(x1, y1, x1 - x0, y1 - y0, 9)


def arrowhead(x: float, y: float, dx: float, dy: float, r: float, width: float = 2.5) -> str:
    """Draw an open arrowhead with its tip at x, y that points along dx, dy."""
    long = math.hypot(dx, dy) or 1.0
    u, v = dx / long, dy / long
    left, right = (
        (x - r * u - 0.75 * r * v, y - r * v + 0.75 * r * u),
        (x - r * u + 0.75 * r * v, y - r * v - 0.75 * r * u),
    )
    return path(polyline([left, (x, y), right]), width)


def _gate_mark(x: float, y: float, state: str) -> str:
    if state == "not_measured":
        return path(f"M{n(x - 8)} {n(y)}H{n(x + 8)}", 8, stroke="var(--paper)") + path(
            f"M{n(x - 7)} {n(y)}H{n(x + 7)}", 3, dash="3.6 1.6"
        )
    if state == "unsure":
        return half_diamond(x, y, 8)
    return diamond(x, y, 8, state == "inside")


def _round(x: float, y: float, middle: Point, half: Point) -> list[tuple[float, float, str]]:
    """Return the spots round a gate for its number, those outside the circuit first.

    middle, half: the circuit's own middle, and half its width and height.
    """
    up = 1 if y > middle[1] else -1
    side = 1 if x > middle[0] else -1
    above, below = (x, y + up * 22 + 6, "middle"), (x, y - up * 22 + 6, "middle")
    beside = (x + side * 14, y + 6, "start" if side > 0 else "end")
    opposite = (x - side * 14, y + 6, "end" if side > 0 else "start")
    farther = [(x + shift, y + way * 22 + 6, "middle") for way in (up, -up) for shift in (-14.0, 14.0)]
    # A leg that runs along the drawing has its outside above or below, one that runs up it has it at the side.
    along = abs(y - middle[1]) / half[1] >= abs(x - middle[0]) / half[0]
    first = [above, (x, y + up * 44 + 6, "middle"), beside] if along else [beside, opposite, above]
    return [*first, *farther, below, opposite]


def _wind(wind: PlanWind, ground: PlanGround, place: Projection, narrow: bool, labels: Labels) -> str:
    """Draw the air's own way in the middle, where no gate is, with its words where there is room."""
    x, y = place(*_middle(ground))
    angle = math.radians(wind.angle)
    # The air goes where the wind comes from not: against the takeoff for a wind from ahead.
    along, left = -math.cos(angle), math.sin(angle)
    dx, dy = (-left, -along) if narrow else (along, -left)
    half = min(30.0, 12 + wind.speed)
    x -= 0 if narrow else 90
    start, tip = (x - dx * half, y - dy * half), (x + dx * half, y + dy * half)
    labels.block(x - half - 8, y - half - 8, x + half + 8, y + half + 8)
    body = path(polyline([start, tip]), 4) + arrowhead(*tip, dx, dy, 13, 4)
    if narrow:
        return body + labels.put([(x, y + half + 26, "middle"), (x, y - half - 14, "middle")], "Wind", 15, 800)
    foot = y - 11 * (len(wind.lines) - 1) + 5
    for line, words in enumerate(wind.lines):
        body += labels.put([(x + 46, foot + 22 * line, "start")], words, 15, 400 if line else 800)
    return body


def _obstacle(obstacle: PlanObstacle, ground: PlanGround, place: Projection, labels: Labels) -> tuple[str, str]:
    x, y = place(-obstacle.before, -obstacle.side if ground.left else obstacle.side)
    width, high = labels.frame[2:]
    if not (12 < x < width - 12 and 12 < y < high - 12):
        return "", ""
    body = obstacle_mark(x, y + 8, y - 8)
    labels.block(x - 9, y - 10, x + 9, y + 10)
    spots = [(x, y + 26, "middle"), (x - 12, y + 24, "end"), (x + 12, y + 24, "start"), (x - 12, y - 12, "end")]
    return body, labels.put(spots, obstacle.said, 14)


def _scale_bar(size: Point, scale: float, bar: tuple[float, str]) -> str:
    x, y, long = 4.0, size[1] - 8, bar[0] * scale
    body = path(f"M{n(x)} {n(y - 6)}V{n(y)}H{n(x + long)}V{n(y - 6)}", 2)
    return body + text(x + long + 8, y + 1, bar[1], 14)
