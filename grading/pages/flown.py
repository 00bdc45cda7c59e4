"""This module gathers the page of one circuit as flown, and that of all circuits of a lesson over each other."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from django.http import Http404

from grading.pages.brief import wind_context
from grading.pages.flown_pictures import Ground, ObstacleSpot, draw_circuit, draw_lesson
from grading.pages.runway_place import RunwayPlace
from grading.reading.flown import FlownLesson
from grading.reading.lesson_stamp import read_flown_stamp
from grading.rules.flown import (
    TOUCHDOWN,
    FlownCircuit,
    GatePlace,
    NumberTarget,
    Pattern,
    amount_words,
    circuit_sentence,
    distance_words,
    lesson_sentence,
    plain_number,
)
from lessons.models import Lesson
from lessons.published_content import gates_in_order
from lessons.rules.pattern import Shape
from lessons.rules.scale import Ending
from lessons.rules.wind import Wind, WindComponents
from school.fragment_cache import CachedFragment
from school.marks import PlanWind

# Where a lesson names no runway, the plan has one of this length and without a name or a wind.
UNNAMED_RUNWAY_FT = 3000.0


@dataclass(frozen=True)
class NumberRow:
    """One line of the table: the gate, what is asked for, what was noted; `noted` is empty where nothing was.

    counts_from: the unit from which it will count, while that is to come.
    """

    gate: GatePlace
    quantity: str
    target: str
    noted: str
    judged: str
    place: str
    counts_from: int | None = None


@dataclass(frozen=True)
class FlownRow:
    """One circuit of a lesson: its sentence, and its numbers in the order of the table's columns."""

    circuit: FlownCircuit
    sentence: str
    cells: list[tuple[str, str]]


def circuit_fragment(lesson: Lesson, number: int) -> CachedFragment:
    return CachedFragment(_stamp("circuit", lesson, number), partial(circuit_context, lesson.pk, number))


def circuits_fragment(lesson: Lesson) -> CachedFragment:
    return CachedFragment(_stamp("circuits", lesson, 0), partial(circuits_context, lesson.pk))


def _stamp(kind: str, lesson: Lesson, number: int) -> Any:
    """Return everything that a page of a signed lesson hangs on; empty for one that is being written: it changes."""
    return (kind, str(lesson.uid), number, read_flown_stamp(lesson.pk)) if lesson.is_signed else ""


def circuit_context(lesson_pk: int, number: int) -> dict[str, Any]:
    """Return the sentence, the pictures and the table of one circuit; Http404 for one that the lesson has not."""
    lesson = Lesson.objects.for_pages().get(pk=lesson_pk)
    flown = FlownLesson(lesson)
    shown = flown.circuit(number)
    # Here and not in the view: while the page of a circuit is cached, nobody has to ask whether there is one.
    if shown is None:
        raise Http404("There is no such circuit in this lesson.")
    sentence, earlier = circuit_sentence(shown, flown.pattern), flown.earlier(number)
    weather = wind_context(lesson)
    place = RunwayPlace.of(lesson.runway) if lesson.runway else None
    ground = _ground(flown, place, _plan_wind(place, weather["wind"], weather["components"]))
    return {
        "lesson": lesson,
        "circuit": shown,
        "numbers": [row.circuit for row in flown.circuits],
        "ended": Ending(shown.ending).label,
        "sentence": sentence,
        "earlier": earlier,
        "pictures": draw_circuit(flown.pattern, shown, earlier, ground, sentence, _obstacles(place)),
        "rows": number_rows(shown, flown.pattern, flown.counts_from(number)),
        "has_gates": bool(flown.pattern.gates),
        "wind_words": weather["wind_words"],
        "components": weather["components"],
    }


def circuits_context(lesson_pk: int) -> dict[str, Any]:
    """Return the same of all circuits of a lesson, over each other."""
    lesson = Lesson.objects.for_pages().get(pk=lesson_pk)
    flown = FlownLesson(lesson)
    pattern, circuits = flown.pattern, flown.circuits
    columns = [row for row in pattern.targets if any(row.key in circuit.values for circuit in circuits)]
    sentence, weather = lesson_sentence(circuits, pattern), wind_context(lesson)
    place = RunwayPlace.of(lesson.runway) if lesson.runway else None
    ground = _ground(flown, place, _plan_wind(place, weather["wind"], weather["components"]))
    return {
        "lesson": lesson,
        "sentence": sentence,
        "pictures": draw_lesson(
            pattern, [row for row in circuits if not row.shown], ground, sentence, _obstacles(place)
        ),
        "numbers": [row.circuit for row in circuits],
        "columns": [(pattern.by_code[row.gate], row) for row in columns],
        "rows": [
            FlownRow(row, circuit_sentence(row, pattern), [_cell(row, target) for target in columns])
            for row in circuits
        ],
        "has_gates": bool(pattern.gates),
        "wind_words": weather["wind_words"],
        "components": weather["components"],
    }


def _ground(flown: FlownLesson, place: RunwayPlace | None, wind: PlanWind | None) -> Ground:
    shape = gates_in_order(flown.gate_set_id)[0] if flown.gate_set_id else Shape.SQUARE
    units = flown.grading_context.units
    if place is None:
        return Ground(shape, "", left=True, length_ft=UNNAMED_RUNWAY_FT, units=units)
    return Ground(
        shape,
        place.designator,
        place.left,
        place.length_ft,
        wind,
        units,
        place.touchdown_ft,
        None if place.heading_true is None else float(place.heading_true),
        place.words(units),
    )


def _obstacles(place: RunwayPlace | None) -> tuple[ObstacleSpot, ...]:
    """Return what stands before the runway, by its distance from the point that is aimed at."""
    if place is None:
        return ()
    aim = place.touchdown_ft
    return tuple(ObstacleSpot(name, before + aim, side, high) for name, before, side, high in place.obstacles)


def _plan_wind(place: RunwayPlace | None, wind: Wind | None, parts: WindComponents | None) -> PlanWind | None:
    # A variable wind has no way, and calm air none to show.
    if place is None or wind is None or parts is None or wind.direction is None or not wind.speed_kt:
        return None
    gust = f" gusting {wind.gust_kt}" if wind.gust_kt else ""
    lines = [f"Wind {wind.direction:03d}° {wind.speed_kt}{gust} kt", *parts.words.split(", ")]
    return PlanWind(wind.direction - place.heading, wind.speed_kt, lines)


def number_rows(circuit: FlownCircuit, pattern: Pattern, later: Mapping[str, int]) -> list[NumberRow]:
    """Return every number that is asked for in the order flown, those that nobody noted too."""
    return [
        replace(_number_row(circuit, pattern.by_code[row.gate], row), counts_from=later.get(row.key))
        for row in pattern.targets
    ]


def _number_row(circuit: FlownCircuit, gate: GatePlace, target: NumberTarget) -> NumberRow:
    over, under = plain_number(target.over), plain_number(target.under)
    asked = f"{_written(target.value, target)} +{over} \u2212{under}"
    if target.key not in circuit.values:
        return NumberRow(gate, target.quantity, asked, "", "", "not_measured")
    place = "outside" if target.key in circuit.outside else "inside"
    words = amount_words(circuit.amounts[target.key], target)
    noted = _written(circuit.values[target.key], target)
    if target.key in circuit.tracked:
        noted += f" ±{plain_number(circuit.tracked[target.key])}, from a track"
    return NumberRow(gate, target.quantity, asked, noted, f"{words}, {place}", place)


def _written(value: float, target: NumberTarget) -> str:
    # A touchdown in the words of the sentence: beside its deviation from the target a bare number would mislead.
    if target.gate == TOUCHDOWN and target.quantity == "distance":
        return distance_words(value, target.unit)
    return with_unit(value, target.unit)


def _cell(circuit: FlownCircuit, target: NumberTarget) -> tuple[str, str]:
    """Return the number of a circuit, and where it lies."""
    if target.key not in circuit.values:
        return "", "not_measured"
    return plain_number(circuit.values[target.key]), "outside" if target.key in circuit.outside else "inside"


def with_unit(value: float, unit: str) -> str:
    """Return '68 kt' or '22°'."""
    return f"{plain_number(value)}{'°' if unit == 'deg' else f' {unit}'}"
