"""Draw a circuit from its gates: over the ground, and as heights along the way."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from school.marks.svg import n, path, svg_element, text, tint_path
from school.marks.symbols import diamond

WIDTH, MARGIN = 760.0, 46.0
PROFILE_HEIGHT = 300.0
LABEL_GAP = 24.0
Projection = Callable[[float, float], tuple[float, float]]


@dataclass(frozen=True)
class GateMark:
    """A gate to draw, in feet: distance along the way, x and y from the touchdown point, height and tolerances."""

    number: int
    name: str
    along: float
    x: float
    y: float
    height: float | None = None
    over: float = 0
    under: float = 0


def circuit_plan(
    gates: Sequence[GateMark], track: Sequence[tuple[float, float]], runway: tuple[float, float], left: bool, label: str
) -> str:
    """Draw the circuit from above, takeoff to the right. `track`: points in feet; `runway`: its ends on the x axis."""
    xs = [x for x, _ in track] + list(runway)
    wide, tall = max(xs) - min(xs), max(y for _, y in track)
    scale = (WIDTH - 2 * MARGIN) / wide
    high = tall * scale + 2 * MARGIN + LABEL_GAP

    def place(x: float, y: float) -> tuple[float, float]:
        across = MARGIN + LABEL_GAP + y * scale
        # SVG's y axis points down, so a left-hand circuit is the one that is mirrored.
        return MARGIN + (x - min(xs)) * scale, high - across if left else across

    (begin, axis), (end, _) = place(runway[0], 0), place(runway[1], 0)
    body = (
        f'<rect x="{n(begin)}" y="{n(axis - 9)}" width="{n(end - begin)}" height="18" fill="var(--land)"'
        f' stroke="currentColor" stroke-width="2"/>' + path(f"M{n(begin + 8)} {n(axis)}H{n(end - 8)}", 1.5, dash="10 8")
    )
    points = [place(x, y) for x, y in track]
    body += path("M" + "L".join(f"{n(x)} {n(y)}" for x, y in points), 2.5)
    body += _arrow(points[len(points) // 2 - 1], points[len(points) // 2])
    spots = [(*place(gate.x, gate.y), gate) for gate in gates]
    far = place(0, tall)[1]
    return svg_element(WIDTH, high, body + _gate_numbers(spots, axis, far), label, cls="g pattern")


def _arrow(before: tuple[float, float], after: tuple[float, float]) -> str:
    """Draw the arrow head that shows the direction of flight, in the middle of the downwind leg."""
    (x, y), (tip, _) = before, after
    side = 1 if tip > x else -1
    return path(f"M{n(x - side * 9)} {n(y - 7)}L{n(x)} {n(y)}L{n(x - side * 9)} {n(y + 7)}", 2.5)


def _gate_numbers(spots: Sequence[tuple[float, float, GateMark]], axis: float, far: float) -> str:
    """Draw diamonds with their numbers outside the track; move a number farther out where it would touch another."""
    body, label_places = "", list[tuple[float, float]]()
    for x, y, gate in spots:
        if min(abs(y - axis), abs(y - far)) > LABEL_GAP:  # a crosswind or base leg: the number goes beside it
            side = -1 if x < WIDTH / 2 else 1
            body += diamond(x, y, 8, True) + text(x + side * LABEL_GAP, y + 6, str(gate.number), 17, 800, "middle")
            continue
        near = axis if abs(y - axis) < abs(y - far) else far
        outward = 1 if (near > (axis + far) / 2) else -1
        y_text = y + outward * LABEL_GAP
        while any(
            abs(x - label_x) < LABEL_GAP and abs(y_text - label_y) < LABEL_GAP * 0.8
            for label_x, label_y in label_places
        ):
            y_text += outward * LABEL_GAP * 0.8
        label_places.append((x, y_text))
        body += diamond(x, y, 8, True) + text(x, y_text + 6, str(gate.number), 17, 800, "middle")
    return body


def circuit_profile(gates: Sequence[GateMark], circuit_height: float, label: str) -> str:
    """Draw height in feet over the distance flown: the line through the targets and the band of their tolerances."""
    length = max(gate.along for gate in gates) or 1
    top = max([circuit_height, *(gate.height + gate.over for gate in gates if gate.height is not None)]) * 1.08
    ground = PROFILE_HEIGHT - 34

    def place(along: float, height: float) -> tuple[float, float]:
        return MARGIN + along / length * (WIDTH - 2 * MARGIN), ground - height / top * (ground - 20)

    heights = [gate for gate in gates if gate.height is not None]
    body = _band(heights, place) + path(f"M{n(MARGIN)} {n(ground)}H{n(WIDTH - MARGIN)}", 2.5)
    _, level = place(0, circuit_height)
    body += path(f"M{n(MARGIN)} {n(level)}H{n(WIDTH - MARGIN)}", 1.5, dash="4 6")
    body += text(WIDTH - MARGIN, level - 7, f"circuit height {circuit_height:.0f} ft", 15, 400, "end")
    body += path("M" + "L".join(f"{n(x)} {n(y)}" for x, y in _target_line(heights, length, place)), 2.5)
    row = list[float]()
    for gate in gates:
        x, _ = place(gate.along, 0)
        # Numbers of gates that lie close together go on up to three lines, so that they do not overlap.
        below = 22 + 17 * sum(abs(x - other) < LABEL_GAP for other in row[-2:])
        row.append(x)
        body += path(f"M{n(x)} {n(ground)}V{n(ground + 6)}", 2)
        body += text(x, ground + below, str(gate.number), 16, 800, "middle")
        if gate.height is not None:
            body += diamond(*place(gate.along, gate.height), 8, True)
    return svg_element(WIDTH, PROFILE_HEIGHT + 12, body, label, cls="g pattern")


def _target_line(heights: Sequence[GateMark], length: float, place: Projection) -> list[tuple[float, float]]:
    """Return the points of the line from the ground at the lift-off over the targets to the ground at the end."""
    points = [place(gate.along, gate.height) for gate in heights if gate.height is not None]
    return [place(0, 0), *points, place(length, 0)]


def _band(heights: Sequence[GateMark], place: Projection) -> str:
    if len(heights) < 2:
        return ""
    over = [place(gate.along, gate.height + gate.over) for gate in heights if gate.height is not None]
    under = [place(gate.along, max(gate.height - gate.under, 0)) for gate in heights if gate.height is not None]
    d = "M" + "L".join(f"{n(x)} {n(y)}" for x, y in [*over, *reversed(under)]) + "Z"
    return tint_path(d)
