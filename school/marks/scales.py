"""Draw the deviation scale and the wind on a runway."""

import math

from school.marks.svg import n, path, svg_element, text, tint_rect
from school.marks.symbols import diamond

WIDTH, HEIGHT = 260, 40


def deviation_scale(
    amount: float | None, over: float, under: float, label: str | None = None, px: float = WIDTH
) -> str:
    """Draw one measured value on its scale: right is fast, high, long. `amount` is None if it was not measured.

    Full scale is twice the larger tolerance, so that both sides are read in one unit; the dots of a side
    are at half and one and a half times its own tolerance. A side without tolerance has its bracket on
    the bar and no dots. Raises ValueError when neither side has a tolerance: there is no scale then.
    """
    if over < 0 or under < 0 or not over + under:
        raise ValueError(f"no scale has the tolerances +{over} and -{under}")
    tolerance = max(over, under)
    centre, unit, y = WIDTH / 2, (WIDTH / 2 - 16) / 2, HEIGHT / 2
    low, high = under / tolerance, over / tolerance
    body = tint_rect(centre - low * unit, y - 11, (low + high) * unit, 22)
    for side, share in ((-1, low), (1, high)):
        edge = centre + side * share * unit
        inner = edge - side * 7
        body += path(f"M{n(inner)} {n(y - 11)}H{n(edge)}V{n(y + 11)}H{n(inner)}", 2.5)
        for k in (0.5 * share, 1.5 * share) if share else ():
            body += (
                f'<circle cx="{n(centre + side * k * unit)}" cy="{n(y)}" r="3" fill="none"'
                f' stroke="currentColor" stroke-width="2"/>'
            )
        body += path(f"M{n(centre + side * 2 * unit)} {n(y - 5)}V{n(y + 5)}", 2)
    body += path(f"M{n(centre)} {n(y - 16)}V{n(y + 16)}", 2.5)
    if amount is not None:
        body += _pointer(amount / tolerance, -low <= amount / tolerance <= high, centre, unit, y)
    return svg_element(WIDTH, HEIGHT, body, label, px=(px, px * HEIGHT / WIDTH))


def _pointer(share: float, inside: bool, centre: float, unit: float, y: float) -> str:
    # Beyond full scale an arrow at the edge points outwards: the value must not look like one on the scale.
    if abs(share) <= 2:
        return diamond(centre + share * unit, y, 12, inside)
    side = 1 if share > 0 else -1
    x = centre + side * (2 * unit + 2)
    d = f"M{n(x - side * 13)} {n(y - 13)}L{n(x + side * 11)} {n(y)}L{n(x - side * 13)} {n(y + 13)}Z"
    return path(d, 4, fill="var(--paper)")


def runway_wind(runway: str, heading: int, direction: int, speed: int, label: str, px: float = 176) -> str:
    """Draw the runway pointing up, a wind barb on the side the wind comes from, and both components in whole knots.

    A component below half a knot has no leg; below 2.5 kt the staff has no barb, as on a weather chart.
    `heading` and `direction` are in degrees from the same north, `speed` in knots.
    """
    angle = math.radians(direction - heading)
    cx, cy, length = 112.0, 128.0, 96.0
    x, y = cx + length * math.sin(angle), cy - length * math.cos(angle)
    body = (
        f'<rect x="{n(cx - 15)}" y="28" width="30" height="168" fill="var(--paper)" stroke="currentColor"'
        f' stroke-width="3"/>' + path(f"M{n(cx)} 40V158", 2.5, dash="12 9") + text(cx, 190, runway, 21, 800, "middle")
    )
    across, along = round(abs(speed * math.sin(angle))), round(abs(speed * math.cos(angle)))
    if speed:
        body += _legs(cx, cy, x, y, across, along)
        body += path(f"M{n(cx)} {n(cy)}L{n(x)} {n(y)}", 11, stroke="var(--paper)")
        body += path(f"M{n(cx)} {n(cy)}L{n(x)} {n(y)}", 4.5) + _barbs(angle, speed, cx, cy, length)
    body += f'<circle cx="{n(cx)}" cy="{n(cy)}" r="6" fill="var(--paper)" stroke="currentColor" stroke-width="3.5"/>'
    return svg_element(224, 240, body, label, cls="g wind", px=(px * 224 / 240, px))


def _legs(cx: float, cy: float, x: float, y: float, across: int, along: int) -> str:
    """Draw the crosswind from the runway's middle and the headwind to the staff's end, numbers clear of the runway."""
    side = 1 if x >= cx else -1
    corner = f"M{n(x)} {n(y)}V{n(cy)}" if along else ""
    body = path(corner + (f"M{n(x)} {n(cy)}H{n(cx)}" if across else ""), 2.5, stroke="var(--accent)", dash="5 4")
    if across:
        below = cy + 25 if y <= cy else cy - 12
        body += text(cx + side * max(abs(x - cx) / 2, 32), below, str(across), 21, 800, "middle", "var(--accent)")
    if along:
        beside = x + side * 9 if abs(x - cx) > 20 else cx + side * 24
        anchor = "start" if side > 0 else "end"
        body += text(beside, (y + cy) / 2 + 7, str(along), 21, 800, anchor, "var(--accent)")
    return body


def _barbs(angle: float, speed: int, cx: float, cy: float, length: float) -> str:
    """Draw the barbs of a staff: a full one is 10 kt, half of one 5 kt, to the nearest 5."""
    body, place, knots_left = "", 0, 5 * round(speed / 5)
    sin, cos = math.sin(angle), math.cos(angle)
    while knots_left >= 5:
        long = 24 if knots_left >= 10 else 13
        bx, by = cx + (length - place * 13) * sin, cy - (length - place * 13) * cos
        ex, ey = bx + long * (cos * 0.86 + sin * 0.5), by + long * (sin * 0.86 - cos * 0.5)
        body += path(f"M{n(bx)} {n(by)}L{n(ex)} {n(ey)}", 4.5)
        knots_left -= 10 if knots_left >= 10 else 5
        place += 1
    return body
