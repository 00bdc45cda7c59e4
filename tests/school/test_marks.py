"""The marks as drawing: each word has its own shape, numbers stand where they belong, text cannot break out."""

import re
from collections.abc import Callable, Iterator
from xml.etree import ElementTree

import pytest
from django.template import Context, Template

from school import marks
from school.marks import CircuitMarks, GateSeries, PartGrade, PartSpan
from school.marks.symbols import STAMP_STATES, STORAGE_PLACES, TRIANGLE_STATES

LEVELS = ("not_observed", "describe", "explain", "practice", "perform")
HELPS = ("none", "prompted", "assisted", "took_control")
NASTY = 'Óda "<b>&</b>" עדה'
SVG = "{http://www.w3.org/2000/svg}"


def parse_svg(drawing: str) -> ElementTree.Element:
    """As XML. Pages hold the marks in HTML, which needs no namespace; a file would."""
    return ElementTree.fromstring(drawing.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1))


def shape_of(drawing: str) -> str:
    return drawing.split(">", 1)[1]


def circuit_row(*landings: PartGrade | None) -> list[CircuitMarks]:
    return [
        CircuitMarks(
            number, {"takeoff": PartGrade("perform"), **({"landing": part} if part else {})}, {"touchdown": 80.0}
        )
        for number, part in enumerate(landings, 1)
    ]


TOUCHDOWN = GateSeries("touchdown", "Touchdown", "0 ft +400 \u22120", 400, 0, "long", "short")


def spans(**judged: int) -> dict[str, PartSpan]:
    """Return what is looked at of each part, enough of it where three or more are; the others have nothing."""
    counts = {part: judged.get(part, 0) for part in ("takeoff", "downwind", "approach", "landing")}
    return {part: PartSpan(count, count >= 3, f"{count} so far") for part, count in counts.items()}


STANDARD, BELOW, AROUND = PartGrade("perform"), PartGrade("practice", "prompted"), PartGrade("go_around")


def all_marks() -> Iterator[str]:
    yield from (marks.square(level, help, 28, NASTY) for level in (*LEVELS, "go_around") for help in HELPS)
    yield from (marks.triangle(state, 20, NASTY) for state in TRIANGLE_STATES)
    yield from (marks.stamp(state, 20, NASTY) for state in STAMP_STATES)
    yield from (marks.storage_mark(place, 20, NASTY) for place in STORAGE_PLACES)
    yield from (marks.deviation_scale(amount, 10, 5, NASTY) for amount in (None, 0, 8, -8, 60, -60))
    yield marks.runway_wind(NASTY, 250, 290, 12, NASTY)
    yield marks.circuit_strip(circuit_row(STANDARD, AROUND), spans(landing=1), NASTY)


@pytest.mark.parametrize("drawing", list(all_marks()))
def test_a_labelled_mark_is_an_image_whose_name_is_exactly_its_label(drawing: str) -> None:
    root = parse_svg(drawing)
    assert (root.get("role"), root.get("aria-label")) == ("img", NASTY)
    assert "aria-hidden" not in root.attrib


def test_a_mark_without_a_label_is_hidden_beside_its_word() -> None:
    for drawing in (marks.square("perform"), marks.triangle("met"), marks.stamp("signed"), marks.storage_mark("here")):
        assert parse_svg(drawing).get("aria-hidden") == "true"


def test_words_inside_a_figure_cannot_become_markup() -> None:
    series = GateSeries("touchdown", NASTY, NASTY, 400, 0, NASTY, NASTY)
    lessons = [(NASTY, NASTY, circuit_row(STANDARD))]
    columns, labels = re.findall(r"<svg .*?</svg>", marks.circuits_figure(lessons, [series], spans(), NASTY))
    said = [element.text for element in (*parse_svg(columns).iter(f"{SVG}text"), *parse_svg(labels).iter(f"{SVG}text"))]
    assert said.count(NASTY) >= 4
    assert "<b>" not in columns + labels


def test_marks_name_no_colour_and_repeat_on_a_page() -> None:
    for drawing in all_marks():
        assert not re.search(r'\sid=|\sstyle=|<style|url\(|(?:fill|stroke)="(?!none|currentColor|var\(--)', drawing)


@pytest.mark.parametrize(
    ("draw", "words"),
    [
        (marks.triangle, TRIANGLE_STATES),
        (marks.stamp, STAMP_STATES[:3] + STAMP_STATES[4:]),
        (marks.storage_mark, STORAGE_PLACES),
    ],
)
def test_each_state_has_a_shape_of_its_own(draw: Callable[[str], str], words: tuple[str, ...]) -> None:
    assert len({shape_of(draw(word)) for word in words}) == len(words)


def test_each_grade_has_a_shape_of_its_own() -> None:
    drawn = {shape_of(marks.square(level, help)) for level in LEVELS for help in HELPS}
    assert len(drawn) == len(LEVELS) * len(HELPS)


def test_lapsed_and_set_aside_differ_in_fill_and_in_the_slope_of_their_stroke() -> None:
    lapsed, aside = parse_svg(marks.triangle("lapsed", 20)), parse_svg(marks.triangle("set_aside", 20))
    assert [root[0].get("fill") for root in (lapsed, aside)] == ["currentColor", "none"]
    strokes = [str(root[-1].get("d")) for root in (lapsed, aside)]
    assert re.fullmatch(r"M[\d.]+ [\d.]+L[\d.]+ [\d.]+", strokes[0])
    assert re.fullmatch(r"M[\d.]+ [\d.]+H[\d.]+", strokes[1])


@pytest.mark.parametrize(
    "draw",
    [
        lambda: marks.square("good"),
        lambda: marks.square("practice", "helped"),
        lambda: marks.triangle("done"),
        lambda: marks.stamp("acknowledged"),
        lambda: marks.storage_mark("tablet"),
    ],
)
def test_a_word_the_language_does_not_have_is_refused(draw: Callable[[], str]) -> None:
    with pytest.raises(ValueError, match="no mark is drawn for"):
        draw()


def test_fill_grows_with_the_level_and_only_perform_without_help_is_seamless() -> None:
    heights = [float(parse_svg(marks.square(level))[-1].get("height", 0)) for level in LEVELS[1:]]
    assert heights == sorted(set(heights))
    assert [len(parse_svg(marks.square(level))) for level in LEVELS] == [1, 2, 2, 2, 1]
    assert len(parse_svg(marks.square("perform", "prompted"))) == 3


def x_positions(drawing: str, pattern: str) -> list[float]:
    return [float(x) for x in re.findall(pattern, drawing)]


BRACKET = r"M[\d.]+ 9H([\d.]+)V31"
POINTER = r'd="M([\d.]+) 8L'


def test_a_two_sided_scale_brackets_each_tolerance_at_its_own_distance() -> None:
    low, high = x_positions(marks.deviation_scale(None, 10, 5), BRACKET)
    assert (high - 130) == pytest.approx(2 * (130 - low), abs=0.02)


def test_a_one_sided_scale_has_its_lower_bracket_on_the_target() -> None:
    """Touchdown: within 400 ft beyond or on the point, never short (FAA-S-ACS-6C, Area of Operation IV, Task B)."""
    drawing = marks.deviation_scale(0, 400, 0)
    assert x_positions(drawing, BRACKET)[0] == 130
    assert drawing.count("<circle") == 2


@pytest.mark.parametrize(
    ("amount", "over", "under", "inside"),
    [(0, 400, 0, True), (400, 400, 0, True), (401, 400, 0, False), (-1, 400, 0, False), (10, 10, 5, True),
     (-5, 10, 5, True), (-6, 10, 5, False)],
)  # fmt: skip
def test_the_pointer_is_solid_exactly_inside_the_tolerance(
    amount: float, over: float, under: float, inside: bool
) -> None:
    pointer = parse_svg(marks.deviation_scale(amount, over, under))[-1]
    assert pointer.get("fill") == ("currentColor" if inside else "var(--paper)")


def test_the_pointer_stands_in_proportion_and_turns_into_an_arrowhead_off_the_scale() -> None:
    low, high = x_positions(marks.deviation_scale(None, 10, 10), BRACKET)
    assert x_positions(marks.deviation_scale(10, 10, 10), POINTER) == [pytest.approx(high, abs=0.02)]
    assert x_positions(marks.deviation_scale(-10, 10, 10), POINTER) == [pytest.approx(low, abs=0.02)]
    right, left = marks.deviation_scale(21, 10, 10), marks.deviation_scale(-21, 10, 10)
    assert not x_positions(right, POINTER)
    assert not x_positions(left, POINTER)
    assert shape_of(right) != shape_of(left)


def test_nothing_measured_has_no_pointer_and_no_tolerance_no_scale() -> None:
    assert len(parse_svg(marks.deviation_scale(None, 10, 10))) == len(parse_svg(marks.deviation_scale(0, 10, 10))) - 1
    with pytest.raises(ValueError, match="no scale"):
        marks.deviation_scale(1, 0, 0)


LINE = r'd="M([\d.]+) [\d.]+H([\d.]+)" fill="none" stroke="var\(--accent\)"'


def test_what_is_looked_at_is_underlined_under_the_landings_and_not_under_a_go_around() -> None:
    drawing = marks.circuit_strip(circuit_row(BELOW, STANDARD, AROUND), spans(landing=1), "Landings: 1 of 3")
    assert re.findall(LINE, drawing) == [("17", "29")]


def test_help_without_a_level_is_among_what_is_looked_at() -> None:
    helped = PartGrade("not_observed", "assisted")
    drawing = marks.circuit_strip(circuit_row(BELOW, helped, PartGrade("not_observed")), spans(landing=2), "Landings")
    assert re.findall(LINE, drawing) == [("1", "29")]


def test_what_is_enough_and_what_was_not_flown_are_not_underlined_in_the_strip() -> None:
    for length, flown in ((3, circuit_row(STANDARD, STANDARD, STANDARD)), (0, circuit_row(STANDARD, BELOW))):
        assert not re.findall(LINE, marks.circuit_strip(flown, spans(landing=length), "Landings"))


def test_each_part_is_enough_by_its_own_rule() -> None:
    """Three takeoffs are enough where three are asked for; three landings are not where five are."""
    flown, enough = circuit_row(STANDARD, STANDARD, STANDARD), spans(takeoff=3, landing=3)
    short = enough | {"landing": PartSpan(3, False, "3 so far")}
    assert re.findall(LINE, marks.circuit_strip(flown, enough, "Circuits")) == []
    assert len(re.findall(LINE, marks.circuit_strip(flown, short, "Circuits"))) == 1
    figure = marks.circuits_figure([("Lesson 7", "9 June", flown)], [], short, "Circuits")
    assert figure.count("3 so far") == 2
    assert len(re.findall(r'fill="var\(--accent\)"[^>]*>3 so far', figure)) == 1


def test_only_the_parts_that_are_asked_for_are_drawn() -> None:
    landings = {"landing": PartSpan(1, False, "1 of 1 so far")}
    labels = marks.circuits_figure([("Lesson 7", "9 June", circuit_row(STANDARD))], [], landings, "Landings")
    assert ("Takeoff" in labels, "Landing" in labels) == (False, True)


def test_an_empty_strip_and_an_empty_figure_are_still_drawings() -> None:
    parse_svg(marks.circuit_strip([], spans(), "No circuits"))
    columns, labels = re.findall(r"<svg .*?</svg>", marks.circuits_figure([], [TOUCHDOWN], spans(), "No circuits"))
    assert parse_svg(columns).get("height") == parse_svg(labels).get("height")


def test_a_row_that_began_before_the_figure_is_open_at_its_left_end() -> None:
    lessons = [("Lesson 7", "9 June", circuit_row(STANDARD, STANDARD))]
    begun, whole = (marks.circuits_figure(lessons, [], spans(landing=length), "Landings") for length in (9, 2))
    ticks = [len(re.findall(r'd="M[^"]*V[^"]*H[^"]*V', drawing)) for drawing in (begun, whole)]
    assert ticks[1] == ticks[0] + 1


def test_the_band_of_a_one_sided_gate_ends_on_its_target_line() -> None:
    drawing = marks.circuits_figure([("Lesson 7", "9 June", circuit_row(STANDARD))], [TOUCHDOWN], spans(), "Landings")
    y, high = (
        float(part)
        for part in re.findall(r'y="([\d.]+)" width="[\d.]+" height="([\d.]+)" fill="var\(--land', drawing)[0]
    )
    target = float(
        re.findall(r'd="M0 ([\d.]+)H[\d.]+" fill="none" stroke="currentColor" stroke-width="1" stroke-d', drawing)[0]
    )
    assert y + high == pytest.approx(target, abs=0.02)


def test_a_value_nobody_noted_is_dashed_in_its_column() -> None:
    noted = circuit_row(STANDARD)
    missing = [CircuitMarks(1, noted[0].parts)]
    dashes = [
        marks.circuits_figure([("Lesson 7", "9 June", flown)], [TOUCHDOWN], spans(), "Landings").count(
            'dasharray="3.6 1.6"'
        )
        for flown in (noted, missing)
    ]
    assert dashes == [0, 1]


@pytest.mark.parametrize(
    ("direction", "across", "along"),
    # Heading 250: sine and cosine of 30 degrees are 1/2 and 0.866, so 20 kt is 10 kt across and 17 kt along.
    [(280, "10", "17"), (220, "10", "17"), (250, None, "20"), (340, "20", None)],
)
def test_the_wind_has_its_components_in_whole_knots_and_no_leg_where_there_is_none(
    direction: int, across: str | None, along: str | None
) -> None:
    said = [
        element.text for element in parse_svg(marks.runway_wind("25", 250, direction, 20, "Wind")).iter(f"{SVG}text")
    ]
    assert said == ["25", *(value for value in (across, along) if value)]


def test_a_calm_has_no_staff() -> None:
    assert "var(--accent)" not in marks.runway_wind("25", 250, 0, 0, "Calm")


def test_a_square_drawn_again_is_the_same_object() -> None:
    """A board draws thousands: the second one costs a look-up."""
    assert marks.square("practice", "prompted", 12) is marks.square("practice", "prompted", 12)


@pytest.mark.parametrize(
    ("source", "said"),
    [
        ("{{ 90|hours }}", "1.5"),
        ("{{ 57|hours }}", "1.0"),  # 0.95 h, half up
        ("{{ 0|hours }}", "0.0"),
        ("{{ 'not_observed'|words }}", "Not observed"),
        ("{{ 'practice'|level_words:'prompted' }}", "Practice, prompted"),
        ("{{ 'explain'|level_words:'took_control' }}", "Explain, instructor took control"),
        ("{{ 'perform'|level_words:'none' }}", "Perform"),
    ],
)
def test_filters_say_it_as_the_trade_does(source: str, said: str) -> None:
    assert Template("{% load marks %}" + source).render(Context()) == said


def test_a_tag_marks_its_drawing_safe_and_its_label_stays_escaped() -> None:
    drawn = Template("{% load marks %}{% mark_triangle 'met' 20 name %}").render(Context({"name": NASTY}))
    assert parse_svg(drawn).get("aria-label") == NASTY
