"""The circuit drawn from its gates: over the ground, and as heights along the way."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from school.marks.svg import n, path, svg_element, text
from school.marks.symbols import diamond

WIDTH, MARGIN = 760.0, 46.0
PROFILE_HEIGHT = 300.0
LABEL_GAP = 24.0
Projection = Callable[[float, float], tuple[float, float]]


@dataclass(frozen=True)
class GateMark:
    """A gate as drawn: its number, feet along the way, feet from the touchdown point, height and its tolerance."""

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
    """Takeoff to the right. `track`: points of the way round in feet, `runway`: its two ends along the takeoff."""
    xs = [x for x, _ in track] + list(runway)
    wide, tall = max(xs) - min(xs), max(y for _, y in track)
    scale = (WIDTH - 2 * MARGIN) / wide
    high = tall * scale + 2 * MARGIN + LABEL_GAP

    def place(x: float, y: float) -> tuple[float, float]:
        across = MARGIN + LABEL_GAP + y * scale
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
    """Which way round, in the middle of the downwind leg."""
    (x, y), (tip, _) = before, after
    side = 1 if tip > x else -1
    return path(f"M{n(x - side * 9)} {n(y - 7)}L{n(x)} {n(y)}L{n(x - side * 9)} {n(y + 7)}", 2.5)


def _gate_numbers(spots: Sequence[tuple[float, float, GateMark]], axis: float, far: float) -> str:
    """Diamonds with their numbers outside the track; one that would touch another stands farther out."""
    body, taken = "", list[tuple[float, float]]()
    for x, y, gate in spots:
        if min(abs(y - axis), abs(y - far)) > LABEL_GAP:  # on a leg across: beside it
            side = -1 if x < WIDTH / 2 else 1
            body += diamond(x, y, 8, True) + text(x + side * LABEL_GAP, y + 6, str(gate.number), 17, 800, "middle")
            continue
        near = axis if abs(y - axis) < abs(y - far) else far
        outward = 1 if (near > (axis + far) / 2) else -1
        where = y + outward * LABEL_GAP
        while any(abs(x - taken_x) < LABEL_GAP and abs(where - over) < LABEL_GAP * 0.8 for taken_x, over in taken):
            where += outward * LABEL_GAP * 0.8
        taken.append((x, where))
        body += diamond(x, y, 8, True) + text(x, where + 6, str(gate.number), 17, 800, "middle")
    return body


def circuit_profile(gates: Sequence[GateMark], circuit_height: float, label: str) -> str:
    """Height over the distance flown: the line through the targets, and the band of their tolerances."""
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
        below = 22 + 17 * sum(abs(x - other) < LABEL_GAP for other in row[-2:])
        row.append(x)
        body += path(f"M{n(x)} {n(ground)}V{n(ground + 6)}", 2)
        body += text(x, ground + below, str(gate.number), 16, 800, "middle")
        if gate.height is not None:
            body += diamond(*place(gate.along, gate.height), 8, True)
    return svg_element(WIDTH, PROFILE_HEIGHT + 12, body, label, cls="g pattern")


def _target_line(heights: Sequence[GateMark], length: float, place: Projection) -> list[tuple[float, float]]:
    """From the ground at the lift-off over the targets to the ground at the end."""
    points = [place(gate.along, gate.height) for gate in heights if gate.height is not None]
    return [place(0, 0), *points, place(length, 0)]


def _band(heights: Sequence[GateMark], place: Projection) -> str:
    if len(heights) < 2:
        return ""
    over = [place(gate.along, gate.height + gate.over) for gate in heights if gate.height is not None]
    under = [place(gate.along, max(gate.height - gate.under, 0)) for gate in heights if gate.height is not None]
    d = "M" + "L".join(f"{n(x)} {n(y)}" for x, y in [*over, *reversed(under)]) + "Z"
    return f'<path d="{d}" fill="var(--land)"/>'
