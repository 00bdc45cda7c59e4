"""The marks of the visual language, drawn as SVG text from values, for pages and print alike.

Pure functions. Only currentColor and custom properties, no ids and no styles, so that a mark can be
repeated on a page. With a label a mark is an image with that name; without one it is hidden beside
its word. Every figure has a table beside it on the page that shows it.
"""

from school.marks.evidence import learning, spread
from school.marks.figures import Cell, CircuitMarks, Series, run_figure, strip
from school.marks.handwriting import handwriting
from school.marks.pattern import GateMark, plan, profile
from school.marks.scales import deviation, wind
from school.marks.signs import dots, pointer, row_of, slate, square, stamp, triangle

__all__ = [
    "Cell",
    "CircuitMarks",
    "GateMark",
    "Series",
    "deviation",
    "dots",
    "handwriting",
    "learning",
    "plan",
    "pointer",
    "profile",
    "row_of",
    "run_figure",
    "slate",
    "spread",
    "square",
    "stamp",
    "strip",
    "triangle",
    "wind",
]
