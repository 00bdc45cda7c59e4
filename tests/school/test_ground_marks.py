"""North, threshold, aiming point and obstacles: the same marks in every plan, in the directions of a compass."""

import re

import pytest

from school.marks import (
    PlanGround,
    PlanObstacle,
    Strip,
    StripGate,
    StripObstacle,
    WindObstacle,
    WindPlan,
    flown_plan,
    flown_strips,
)
from school.marks.ground import aiming_mark, obstacle_mark
from school.marks.wind import wind_plan

TRACK = [(0.0, 0.0), (4000.0, 0.0), (4000.0, 3000.0), (-2000.0, 3000.0), (-2000.0, 0.0), (0.0, 0.0)]


def letter(svg: str) -> tuple[float, float]:
    """Return where the N lies from the middle of its stroke; y grows down the page."""
    (x, y), (end_x, end_y) = (
        tuple(map(float, pair)) for pair in re.findall(r"[ML]([-\d.]+) ([-\d.]+)", svg.split('d="')[1])[:2]
    )
    return end_x - x, end_y - y


def plan(heading: float | None, narrow: bool = False, designator: str = "09") -> str:
    ground = PlanGround(TRACK, (-500.0, 2500.0), designator, True, heading_true=heading)
    return flown_plan(ground, [], "Plan", narrow=narrow, obstacles=[PlanObstacle(900, 0, "trees")])


def upright(heading: float | None) -> str:
    drawn = WindPlan(
        (-500.0, 2500.0), "09", tuple(TRACK), ((-2000.0, 2600.0), (-2300.0, 900.0)), ((-2000.0, 2000.0),) * 2, 3.14,
        (), (), (0.0, 0.0), ("calm",), (WindObstacle("trees", -900.0, 0.0),), True, 4000.0, heading_true=heading,
    )  # fmt: skip
    return wind_plan(drawn, "Plan")


def north_of(svg: str) -> str:
    """Return the stroke before the letter N."""
    found = re.search(r"<path [^>]*/><text [^>]*>N</text>", svg)
    assert found
    return found[0]


@pytest.mark.parametrize(("heading", "side"), [(0, (0, -26)), (90, (-26, 0)), (180, (0, 26)), (270, (26, 0))])
def test_north_of_a_landing_up_the_page(heading: float, side: tuple[float, float]) -> None:
    """By the compass: who flies east has north on the left, who flies west on the right."""
    for svg in (upright(heading), plan(heading, narrow=True)):
        assert letter(north_of(svg)) == pytest.approx(side, abs=0.02)


@pytest.mark.parametrize(("heading", "side"), [(0, (26, 0)), (90, (0, -26)), (180, (-26, 0)), (270, (0, 26))])
def test_north_of_a_landing_to_the_right(heading: float, side: tuple[float, float]) -> None:
    """East is to the right as on a map: north is up then."""
    assert letter(north_of(plan(heading))) == pytest.approx(side, abs=0.02)


def test_a_runway_whose_true_heading_nobody_typed_has_no_north() -> None:
    for svg in (plan(None), plan(None, narrow=True), upright(None)):
        assert ">N</text>" not in svg


def test_threshold_and_aiming_point_lie_on_every_plan() -> None:
    for svg, landing in ((plan(90), (1.0, 0.0)), (plan(90, narrow=True), (0.0, -1.0)), (upright(90), (0.0, -1.0))):
        # By the same functions at whatever place: the strokes' lengths and directions.
        strokes = re.findall(r"M([-\d.]+) ([-\d.]+)L([-\d.]+) ([-\d.]+)", svg)
        moves = [(float(c) - float(a), float(d) - float(b)) for a, b, c, d in strokes]
        assert sum(move == pytest.approx((9 * landing[0], 9 * landing[1]), abs=0.02) for move in moves) == 3
    assert (
        aiming_mark(10, 10, (1, 0), 16) == '<path d="M10 -6L10 26" fill="none" stroke="currentColor" stroke-width="3"/>'
    )
    # A runway that nobody named is one of a common length: it has no threshold of its own.
    assert plan(None, designator="").count("<path") == plan(None).count("<path") - 1


def test_an_obstacle_is_one_drawing_in_plan_wind_and_strip() -> None:
    shape = re.compile(r'<path d="M([\d.]+) ([\d.]+)L([\d.]+) ([\d.]+)L([\d.]+) \2" [^>]*stroke-width="2.4"/><circle')
    heights = Strip("height", "Height, ft", [StripGate(1, 0.0, 700, 50, 50), StripGate(2, 4000.0, 180, 40, 30)], [])
    gates, stops = [(1, 0.0), (2, 4000.0)], [StripObstacle(2000, 155, "trees")]
    strip = flown_strips([heights], gates, [], "Strips", obstacles=stops)
    for svg in (plan(90), upright(90), strip, obstacle_mark(20, 30, 12)):
        assert shape.search(svg)
