"""A signature as it was drawn on the tablet."""

import json

from school.marks.svg import path, svg_element

WIDTH, HEIGHT = 600, 200
STROKE = 4.0


def handwriting(drawn: str, px: float = 240, label: str | None = None) -> str:
    """Lines of points as JSON, in a frame of 600 by 200. A single point is a dot."""
    strokes = []
    for line in json.loads(drawn):
        x, y = line[0]
        rest = "".join(f"L{int(x)} {int(y)}" for x, y in line[1:]) or "h0.1"
        strokes.append(f"M{int(x)} {int(y)}{rest}")
    body = f'<g stroke-linecap="round" stroke-linejoin="round">{path("".join(strokes), STROKE)}</g>'
    return svg_element(WIDTH, HEIGHT, body, label, px=(px, px * HEIGHT / WIDTH))
