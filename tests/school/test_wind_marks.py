"""The circuit in the wind as drawing: where things lie, that no text lies on another, that nothing leaves the frame."""

import math
from itertools import pairwise
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from school.marks import (
    GateMark,
    WindObstacle,
    WindPlan,
    circuit_profile,
    triangle_scale,
    wind_plan,
    wind_triangle,
)

SVG = "{http://www.w3.org/2000/svg}"
# A square of straight legs, 3,000 ft wide; the upwind leg ends at 9,000 ft.
FLOWN = ((500.0, 0.0), (9000.0, 0.0), (9000.0, 3000.0), (-2000.0, 3000.0), (-2000.0, 0.0), (0.0, 0.0))
LETTER = 0.62  # of the size of the type: wider than any figure of the type face


def drawn(
    left: bool = True,
    wind: tuple[float, float] = (-9.0, 7.0),
    obstacles: tuple[WindObstacle, ...] = (),
    north: float | None = None,
) -> str:
    plan = WindPlan(
        runway=(-400.0, 2200.0),
        designator="07L",
        flown=FLOWN,
        usual=((-2000.0, 2600.0), (-2300.0, 1000.0), (-2000.0, 300.0)),
        begins=((-2000.0, 2000.0), (-2000.0, 2600.0)),
        begin_course=math.pi * 3 / 2,
        banks=(((-2000.0, 3000.0), (0.0, 1500.0), "24°"), ((-2000.0, 0.0), (0.0, 1500.0), "18°")),
        noses=(((8000.0, 0.0), 0.1), ((0.0, 3000.0), math.pi - 0.1)),
        wind=wind,
        wind_words=("110° 12 kt", "gust 18 kt"),
        obstacles=obstacles,
        left=left,
        far_turn_x=9000.0,
        heading_true=north,
    )
    return wind_plan(plan, "The circuit. Begin the turn earlier.")


def parse(drawing: str) -> ElementTree.Element:
    return ElementTree.fromstring(drawing.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1))


def text_boxes(root: ElementTree.Element) -> list[tuple[str, float, float, float, float]]:
    boxes = []
    for text in root.iter(f"{SVG}text"):
        words, size = text.text or "", float(text.get("font-size", "0"))
        wide, x, y = len(words) * size * LETTER, float(text.get("x", "0")), float(text.get("y", "0"))
        left = {"start": x, "middle": x - wide / 2, "end": x - wide}[text.get("text-anchor", "start")]
        boxes.append((words, left, y - size * 0.8, left + wide, y + size * 0.2))
    return boxes


def text_x(root: ElementTree.Element, words: str) -> float:
    return next(float(text.get("x", "0")) for text in root.iter(f"{SVG}text") if text.text == words)


def test_a_left_hand_circuit_lies_to_the_left_of_its_runway() -> None:
    left, right = parse(drawn(left=True)), parse(drawn(left=False))
    for root, side in ((left, -1), (right, 1)):
        runway = next(root.iter(f"{SVG}rect"))
        axis = float(runway.get("x", "0")) + float(runway.get("width", "0")) / 2
        assert (text_x(root, "24°") - axis) * side > 100
        assert (text_x(root, "110° 12 kt") - axis) * side > 50


def test_it_is_an_image_named_by_its_sentence() -> None:
    root = parse(drawn())
    assert (root.get("role"), root.get("aria-label")) == ("img", "The circuit. Begin the turn earlier.")


def test_every_tint_has_an_outline_and_no_colour_is_named() -> None:
    """On white paper a tint alone would be invisible."""
    drawing = drawn(obstacles=(WindObstacle("mast 200 ft", -900, -300),))
    for element in parse(drawing).iter():
        if element.get("fill") == "var(--land)":
            assert element.get("stroke") == "currentColor"
        for name in ("fill", "stroke"):
            assert element.get(name) in (None, "none", "currentColor", "var(--paper)", "var(--land)", "var(--ink-2)")


def test_the_band_of_the_profile_keeps_its_edge_on_white_paper() -> None:
    gates = [GateMark(place, f"gate {place}", place * 1000.0, 0, 0, 500.0, 50, 50) for place in (1, 2)]
    tinted = [row for row in parse(circuit_profile(gates, 1000, "Heights")).iter() if row.get("fill") == "var(--land)"]
    assert [bool(row.get("stroke")) for row in tinted] == [True]


def test_calm_air_has_no_arrow() -> None:
    assert drawn(wind=(0.0, 0.0)).count("<path") == drawn().count("<path") - 2  # shaft and head


@settings(max_examples=60, deadline=None)
@given(
    st.booleans(),
    st.tuples(st.floats(-40, 40), st.floats(-40, 40)),
    st.lists(st.tuples(st.floats(-4000, 3000), st.floats(-1200, 3500)), max_size=5),
    st.floats(0, 360),
)
def test_no_text_touches_another_or_leaves_the_frame(
    left: bool, wind: tuple[float, float], places: list[tuple[float, float]], north: float
) -> None:
    rows = tuple(WindObstacle(f"mast {number}00 ft", x, y) for number, (x, y) in enumerate(places, 1))
    root = parse(drawn(left, wind, rows, north))
    _, _, wide, high = (float(number) for number in root.get("viewBox", "").split())
    boxes = text_boxes(root)
    assert len(boxes) == 7 + len(rows)
    for place, (words, x, y, end_x, end_y) in enumerate(boxes):
        assert x > -1, words
        assert y > -1, words
        assert end_x < wide + 1, words
        assert end_y < high + 1, words
        for other, other_x, other_y, other_end_x, other_end_y in boxes[place + 1 :]:
            apart = x >= other_end_x - 2 or other_x >= end_x - 2 or y >= other_end_y - 2 or other_y >= end_y - 2
            assert apart, (words, other)


@pytest.mark.parametrize("wind", [(0.0, 30.0), (-20.0, 0.0), (20.0, 0.0), (0.0, 0.0), (14.0, -14.0)])
@pytest.mark.parametrize("air", [(80.0, 0.0), (-80.0, 0.0), (0.0, -70.0), (50.0, 50.0)])
def test_a_wind_triangle_closes_within_its_frame(air: tuple[float, float], wind: tuple[float, float]) -> None:
    scale = triangle_scale([math.hypot(air[0] + wind[0], air[1] + wind[1]), math.hypot(*air)])
    root = parse(wind_triangle(air, wind, True, scale, "Downwind: 80 kt"))
    side = float(root.get("viewBox", "").split()[2])
    numbers = [
        float(number)
        for path in root.iter(f"{SVG}path")
        for number in path.get("d", "").replace("M", " ").replace("L", " ").replace("Z", " ").split()
    ]
    assert all(0 <= number <= side for number in numbers)


def test_the_landing_goes_up_the_page() -> None:
    """A left-hand circuit: along the landing is up, to the circuit's side is left. Read off the last arrow's shaft."""

    def shaft(air: tuple[float, float]) -> tuple[float, float]:
        paths = [path.get("d", "") for path in parse(wind_triangle(air, (0, 0), True, 1, "")).iter(f"{SVG}path")]
        points = [tuple(map(float, point.split())) for point in paths[-2].removeprefix("M").split("L")]
        ((x, y), (end_x, end_y)) = next(pairwise(points))
        return end_x - x, end_y - y

    assert shaft((80, 0))[1] < -50
    assert shaft((0, 80))[0] < -50
