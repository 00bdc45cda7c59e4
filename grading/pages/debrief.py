"""This module gathers the debrief of a signed lesson, for student and instructor together."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from grading.models import Grade, OwnView, Signature
from grading.pages.brief import wind_context
from grading.pages.debrief_faults import FaultShown, faults_of_lesson, lists_for_one_page
from grading.pages.pad_keys import PadKey
from grading.reading.facts import load_facts_and_rows, standard_in_force
from grading.reading.flown import FlownLesson
from grading.reading.grade_lines import scale_of
from grading.reading.lesson_stamp import read_debrief_stamp
from grading.reading.own_view import own_view_of, parts_flown
from grading.rules.debrief import PartResult, changes, good_words, headline, part_results
from grading.rules.flown import FlownCircuit, Pattern, most_often_outside
from grading.rules.readiness.history import History
from lessons.models import Lesson
from lessons.rules.scale import Help, Level, Part, Scale, Step
from school.current import get_school, school_zone
from school.days import day_of
from school.fragment_cache import CachedFragment
from school.models import Person

PRINTED_CHANGES = 3  # of the faults that opened, and of those that cleared, on the one printed page


@dataclass(frozen=True)
class TwoViews:
    """One part as the student and the instructor saw it; None where one of them gave no level."""

    part: Part
    own: Step | None
    given: Step | None
    help: str
    apart: int


@dataclass(frozen=True)
class LevelKeys:
    """The keys by which the student gives themselves a level for one part."""

    part: Part
    keys: tuple[PadKey, ...]


def debrief_fragment(lesson: Lesson, reader: Person) -> CachedFragment:
    """Return the page of a signed lesson, kept for its student and for all others apart."""

    def fill() -> dict[str, Any]:
        whole = Lesson.objects.for_pages().select_related("superseded_by").get(pk=lesson.pk)
        return debrief_context(whole, reader)

    own = reader.pk == lesson.enrolment.student_id
    return CachedFragment(("debrief", str(lesson.uid), own, read_debrief_stamp(lesson.pk)), fill)


def debrief_context(lesson: Lesson, reader: Person, typed: Mapping[str, str] | None = None) -> dict[str, Any]:
    """Return the context of the page of a signed lesson. `typed`: the fields of a form that was refused."""
    flown, grades = FlownLesson(lesson), _grades(lesson)
    before, after = _histories(lesson)
    results = part_results(after, lesson.number)
    faults = faults_of_lesson(flown)
    changed = changes(before, after)
    noted, hinted = lists_for_one_page(faults)
    circuits = [row for row in flown.circuits if not row.shown]
    parts = parts_flown(lesson)
    own, view = reader.pk == lesson.enrolment.student_id, own_view_of(lesson)
    corrected = getattr(lesson, "superseded_by", None)
    weather = wind_context(lesson)
    return {
        "lesson": lesson,
        "headline": headline(len(circuits), _good(results, grades), _better(faults, results, flown.pattern, circuits)),
        "cure": next((row.fault.cure for row in faults if row.tapped), ""),
        "faults": noted,
        "hints": hinted,
        "results": results,
        "nothing_good": not any(row.good for row in results),
        "numbers": (sum(len(row.values) - len(row.outside) for row in circuits), sum(len(r.values) for r in circuits)),
        "always_inside": _always_inside(flown.pattern, circuits),
        "has_circuits": bool(flown.circuits),
        "before": before.lessons[-1] if before.lessons else None,
        "changes": changed,
        "printed_changes": PRINTED_CHANGES,
        "unprinted_changes": sum(max(len(rows) - PRINTED_CHANGES, 0) for rows in (changed.opened, changed.cleared)),
        "view": view,
        "views": _two_views(lesson, parts, view, grades),
        "asks": own and view is None,
        "level_keys": _level_keys(lesson, parts, typed or {}) if own and view is None else [],
        "line": (typed or {}).get("line", ""),
        "corrected_by": corrected if corrected and corrected.is_signed else None,
        "may_sign": own and not Signature.objects.filter(lesson=lesson, capacity="student").exists(),
        "own": own,
        "wind_words": weather["wind_words"],
        "components": weather["components"],
    }


def _histories(lesson: Lesson) -> tuple[History, History]:
    """Return what was on record before a lesson and with it, as of the day on which it was signed."""
    assert lesson.signed_at is not None
    on = day_of(lesson.signed_at, school_zone())
    standard = standard_in_force(get_school(), on)
    facts, _ = load_facts_and_rows([lesson.enrolment], on)[lesson.enrolment_id]
    here = lesson.on, lesson.number
    with_it = tuple(row for row in facts.lessons if (row.on, row.number) <= here)
    without = tuple(row for row in with_it if row.number != lesson.number)
    before, after = (History.from_facts(replace(facts, lessons=rows), standard, on) for rows in (without, with_it))
    return before, after


def _grades(lesson: Lesson) -> dict[str, Grade]:
    rows = Grade.objects.filter(lesson=lesson).select_related("manoeuvre").order_by("manoeuvre__order")
    return {row.manoeuvre.code: row for row in rows}


def _good(results: Sequence[PartResult], grades: Mapping[str, Grade]) -> str:
    """Return what was good in words: by the parts of the circuits, and without circuits by the grades."""
    if results:
        return good_words(results)
    observed = [row for row in grades.values() if row.given != Level.NOT_OBSERVED]
    good = [row for row in observed if row.given == Level.PERFORM and row.help == Help.NONE]
    many = f"{len(observed)} manoeuvre{'' if len(observed) == 1 else 's'}"
    return f"{len(good)} of {many} to standard without help" if observed else ""


def _better(
    faults: Sequence[FaultShown], results: Sequence[PartResult], pattern: Pattern, circuits: Sequence[FlownCircuit]
) -> str:
    """Return the one thing to do better: the first fault, else the number most often outside, else the weakest part."""
    tapped = [row for row in faults if row.tapped]
    if tapped:
        name = tapped[0].fault.name
        return f"{name[:1].lower()}{name[1:]}"
    if any(row.outside for row in circuits):
        key, times = most_often_outside(circuits, pattern)
        target, gate = pattern.target(key), pattern.by_code[key.partition(".")[0]]
        assert target is not None
        of = sum(key in row.values for row in circuits)
        return f"{target.quantity} {gate.phrase}, outside in {times} of {of}"
    missed = [row for row in results if row.good < row.flown]
    return f"the {min(missed, key=lambda row: row.good / row.flown).noun}" if missed else ""


def _always_inside(pattern: Pattern, circuits: Sequence[FlownCircuit]) -> list[str]:
    """Return the numbers that were inside each time, as 'height on final, 4 times'."""
    said = []
    for target in pattern.targets:
        noted = [row for row in circuits if target.key in row.values]
        if noted and all(row.inside(target.key) for row in noted):
            times = f", {len(noted)} times" if len(noted) > 1 else ""
            said.append(f"{target.quantity} {pattern.by_code[target.gate].phrase}{times}")
    return said


def _two_views(
    lesson: Lesson, parts: Sequence[Part], view: OwnView | None, grades: Mapping[str, Grade]
) -> list[TwoViews]:
    scale = scale_of(lesson)
    return [_two_views_of(part, view, grades.get(part.value), scale) for part in parts]


def _two_views_of(part: Part, view: OwnView | None, grade: Grade | None, scale: Scale) -> TwoViews:
    code = view.levels.get(part.value) if view else None
    own, given = scale.step(code) if code else None, scale.step(grade.given_code) if grade else None
    both = own and given and given.level.observed
    apart = abs(scale.rank(own) - scale.rank(given)) if both and own and given else 0
    return TwoViews(part, own, given, grade.help if grade else Help.NONE.value, apart)


def _level_keys(lesson: Lesson, parts: Sequence[Part], typed: Mapping[str, str]) -> list[LevelKeys]:
    steps = scale_of(lesson).steps
    return [
        LevelKeys(
            part,
            tuple(
                PadKey(row.code, row.label, typed.get(f"level.{part.value}") == row.code, row.level.value)
                for row in steps
            ),
        )
        for part in parts
    ]
