"""Draw a handwritten signature from the tablet."""

import json

from school.marks.svg import path, svg_element

WIDTH, HEIGHT = 600, 200
STROKE = 4.0


def handwriting(drawn: str, px: float = 240, label: str | None = None) -> str:
    """Return the SVG of a signature. `drawn`: JSON list of strokes, each a list of [x, y] points in 600 by 200."""
    strokes = []
    for line in json.loads(drawn):
        x, y = line[0]
        # A stroke of no length is not drawn by every renderer: a single point becomes a dot of 0.1.
        # int() also lets nothing but numbers of the tablet's text into the SVG.
        segments = "".join(f"L{int(x)} {int(y)}" for x, y in line[1:]) or "h0.1"
        strokes.append(f"M{int(x)} {int(y)}{segments}")
    body = f'<g stroke-linecap="round" stroke-linejoin="round">{path("".join(strokes), STROKE)}</g>'
    return svg_element(WIDTH, HEIGHT, body, label, px=(px, px * HEIGHT / WIDTH))
