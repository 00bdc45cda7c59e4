"""The deviation scale and the wind on a runway."""

import math

from school.marks.signs import diamond
from school.marks.svg import frame, n, path, text

WIDE, HIGH = 260, 40


def deviation(amount: float | None, over: float, under: float, label: str | None = None, px: float = WIDE) -> str:
    """One measured value on its scale: right is fast, high, long. None: not measured.

    Full scale is twice the larger tolerance. A side without tolerance has its bracket on the bar.
    """
    tolerance = max(over, under)
    centre, unit, y = WIDE / 2, (WIDE / 2 - 16) / 2, HIGH / 2
    low, high = under / tolerance, over / tolerance
    body = (
        f'<rect x="{n(centre - low * unit)}" y="{n(y - 11)}" width="{n((low + high) * unit)}" height="22"'
        f' fill="var(--land)"/>'
    )
    for side, share in ((-1, low), (1, high)):
        edge = centre + side * share * unit
        inner = edge - side * 7
        body += path(f"M{n(inner)} {n(y - 11)}H{n(edge)}V{n(y + 11)}H{n(inner)}", 2.5)
        for k in (0.5, 1.5):
            body += (
                f'<circle cx="{n(centre + side * k * unit)}" cy="{n(y)}" r="3" fill="none"'
                f' stroke="currentColor" stroke-width="2"/>'
            )
        body += path(f"M{n(centre + side * 2 * unit)} {n(y - 5)}V{n(y + 5)}", 2)
    body += path(f"M{n(centre)} {n(y - 16)}V{n(y + 16)}", 2.5)
    if amount is not None:
        body += _pointer(amount / tolerance, -low <= amount / tolerance <= high, centre, unit, y)
    return frame(WIDE, HIGH, body, label, px=(px, px * HIGH / WIDE))


def _pointer(share: float, inside: bool, centre: float, unit: float, y: float) -> str:
    if abs(share) <= 2:
        return diamond(centre + share * unit, y, 12, inside)
    side = 1 if share > 0 else -1
    x = centre + side * (2 * unit + 2)
    d = f"M{n(x - side * 13)} {n(y - 13)}L{n(x + side * 11)} {n(y)}L{n(x - side * 13)} {n(y + 13)}Z"
    return path(d, 4, fill="var(--paper)")


def wind(runway: str, heading: int, direction: int, speed: int, label: str, px: float = 176) -> str:
    """Runway pointing up, wind barb on the side it comes from, the two components as legs in whole knots."""
    angle = math.radians(direction - heading)
    cx, cy, length = 112.0, 128.0, 96.0
    x, y = cx + length * math.sin(angle), cy - length * math.cos(angle)
    body = (
        f'<rect x="{n(cx - 15)}" y="28" width="30" height="168" fill="var(--paper)" stroke="currentColor"'
        f' stroke-width="3"/>'
        + path(f"M{n(cx)} 40V158", 2.5, dash="12 9")
        + text(cx, 190, runway, 21, 800, "middle")
        + path(f"M{n(x)} {n(y)}V{n(cy)}H{n(cx)}", 2.5, stroke="var(--accent)", dash="5 4")
        + path(f"M{n(cx)} {n(cy)}L{n(x)} {n(y)}", 11, stroke="var(--paper)")
        + path(f"M{n(cx)} {n(cy)}L{n(x)} {n(y)}", 4.5)
        + _barbs(angle, speed, cx, cy, length)
        + f'<circle cx="{n(cx)}" cy="{n(cy)}" r="6" fill="var(--paper)" stroke="currentColor" stroke-width="3.5"/>'
    )
    across, along = round(abs(speed * math.sin(angle))), round(abs(speed * math.cos(angle)))
    body += text((x + cx) / 2 - 8, cy + 25, str(across), 21, 800, "middle", "var(--accent)")
    body += text(x - 9, (y + cy) / 2 + 7, str(along), 21, 800, "end", "var(--accent)")
    return frame(224, 240, body, label, cls="g wind", px=(px * 224 / 240, px))


def _barbs(angle: float, speed: int, cx: float, cy: float, length: float) -> str:
    """A full barb is 10 kt, half of one 5 kt, to the nearest 5."""
    body, place, left = "", 0, 5 * round(speed / 5)
    sin, cos = math.sin(angle), math.cos(angle)
    while left >= 5:
        long = 24 if left >= 10 else 13
        bx, by = cx + (length - place * 13) * sin, cy - (length - place * 13) * cos
        ex, ey = bx + long * (cos * 0.86 + sin * 0.5), by + long * (sin * 0.86 - cos * 0.5)
        body += path(f"M{n(bx)} {n(by)}L{n(ex)} {n(ey)}", 4.5)
        left -= 10 if left >= 10 else 5
        place += 1
    return body
