"""Draw what a wind does to a circuit: the circuit from above with the way the nose points, and wind triangles.

The landing goes up the page, as in the mark of the wind on a runway: so a narrow screen has room for the whole width
of the circuit. Feet come in the axes of the circuit: x along the landing from the aiming point, y to its side.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from school.marks.ground import NORTH_REACH, aiming_mark, north_mark, obstacle_mark, threshold_mark
from school.marks.svg import n, path, svg_element, text

Point = tuple[float, float]

PLAN_WIDTH, EDGE = 360.0, 56.0
RUNWAY_HALF = 15.0
DART = 14.0
LETTER_WIDTH, LINE_HEIGHT = 0.64, 1.25  # of the size of the type, wide enough for its bold figures
BREAK_FT = 260.0  # what is drawn of a leg that is cut
LEAST_CUT_FT = 1200.0  # a shorter piece is drawn as it is
TRIANGLE_SIDE = 170.0
BESIDE = 8.0
HALO = ' stroke="var(--paper)" stroke-width="5" stroke-linejoin="round" paint-order="stroke"'


@dataclass(frozen=True)
class WindObstacle:
    """`name` fits beside the sign: some 20 letters."""

    name: str
    x: float
    y: float


@dataclass(frozen=True)
class WindPlan:
    """What is drawn, in feet. flown: as it comes out right; usual: as on a calm day.

    runway: both ends on the x axis. begins: where this turn and the usual one begin, on a leg of this course, radians.
    banks: a point, another point that its words lie away from, and the words. noses: a place and where the nose
    points, radians. wind: how the air moves, knots. far_turn_x: where the upwind leg ends.
    scale_bar: its length in feet, and its words. heading_true: of the landing, degrees; None draws no north.
    """

    runway: tuple[float, float]
    designator: str
    flown: tuple[Point, ...]
    usual: tuple[Point, ...]
    begins: tuple[Point, Point]
    begin_course: float
    banks: tuple[tuple[Point, Point, str], ...]
    noses: tuple[tuple[Point, float], ...]
    wind: Point
    wind_words: tuple[str, ...]
    obstacles: tuple[WindObstacle, ...]
    left: bool
    far_turn_x: float
    scale_bar: tuple[float, str] = (1000.0, "1,000 ft")
    heading_true: float | None = None


def wind_plan(plan: WindPlan, label: str) -> str:
    """Draw the circuit from above. Long straight legs are cut, with a mark of two strokes where they are."""
    view = _View.over(plan)
    labels = _Labels()
    flown = [view.place(point) for point in plan.flown]
    usual = [view.place(point) for point in plan.usual]
    body = _runway(view, plan)
    body += _line(usual, 2, stroke="var(--ink-2)", dash="7 5")
    body += _line(flown, 7.5, stroke="var(--paper)") + _line(flown, 3.6)
    body += _breaks(view, plan)
    body += _begins(view, plan)
    body += "".join(_nose(view, point, heading) for point, heading in plan.noses)
    if math.hypot(*plan.wind) >= 0.5:
        body += _wind_arrow(view, plan)
    body += labels.draw(_runway_label(view, plan), fixed=True)
    body += _north(view, plan, labels)
    for mark in (*_wind_labels(view, plan), *_bank_labels(view, plan)):
        body += labels.draw(mark)
    for obstacle in plan.obstacles:
        sign, mark = _obstacle(view, obstacle)
        body += sign + labels.draw(mark)
    long, words = plan.scale_bar[0] * view.scale, plan.scale_bar[1]
    body += _scale_bar(view, long) + labels.draw(_Label(EDGE / 2 + long + 8, view.high - 9, words, 14))
    # Names that were moved down may reach below the picture.
    high = max(view.high, *(box[3] + 4 for box in labels.boxes))
    return svg_element(PLAN_WIDTH, high, body, label, cls="g wind-plan")


def wind_triangle(air: Point, wind: Point, left: bool, scale: float, label: str) -> str:
    """Draw one wind triangle: thin through the air, short the wind, thick over the ground. `scale`: px for a knot."""
    side = -1 if left else 1
    (air_x, air_y), (wind_x, wind_y) = ((side * y * scale, -x * scale) for x, y in (air, wind))
    ground_x, ground_y = air_x + wind_x, air_y + wind_y
    centre = TRIANGLE_SIDE / 2
    x = centre - (max(0, air_x, ground_x) + min(0, air_x, ground_x)) / 2
    y = centre - (max(0, air_y, ground_y) + min(0, air_y, ground_y)) / 2
    # Where they lie on one line, nose and wind are drawn beside the way over the ground, or it would hide them.
    apart = BESIDE if abs(air_x * wind_y - air_y * wind_x) < BESIDE * math.hypot(air_x, air_y) else 0.0
    length = math.hypot(air_x, air_y) or 1.0
    shift_x, shift_y = -air_y / length * apart, air_x / length * apart
    tip = x + air_x + shift_x, y + air_y + shift_y
    body = _arrow((x + shift_x, y + shift_y), tip, 2, 11)
    if math.hypot(wind_x, wind_y) > 3:
        body += _arrow(tip, (tip[0] + wind_x, tip[1] + wind_y), 2.4, 9, "var(--ink-2)")
    body += _arrow((x, y), (x + ground_x, y + ground_y), 4.6, 14)
    return svg_element(TRIANGLE_SIDE, TRIANGLE_SIDE, body, label, cls="g wind-triangle")


def wind_key() -> str:
    """Return a small wind triangle for a key: thin through the air, short the wind, thick over the ground."""
    begin, nose, end = (11.0, 42.0), (11.0, 4.0), (31.0, 14.0)
    body = _arrow(begin, nose, 1.8, 9) + _arrow(nose, end, 2, 8, "var(--ink-2)") + _arrow(begin, end, 3.4, 11)
    return svg_element(44, 44, body)


def triangle_scale(speeds: Sequence[float]) -> float:
    """Return the px for a knot at which triangles of these speeds fit, so that one scale serves all of them."""
    return (TRIANGLE_SIDE - 24) / max(*speeds, 1.0)


@dataclass(frozen=True)
class _View:
    """Turn feet into places on the page; between `low` and `high_x` the legs are cut to BREAK_FT."""

    scale: float
    left: bool
    low: float
    high_x: float
    top: float
    near: float
    high: float

    @classmethod
    def over(cls, plan: WindPlan) -> "_View":
        points = [*plan.flown, *plan.usual, *((obstacle.x, obstacle.y) for obstacle in plan.obstacles)]
        # The turn and the runway are drawn as they are, and what lies between the runway's end and the far turn is cut.
        low = min(max(plan.runway[1] + 400, 1500.0), 3200.0)
        high_x = plan.far_turn_x - 300
        if high_x - low < LEAST_CUT_FT:
            high_x = low
        near, far = min(y for _, y in points), max(y for _, y in points)
        scale = (PLAN_WIDTH - 2 * EDGE) / max(far - near, 1.0)
        view = cls(scale, plan.left, low, high_x, 0.0, near, 0.0)
        ends = [view.shortened(x) for x, _ in points] + [view.shortened(x) for x in plan.runway]
        top = max(ends) * scale + EDGE * 0.6
        return cls(scale, plan.left, low, high_x, top, near, top - min(ends) * scale + EDGE * 1.4)

    @property
    def is_cut(self) -> bool:
        return self.high_x > self.low

    def shortened(self, x: float) -> float:
        if not self.is_cut or x <= self.low:
            return x
        if x >= self.high_x:
            return x - (self.high_x - self.low) + BREAK_FT
        return self.low + (x - self.low) * BREAK_FT / (self.high_x - self.low)

    def place(self, point: Point) -> Point:
        x, y = point
        across = EDGE + (y - self.near) * self.scale
        return PLAN_WIDTH - across if self.left else across, self.top - self.shortened(x) * self.scale

    def direction(self, angle: float) -> Point:
        """Return a direction of the circuit on the page, of length 1."""
        return math.sin(angle) * (-1 if self.left else 1), -math.cos(angle)


@dataclass(frozen=True)
class _Label:
    x: float
    y: float
    words: str
    size: float = 15
    weight: int = 400
    anchor: str = "middle"

    def box(self, y: float) -> tuple[float, float, float, float]:
        wide = len(self.words) * self.size * LETTER_WIDTH
        left = {"start": self.x, "middle": self.x - wide / 2, "end": self.x - wide}[self.anchor]
        return left, y - self.size, left + wide, y + self.size * (LINE_HEIGHT - 1)


@dataclass
class _Labels:
    """Keep texts off each other: one that would touch an earlier one goes down until it does not."""

    boxes: list[tuple[float, float, float, float]] = field(default_factory=list)

    def draw(self, label: _Label, fixed: bool = False) -> str:
        y = label.y
        while not fixed and any(_touch(label.box(y), other) for other in self.boxes):
            y += label.size * 0.5
        self.boxes.append(label.box(y))
        drawn = text(label.x, y, label.words, label.size, label.weight, label.anchor)
        # An edge of paper, so that a line under it does not run through the letters.
        return drawn.replace("<text ", f"<text{HALO} ", 1)


def _touch(one: tuple[float, float, float, float], other: tuple[float, float, float, float]) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def _runway(view: _View, plan: WindPlan) -> str:
    (x, near), (_, far) = view.place((plan.runway[0], 0)), view.place((plan.runway[1], 0))
    _, aim = view.place((0, 0))
    centreline = path(f"M{n(x)} {n(near)}V{n(view.high - 30)}", 1.5, stroke="var(--ink-2)", dash="14 5 3 5")
    return (
        centreline
        + f'<rect x="{n(x - RUNWAY_HALF)}" y="{n(far)}" width="{n(2 * RUNWAY_HALF)}" height="{n(near - far)}"'
        f' fill="var(--land)" stroke="currentColor" stroke-width="2"/>'
        + threshold_mark(x, near, (0.0, -1.0))
        + aiming_mark(x, aim, (0.0, -1.0), RUNWAY_HALF + 6)
    )


def _north(view: _View, plan: WindPlan, labels: "_Labels") -> str:
    """Draw north in the corner that has neither the scale bar nor the end of the centreline; the landing goes up."""
    if plan.heading_true is None:
        return ""
    x, y = PLAN_WIDTH - NORTH_REACH - 2, view.high - NORTH_REACH - 2
    labels.boxes.append((x - NORTH_REACH, y - NORTH_REACH, x + NORTH_REACH, y + NORTH_REACH))
    return north_mark(x, y, -plan.heading_true)


def _runway_label(view: _View, plan: WindPlan) -> _Label:
    """Return the designator beside the runway's near end, on the side that has no circuit."""
    x, y = view.place((plan.runway[0], 0))
    outside = 1 if view.left else -1
    return _Label(x + outside * (RUNWAY_HALF + 8), y, plan.designator, 16, 800, "start" if outside > 0 else "end")


def _line(points: Sequence[Point], width: float, stroke: str = "currentColor", dash: str = "") -> str:
    return path("M" + "L".join(f"{n(x)} {n(y)}" for x, y in points), width, stroke=stroke, dash=dash)


def _breaks(view: _View, plan: WindPlan) -> str:
    """Draw two strokes across both legs, and the runway under one of them, where they are cut."""
    if not view.is_cut:
        return ""
    body = ""
    middle = (view.low + view.high_x) / 2
    for y in (0.0, max(y for _, y in plan.flown)):
        across, down = view.place((middle, y))
        body += path(f"M{n(across - 20)} {n(down + 4)}L{n(across + 20)} {n(down - 4)}", 12, stroke="var(--paper)")
        for shift in (-6, 6):
            body += path(f"M{n(across - 14)} {n(down + 3 + shift)}L{n(across + 14)} {n(down - 3 + shift)}", 2)
    return body


def _begins(view: _View, plan: WindPlan) -> str:
    """Draw a bar across the leg where the turn begins, and a broken one where the usual turn does."""
    (flown, usual), body = plan.begins, ""
    u, v = view.direction(plan.begin_course)
    for point, width, dash in ((usual, 2.0, "4 3"), (flown, 4.0, "")):
        x, y = view.place(point)
        body += path(f"M{n(x - v * 13)} {n(y + u * 13)}L{n(x + v * 13)} {n(y - u * 13)}", width, dash=dash)
    return body


def _nose(view: _View, point: Point, heading: float) -> str:
    """Draw a plain dart of strokes that points where the nose does; no aeroplane's shape."""
    x, y = point
    if view.is_cut and view.low - 150 < x < view.high_x:
        x = view.low - 250
    across, down = view.place((x, y))
    u, v = view.direction(heading)

    def at(ahead: float, right: float) -> str:
        return f"{n(across + (ahead * u - right * v) * DART)} {n(down + (ahead * v + right * u) * DART)}"

    dart = f"M{at(1.3, 0)}L{at(-1, 0)}M{at(0.25, -1)}L{at(0.25, 1)}M{at(-0.8, -0.45)}L{at(-0.8, 0.45)}"
    return path(dart, 6, stroke="var(--paper)") + path(dart, 2.8)


def _wind_middle(view: _View, plan: WindPlan) -> Point:
    """Return the empty middle of the circuit, beside the runway."""
    return view.place((plan.runway[1] * 0.55, max(y for _, y in plan.flown) / 2))


def _wind_length(plan: WindPlan) -> float:
    return min(max(math.hypot(*plan.wind) * 4, 30.0), 90.0)


def _wind_arrow(view: _View, plan: WindPlan) -> str:
    x, y = _wind_middle(view, plan)
    u, v = view.direction(math.atan2(plan.wind[1], plan.wind[0]))
    half = _wind_length(plan) / 2
    return _arrow((x - u * half, y - v * half), (x + u * half, y + v * half), 5, 18)


def _wind_labels(view: _View, plan: WindPlan) -> list[_Label]:
    x, y = _wind_middle(view, plan)
    _, v = view.direction(math.atan2(plan.wind[1], plan.wind[0]))
    below = y + abs(v) * _wind_length(plan) / 2 + 26
    weights = (800, 600, 600)
    return [_Label(x, below + 20 * row, words, 16, weights[min(row, 2)]) for row, words in enumerate(plan.wind_words)]


def _bank_labels(view: _View, plan: WindPlan) -> list[_Label]:
    labels = []
    for point, centre, words in plan.banks:
        (x, y), (from_x, from_y) = view.place(point), view.place(centre)
        far = math.hypot(x - from_x, y - from_y) or 1.0
        u, v = (x - from_x) / far, (y - from_y) / far
        anchor = "middle" if abs(u) < 0.4 else "start" if u > 0 else "end"
        away = 30 if anchor == "middle" or abs(v) > 0.4 else 18
        labels.append(_Label(x + u * away, y + v * away + 6, words, 17, 800, anchor))
    return labels


def _obstacle(view: _View, obstacle: WindObstacle) -> tuple[str, _Label]:
    """Draw an obstacle, and return its name for the side that has more room."""
    x, y = view.place((obstacle.x, obstacle.y))
    body = obstacle_mark(x, y + 8, y - 9)
    # To the side with more room, or the name would be cut at the edge.
    to_left = x > PLAN_WIDTH / 2
    return body, _Label(x - 13 if to_left else x + 13, y + 8, obstacle.name, 14, 400, "end" if to_left else "start")


def _scale_bar(view: _View, long: float) -> str:
    x, y = EDGE / 2, view.high - 10
    return path(f"M{n(x)} {n(y - 6)}V{n(y)}H{n(x + long)}V{n(y - 6)}", 2)


def _arrow(begin: Point, end: Point, width: float, head: float, stroke: str = "currentColor") -> str:
    length = math.dist(begin, end) or 1.0
    u, v = (end[0] - begin[0]) / length, (end[1] - begin[1]) / length
    head = min(head, length)
    neck_x, neck_y = end[0] - u * head * 0.7, end[1] - v * head * 0.7
    wing = head * 0.45
    tip = (
        f"M{n(end[0])} {n(end[1])}L{n(end[0] - u * head - v * wing)} {n(end[1] - v * head + u * wing)}"
        f"L{n(end[0] - u * head + v * wing)} {n(end[1] - v * head - u * wing)}Z"
    )
    shaft = path(f"M{n(begin[0])} {n(begin[1])}L{n(neck_x)} {n(neck_y)}", width, stroke=stroke)
    return shaft + f'<path d="{tip}" fill="{stroke}"/>'
