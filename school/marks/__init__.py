"""Draw the marks of the visual language as SVG text from values, for pages and print alike.

All functions are pure. They use only currentColor and custom properties, no ids and no styles, so that a mark can be
repeated on a page. With a label a mark is an image with that name; without one it is hidden from
screen readers beside its word. Every figure has a table beside it on the page that shows it.
"""

from school.marks.chances import ChanceSteps, chance_steps
from school.marks.figures import CircuitMarks, GateSeries, PartGrade, PartSpan, circuit_strip, circuits_figure
from school.marks.flown_plan import PlanGate, PlanGround, PlanObstacle, PlanWind, flown_plan
from school.marks.flown_strips import Strip, StripGate, StripLine, StripObstacle, flown_strips, strip_key
from school.marks.ground import ground_key
from school.marks.handwriting import handwriting
from school.marks.pattern import GateMark, circuit_plan, circuit_profile
from school.marks.progress import FaultMarks, MonthHours, ProgressRows, hours_by_month, progress_figure
from school.marks.scales import deviation_scale, runway_wind
from school.marks.statistics import deviation_spread, learning_curve
from school.marks.symbols import help_dots, pointer, square, stamp, storage_mark, streak_mark, triangle
from school.marks.ten import board_state, ten
from school.marks.touchdowns import TouchdownSpot, touchdown_strip
from school.marks.track_profile import ProfileGate, track_profile
from school.marks.track_strips import TrackReading, TrackStrip, track_strips
from school.marks.wind import WindObstacle, WindPlan, triangle_scale, wind_key, wind_plan, wind_triangle

__all__ = [
    "ChanceSteps",
    "CircuitMarks",
    "FaultMarks",
    "GateMark",
    "GateSeries",
    "MonthHours",
    "PartGrade",
    "PartSpan",
    "PlanGate",
    "PlanGround",
    "PlanObstacle",
    "PlanWind",
    "ProfileGate",
    "ProgressRows",
    "Strip",
    "StripGate",
    "StripLine",
    "StripObstacle",
    "TouchdownSpot",
    "TrackReading",
    "TrackStrip",
    "WindObstacle",
    "WindPlan",
    "board_state",
    "chance_steps",
    "circuit_plan",
    "circuit_profile",
    "circuit_strip",
    "circuits_figure",
    "deviation_scale",
    "deviation_spread",
    "flown_plan",
    "flown_strips",
    "ground_key",
    "handwriting",
    "help_dots",
    "hours_by_month",
    "learning_curve",
    "pointer",
    "progress_figure",
    "runway_wind",
    "square",
    "stamp",
    "storage_mark",
    "streak_mark",
    "strip_key",
    "ten",
    "touchdown_strip",
    "track_profile",
    "track_strips",
    "triangle",
    "triangle_scale",
    "wind_key",
    "wind_plan",
    "wind_triangle",
]
