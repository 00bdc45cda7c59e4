"""The strips of a flight track: solid lines over one distance, the uncertainty as bars, nothing beside the drawing."""

import re
from xml.etree import ElementTree

import pytest

from school import marks
from school.marks import StripGate, StripObstacle, TrackReading, TrackStrip
from school.marks.track_strips import value_limits

SVG = "{http://www.w3.org/2000/svg}"
SPAN = (17_000.0, 27_000.0)
GATES = [StripGate(9, 18_000, 700, 100, 100), StripGate(12, 25_000, 180, 40, 30)]
LINE = [(16_000.0 + 250 * k, 760.0 - 16 * k) for k in range(47)]
READINGS = [
    TrackReading(9, 18_000, 640, 65, "unsure"),
    TrackReading(12, 25_000, 90, 20, "outside", "90 ft low"),
]
HEIGHT = TrackStrip(
    "height", "Height, ft", GATES, READINGS, LINE, earlier=[LINE[4:], [(18_000.0, 900.0), (20_000.0, 20.0)]]
)
SPEED = TrackStrip(
    "speed", "Speed, kt", [StripGate(12, 25_000, 68, 10, 5)], [TrackReading(12, 25_000, 70, 3, "inside")],
    [(18_000.0, 90.0), (26_000.0, 60.0), (26_900.0, 5.0)], [(18_000.0, 104.0), (26_000.0, 50.0)], note="solid: air",
)  # fmt: skip
BANK = TrackStrip(
    "bank", "Bank, degrees", [], [], [(18_000.0, 0.0), (22_000.0, 24.0)], dotted=[(20_000.0, 30.0), (21_000.0, 20.0)]
)
TICKS = [(23_000.0, "4,000 ft"), (27_000.0, "point")]


def draw(*strips: TrackStrip, narrow: bool = False) -> ElementTree.Element:
    drawing = marks.track_strips(
        strips, [(9, 18_000.0), (12, 25_000.0)], SPAN, TICKS, 'A "<b>"', narrow=narrow,
        obstacles=[StripObstacle(26_000, 55, "trees 55 ft")],
    )  # fmt: skip
    return ElementTree.fromstring(drawing.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1))


def paths(drawn: ElementTree.Element, **wanted: str) -> list[list[tuple[float, float]]]:
    found = [
        row.get("d", "") for row in drawn.iter(f"{SVG}path")
        if all(row.get(name.replace("_", "-")) == value for name, value in wanted.items())
    ]  # fmt: skip
    return [
        [(float(x), float(y)) for x, y in re.findall(r"[ML](-?[\d.]+) (-?[\d.]+)", d)] for d in found if "V" not in d
    ]


@pytest.mark.parametrize("narrow", [False, True])
def test_every_line_lies_inside_the_drawing_and_the_drawing_has_its_words(narrow: bool) -> None:
    drawn = draw(HEIGHT, SPEED, BANK, narrow=narrow)
    wide, high = map(float, drawn.get("viewBox", "").split()[2:])
    assert wide == (340 if narrow else 760)
    for line in paths(drawn):
        assert all(0 <= x <= wide and 0 <= y <= high for x, y in line)
    words = {row.text for row in drawn.iter(f"{SVG}text")}
    assert {"Height, ft", "Speed, kt", "Bank, degrees", "9", "12", "90 ft low", "solid: air", "20°"} <= words
    assert drawn.get("aria-label") == 'A "<b>"'


def test_lines_are_cut_at_the_ends_and_where_they_leave_the_scale() -> None:
    drawn = draw(HEIGHT, SPEED)
    (height, speed) = [line for line in paths(drawn, stroke_width="3") if len(line) > 1 and line[0] != line[-1]][:2]
    assert len(height) == sum(SPAN[0] <= x <= SPAN[1] for x, _ in LINE)
    # The speed of the roll-out would press the approach together.
    assert len(speed) == 2
    low, high = value_limits(SPEED, SPAN)
    assert low > 20
    assert high >= 104


def test_the_bar_is_as_long_as_the_uncertainty_and_the_half_diamond_says_that_it_cannot_tell() -> None:
    def bars(uncertainty: float) -> list[float]:
        reading = TrackReading(12, 25_000, 200, uncertainty, "unsure")
        drawing = marks.track_strips(
            [TrackStrip("height", "H", GATES, [reading], LINE)], [(12, 25_000.0)], SPAN, TICKS, "A"
        )
        found = re.findall(r'd="M[\d.]+ ([\d.]+)H[\d.]+M[\d.]+ ([\d.]+)H[\d.]+M[\d.]+ [\d.]+V[\d.]+"', drawing)
        return [abs(float(a) - float(b)) for a, b in found]

    (short,), (long,) = bars(20), bars(60)
    assert long == pytest.approx(3 * short, rel=0.05)
    inside = HEIGHT.__class__(**{**HEIGHT.__dict__, "readings": [READINGS[0].__class__(9, 18_000, 640, 65, "inside")]})
    assert ElementTree.tostring(draw(inside)) != ElementTree.tostring(draw(HEIGHT))


def test_tints_have_their_outline_for_print_and_earlier_circuits_are_thin() -> None:
    drawn = draw(HEIGHT)
    tints = [row for row in drawn.iter() if row.get("fill") == "var(--land)"]
    assert tints
    assert all(row.get("stroke") == "var(--hair)" for row in tints)
    assert len(paths(drawn, stroke_width="1.3")) == 2
    colours = {row.get(name) for row in drawn.iter() for name in ("fill", "stroke")} - {None, "none", "currentColor"}
    assert all(colour.startswith("var(--") for colour in colours if colour)
