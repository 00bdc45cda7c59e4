"""Draw how numbers scatter about a target, and how a chance rises over attempts."""

from collections.abc import Sequence

from school.marks.svg import n, path, svg_element, text

WIDTH, HEIGHT = 320.0, 56.0
CURVE_WIDTH, CURVE_HEIGHT, CURVE_LEFT = 520.0, 150.0, 44.0


def deviation_spread(
    amounts: Sequence[float], over: float, under: float, likely: tuple[float, float] | None, label: str
) -> str:
    """Draw each number as a dot, right is fast, high, long; the bracket is where 8 in 10 of the next are expected.

    Full scale is two and a half times the larger tolerance; a number farther away is drawn at the edge.
    """
    tolerance = max(over, under)
    unit, centre, y = (WIDTH / 2 - 10) / 2.5, WIDTH / 2, 22.0

    def place(amount: float) -> float:
        return centre + min(max(amount / tolerance, -2.5), 2.5) * unit

    body = (
        f'<rect x="{n(place(-under))}" y="{n(y - 15)}" width="{n(place(over) - place(-under))}" height="30"'
        f' fill="var(--land)" stroke="currentColor" stroke-width="1.5"/>'
    )
    body += path(f"M{n(centre)} {n(y - 19)}V{n(y + 19)}", 2)
    for order, amount in enumerate(amounts):
        fill = "currentColor" if order == len(amounts) - 1 else "none"
        height = y + (order * 7) % 15 - 7  # spread vertically, so that equal numbers show as two
        body += (
            f'<circle cx="{n(place(amount))}" cy="{n(height)}" r="4" fill="{fill}" stroke="currentColor"'
            f' stroke-width="2"/>'
        )
    if likely:
        low, high = place(likely[0]), place(likely[1])
        body += path(f"M{n(low)} {n(y + 22)}V{n(y + 28)}H{n(high)}V{n(y + 22)}", 2.5, stroke="var(--accent)")
    return svg_element(WIDTH, HEIGHT, body, label, cls="g spread")


def learning_curve(outcomes: Sequence[bool], chances: Sequence[float], label: str) -> str:
    """Draw attempts from left to right, to standard above and not yet below, and the curve of the chance to standard.

    The part of the curve for attempts to come is dotted."""
    count = max(len(chances) - 1, 1)
    top, bottom = 24.0, CURVE_HEIGHT - 34

    def place(attempt: int, chance: float) -> tuple[float, float]:
        return CURVE_LEFT + attempt / count * (CURVE_WIDTH - CURVE_LEFT - 10), bottom - chance * (bottom - top)

    body = ""
    for share, words in ((0.0, "0 %"), (0.5, "50 %"), (1.0, "100 %")):
        _, y = place(0, share)
        body += path(f"M{n(CURVE_LEFT)} {n(y)}H{n(CURVE_WIDTH - 10)}", 1, stroke="var(--hair)")
        body += text(CURVE_LEFT - 6, y + 5, words, 13, 400, "end")
    for attempt, good in enumerate(outcomes):
        x, _ = place(attempt, 0)
        edge = top - 16 if good else bottom + 6
        body += path(f"M{n(x)} {n(edge)}V{n(edge + 10)}", 3)
    points = [place(attempt, chance) for attempt, chance in enumerate(chances)]
    count_flown = len(outcomes)
    body += _polyline(points[:count_flown], 3) + _polyline(points[max(count_flown - 1, 0) :], 3, "3 5")
    body += text(CURVE_LEFT, CURVE_HEIGHT - 4, "first attempt", 13)
    body += text(CURVE_WIDTH - 10, CURVE_HEIGHT - 4, "to come", 13, 400, "end")
    return svg_element(CURVE_WIDTH, CURVE_HEIGHT, body, label, cls="g learning")


def _polyline(points: Sequence[tuple[float, float]], width: float, dash: str = "") -> str:
    if len(points) < 2:
        return ""
    return path("M" + "L".join(f"{n(x)} {n(y)}" for x, y in points), width, dash=dash)
