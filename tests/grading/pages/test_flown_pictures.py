"""Ten thousand circuits drawn from numbers at random: nothing outside its frame, no number that is none."""

import json
import random
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from grading.pages.flown_pictures import (
    Drawn,
    FlownPictures,
    Ground,
    ObstacleSpot,
    circuit_plan,
    draw_circuit,
    draw_lesson,
    flown_strips,
    gate_state,
    part_of_circuit,
    touchdown_strip,
)
from grading.rules.flown import FlownCircuit, GatePlace, NumberTarget, Pattern
from lessons.rules.pattern import Shape
from lessons.rules.scale import Ending
from school.marks import PlanWind

FIXTURES = Path(__file__).resolve().parents[3] / "fixtures/aircraft"
TARGET_NUMBERS = ("value", "over", "under")
SEED, CIRCUITS = 20_261_129, 10_000
PATH_STEP = re.compile(r"([MLHV])([^MLHVZ]*)")


def read_pattern(name: str) -> tuple[Shape, Pattern]:
    content = json.loads((FIXTURES / f"{name}.json").read_text())["gate_set"]
    gates = [
        GatePlace(number, row["code"], row["name"], f"at {row['name']}", row["leg"], row["along_ft"])
        for number, row in enumerate(content["gates"], 1)
    ]
    targets = [
        NumberTarget(
            row["code"], one["quantity"], one["unit"], *(float(one[key]) for key in ("value", "over", "under"))
        )
        for row in content["gates"]
        for one in row["targets"]
    ]
    return Shape(content["shape"]), Pattern(tuple(gates), tuple(targets))


SETS = {name: read_pattern(name) for name in ("tailwheel", "nosewheel")}


def random_circuit(chance: random.Random, pattern: Pattern, number: int) -> FlownCircuit:
    """Some numbers near their targets, some as far away as a slip of the finger puts them."""
    values, amounts, outside = {}, {}, set()
    for target in pattern.targets:
        if chance.random() < 0.4:
            continue
        wild = chance.choice([0.5, 1, 3, 100])
        amount = round(chance.gauss(0, max(target.over, target.under) * wild), 1)
        values[target.key], amounts[target.key] = target.value + amount, amount
        if not -target.under <= amount <= target.over:
            outside.add(target.key)
    return FlownCircuit(7, number, chance.choice(list(Ending)), values, amounts, frozenset(outside))


def random_ground(chance: random.Random, shape: Shape) -> Ground:
    wind = PlanWind(chance.uniform(-360, 360), chance.uniform(1, 60), ["Wind 010° 12 kt", "crosswind 3 kt"])
    length = chance.uniform(800, 12_000)
    north, aim = chance.choice([None, chance.uniform(0, 360)]), chance.choice([None, chance.uniform(0, length)])
    return Ground(
        shape, "07", chance.random() < 0.5, length, chance.choice([wind, None]), aim_ft=aim, heading_true=north
    )


def random_drawing(chance: random.Random) -> str:
    """One of the figures of a circuit at random, for one of the two widths."""
    shape, pattern = SETS[chance.choice(["tailwheel", "nosewheel"])]
    lines = [random_circuit(chance, pattern, number) for number in range(1, chance.randint(2, 6))]
    stops = [
        ObstacleSpot("trees", chance.uniform(-3000, 9000), chance.uniform(-4000, 4000), chance.uniform(1, 900))
        for _ in range(chance.choice([0, 0, 1, 3]))
    ]
    narrow, ground = chance.random() < 0.5, random_ground(chance, shape)
    match chance.choice(["approach", "approach", "out", "plan", "touchdowns"]):
        case "plan":
            return circuit_plan(pattern, lines[-chance.randint(1, 5) :], ground, "Circuit", stops, narrow=narrow)
        case "touchdowns":
            return touchdown_strip(pattern, lines, "Circuit", lines[-1], narrow=narrow)
        case part:
            gates = part_of_circuit(pattern, out=part == "out")
            return flown_strips(pattern, gates, lines, "Circuit", stops, thick=chance.random() < 0.8, narrow=narrow)


def figures_of(pictures: FlownPictures) -> Iterator[str]:
    for figure in (pictures.plan, pictures.out, pictures.approach, pictures.touchdowns):
        if figure:
            yield figure.wide
            yield figure.narrow


SHAPE = re.compile(
    r'<(?:path d="([^"]*)"|rect x="(\S+)" y="(\S+)" width="(\S+)" height="(\S+)"|circle cx="(\S+)" cy="(\S+)")'
)
WORD = re.compile(r'<text [^>]*?\bx="(\S+)" y="(\S+)"')


def points_of(svg: str) -> Iterator[tuple[float, float]]:
    """Yield the corners of every shape and the foot of every word."""
    for d, x, y, wide, high, cx, cy in SHAPE.findall(svg):
        if d:
            yield from path_points(d)
        elif x:
            assert min(float(wide), float(high)) >= 0, svg
            yield from ((float(x), float(y)), (float(x) + float(wide), float(y) + float(high)))
        else:
            yield float(cx), float(cy)
    for x, y in WORD.findall(svg):
        yield float(x), float(y)


def path_points(d: str) -> Iterator[tuple[float, float]]:
    x = y = 0.0
    for command, rest in PATH_STEP.findall(d):
        if command in "ML":
            first, _, second = rest.partition(" ")
            x, y = float(first), float(second)
        elif command == "H":
            x = float(rest)
        elif command == "V":
            y = float(rest)
        yield x, y


def assert_in_frame(svg: str) -> None:
    width, height = (float(part) for part in re.findall(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', svg)[0])
    for x, y in points_of(svg):
        assert -0.5 <= x <= width + 0.5, (x, y, svg)
        assert -0.5 <= y <= height + 0.5, (x, y, svg)


def test_thousands_of_circuits_stay_inside_their_frames() -> None:
    chance = random.Random(SEED)
    for _ in range(CIRCUITS):
        svg = random_drawing(chance)
        assert "nan" not in svg
        assert "inf" not in svg
        assert_in_frame(svg)


def test_a_point_outside_is_seen() -> None:
    """The check itself: a line that leaves the frame is refused."""
    with pytest.raises(AssertionError):
        assert_in_frame('<svg viewBox="0 0 100 50"><path d="M1 1L20 51" fill="none"/></svg>')


@pytest.fixture
def tailwheel() -> Pattern:
    return SETS["tailwheel"][1]


def flown(values: dict[str, float], pattern: Pattern, number: int = 1) -> FlownCircuit:
    amounts = {key: value - target.value for key, value in values.items() if (target := pattern.target(key))}
    outside = {
        key
        for key, amount in amounts.items()
        if (target := pattern.target(key)) and not -target.under <= amount <= target.over
    }
    return FlownCircuit(7, number, "full_stop", values, amounts, frozenset(outside))


GROUND = Ground(Shape.OVAL, "18", left=True, length_ft=3000)


def approach_of(pattern: Pattern, *lines: FlownCircuit) -> Drawn:
    pictures = draw_circuit(pattern, lines[-1], lines[:-1], GROUND, "Circuit 1: as flown.")
    assert pictures.approach
    return pictures.approach


def test_the_name_of_each_figure_is_the_sentence(tailwheel: Pattern) -> None:
    pictures = draw_circuit(
        tailwheel, flown({"final.height": 150, "climb.speed": 85}, tailwheel), [], GROUND, "So & so."
    )
    labels = [re.findall(r'aria-label="([^"]*)"', svg)[0] for svg in figures_of(pictures)]
    assert len(labels) == 6
    assert all(label.startswith("So &amp; so.") for label in labels)


def test_the_way_out_is_drawn_only_where_a_number_was_noted_there(tailwheel: Pattern) -> None:
    for values, drawn in (({"final.height": 150}, False), ({"climb.speed": 85}, True)):
        pictures = draw_circuit(tailwheel, flown(values, tailwheel), [], GROUND, "Circuit")
        assert bool(pictures.out) is drawn


def test_between_two_numbers_the_line_is_dashed_and_a_gate_without_one_has_its_own_mark(tailwheel: Pattern) -> None:
    noted = {"abeam.height": 700.0, "final.height": 180.0}
    svg = approach_of(tailwheel, flown(noted, tailwheel)).wide
    assert svg.count('stroke-dasharray="9 6"') == 1
    # Power back, the gliding turn and the round-out of the heights, and the four gates of the speeds.
    assert svg.count('stroke-dasharray="3.6 1.6"') == 3 + 4


def test_a_number_outside_is_open_and_says_how_far(tailwheel: Pattern) -> None:
    svg = approach_of(tailwheel, flown({"final.height": 140, "final.speed": 68}, tailwheel)).wide
    assert ">40 ft low<" in svg
    assert len(re.findall(r'Z" fill="var\(--paper\)"', svg)) == 1
    assert len(re.findall(r'Z" fill="currentColor"', svg)) == 1


def test_a_number_beyond_the_scale_is_an_open_arrowhead(tailwheel: Pattern) -> None:
    inside, beyond = (approach_of(tailwheel, flown({"final.height": value}, tailwheel)).wide for value in (180, 9000))
    assert len(re.findall(r"L[\d. ]+L[\d. ]+L[\d. ]+Z", inside)) > len(re.findall(r"L[\d. ]+L[\d. ]+L[\d. ]+Z", beyond))


def test_earlier_circuits_are_thin_and_the_one_that_is_shown_is_thick(tailwheel: Pattern) -> None:
    lines = [flown({"abeam.height": 700, "final.height": 180 + number}, tailwheel, number) for number in range(1, 7)]
    svg = approach_of(tailwheel, *lines).wide
    assert svg.count('stroke="var(--ink-2)" stroke-width="1.3"') == 5
    assert svg.count('stroke-width="3" stroke-dasharray="9 6"') == 1


def test_a_gate_is_outside_where_one_of_its_numbers_is(tailwheel: Pattern) -> None:
    circuit = flown({"final.height": 180, "final.speed": 90, "abeam.height": 700}, tailwheel)
    states = [gate_state(code, tailwheel, circuit) for code in ("final", "abeam", "turn")]
    assert states == ["outside", "inside", "not_measured"]


def test_an_obstacle_shows_its_margin_only_where_both_gates_beside_it_were_noted(tailwheel: Pattern) -> None:
    """Half way from final (180 ft) to the round-out (20 ft) the line is at 100 ft, 45 ft over 55 ft of trees."""
    place = 27_200 - (25_600 + 27_000) / 2
    trees = [ObstacleSpot("trees", place, 0, 55)]
    both = flown({"final.height": 180, "round-out.height": 20}, tailwheel)
    one = flown({"final.height": 180}, tailwheel)
    said = [draw_circuit(tailwheel, row, [], GROUND, "Circuit", trees).approach for row in (both, one)]
    assert said[0]
    assert said[1]
    assert ">trees 55 ft, the dashed line 45 ft over it<" in said[0].wide
    assert "over it" not in said[1].wide
    assert ">trees 55 ft<" in said[1].wide
    # The same is told under the figure: on a telephone its words may have no room.
    told = [draw_circuit(tailwheel, row, [], GROUND, "Circuit", trees).obstacles for row in (both, one)]
    assert told == [("trees 55 ft, the dashed line 45 ft over it",), ("trees 55 ft",)]


def test_the_circuits_of_a_lesson_have_no_thick_one(tailwheel: Pattern) -> None:
    lines = [flown({"abeam.height": 700, "final.height": 90 + number}, tailwheel, number) for number in (1, 2, 3)]
    pictures = draw_lesson(tailwheel, lines, GROUND, "Three circuits")
    assert pictures.approach
    assert 'stroke-dasharray="9 6"' not in pictures.approach.wide


def test_without_a_gate_there_is_nothing_to_draw() -> None:
    pictures = draw_circuit(Pattern((), ()), FlownCircuit(1, 1, "full_stop", {}, {}, frozenset()), [], GROUND, "One")
    assert list(figures_of(pictures)) == []


def test_the_plan_of_a_lesson_counts_each_gate_over_all_circuits(tailwheel: Pattern) -> None:
    """By hand: final 180 ft +40 -30. Of three circuits two noted it, one of them inside; the turn was inside twice."""
    rows = [{"final.height": 180, "turn.height": 380}, {"final.height": 113, "turn.height": 380}, {"climb.speed": 85}]
    lines = [flown(values, tailwheel, number) for number, values in enumerate(rows, 1)]
    plan = draw_lesson(tailwheel, lines, GROUND, "Three circuits").plan
    assert plan
    numbers = tailwheel.by_code
    for svg in (plan.wide, plan.narrow):
        words = re.findall(r">([^<>]+)</text>", svg)
        assert f"{numbers['final'].number}: 1 of 2" in words
        assert f"{numbers['turn'].number}: 2 of 2" in words
    # One circuit has no share: its gates have their numbers alone.
    alone = draw_circuit(tailwheel, lines[0], [], GROUND, "One").plan
    assert alone
    assert " of " not in "".join(re.findall(r">([^<>]+)</text>", alone.wide))


def test_every_touchdown_of_a_lesson_lies_on_the_runway_of_its_plan(tailwheel: Pattern) -> None:
    target = tailwheel.touchdown
    assert target
    lines = [flown({target.key: target.value + off}, tailwheel, number) for number, off in enumerate((0, 900, 20), 1)]
    plan, empty = draw_lesson(tailwheel, lines, GROUND, "Three").plan, draw_lesson(tailwheel, [], GROUND, "None").plan
    assert plan
    assert empty
    diamonds = re.compile(r'<path d="M[^"]*Z" fill="(currentColor|var\(--paper\))"')
    landed = diamonds.findall(plan.wide)[len(diamonds.findall(empty.wide)) :]
    assert landed == ["currentColor", "var(--paper)", "currentColor"]
