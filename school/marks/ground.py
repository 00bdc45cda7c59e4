"""Draw what lies still, the same in every plan: an obstacle, north, a runway's threshold and its aiming point."""

import math

from school.marks.svg import n, path, svg_element, text
from school.marks.symbols import diamond

NORTH_RADIUS, LETTER_AWAY = 13.0, 10.0
NORTH_REACH = NORTH_RADIUS + LETTER_AWAY + 7  # from its middle to the edge of the letter
THRESHOLD_LONG, THRESHOLD_IN = 9.0, 4.0
Point = tuple[float, float]


def obstacle_mark(x: float, foot: float, top: float, half: float = 8.0) -> str:
    """Draw an open peak with a dot at its foot, as charts have it; in a strip its top is its height."""
    y = foot - 2.4
    dot = f'<circle cx="{n(x)}" cy="{n(y)}" r="2.4" fill="currentColor"/>'
    return path(f"M{n(x - half)} {n(foot)}L{n(x)} {n(top)}L{n(x + half)} {n(foot)}", 2.4) + dot


def north_mark(x: float, y: float, bearing: float) -> str:
    """Draw a stroke with half a head towards north and its letter; bearing: degrees clockwise from up the page."""
    u, v = math.sin(math.radians(bearing)), -math.cos(math.radians(bearing))
    r = NORTH_RADIUS
    tip = x + u * r, y + v * r
    # Half a head, on the right of the stroke: no other arrow of the plan has one.
    barb = x + u * r * 0.25 - v * r * 0.5, y + v * r * 0.25 + u * r * 0.5
    body = path(f"M{n(x - u * r)} {n(y - v * r)}L{n(tip[0])} {n(tip[1])}L{n(barb[0])} {n(barb[1])}", 2.4)
    return body + text(tip[0] + u * LETTER_AWAY, tip[1] + v * LETTER_AWAY + 5, "N", 14, 800, "middle")


def threshold_mark(x: float, y: float, landing: Point) -> str:
    """Draw three strokes in the direction of the landing, from the end of the runway inwards; landing: of length 1."""
    u, v = landing
    d = ""
    for across in (-5.0, 0.0, 5.0):
        begin_x, begin_y = x + u * THRESHOLD_IN - v * across, y + v * THRESHOLD_IN + u * across
        d += f"M{n(begin_x)} {n(begin_y)}L{n(begin_x + u * THRESHOLD_LONG)} {n(begin_y + v * THRESHOLD_LONG)}"
    return path(d, 2)


def aiming_mark(x: float, y: float, landing: Point, half: float) -> str:
    """Draw the bar across the runway at the point that the landing aims at."""
    u, v = landing
    return path(f"M{n(x + v * half)} {n(y - u * half)}L{n(x - v * half)} {n(y + u * half)}", 3)


def ground_key(name: str) -> str:
    """Return one of these marks by itself, for a key: obstacle, north, threshold, aiming or touchdown."""
    strip = path("M1 11V29H43M1 11H43", 2)
    bodies = {
        "obstacle": obstacle_mark(22, 32, 10),
        "north": north_mark(22, 24, 0),
        "threshold": strip + threshold_mark(1, 20, (1.0, 0.0)),
        "aiming": strip + aiming_mark(24, 20, (1.0, 0.0), 15),
        "touchdown": strip + aiming_mark(12, 20, (1.0, 0.0), 13) + diamond(26, 20, 7, True),
    }
    return svg_element(44, 40, bodies[name])
