"""This module gathers what the lesson page shows: the brief, the circuits, the pad, the grades, what is missing."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.functional import cached_property

from grading.actions import lesson_details
from grading.actions.circuit_entries import usual_landing_kind
from grading.actions.recording import last_tap
from grading.actions.signing import counts_from_endings, hours_with_block_time, missing_before_signing
from grading.models import Attempt, Measure, Release, Tap
from grading.pages.brief import runway_lines, wind_context
from grading.pages.circuit_pad import CircuitPad, CircuitPadMaker, OpenFaults, next_number
from grading.pages.device_sync import circuit_entries_json
from grading.pages.pad_keys import PadKey
from grading.pages.pads import AttemptSummary, PadMaker, track_words
from grading.pages.wind_brief import WindBrief, wind_brief
from grading.reading import grade_lines
from grading.reading.facts import all_releases_in_force, releases_given
from grading.reading.grade_lines import (
    GradeLine,
    GradingContext,
    load_attempts,
    load_grading_context,
    measured_deviation,
    tapped_step,
)
from grading.reading.release_status import ReleaseStatus, release_status
from lessons.conditions import lesson_wind
from lessons.detail_text import detail_text
from lessons.models import Circuit, Lesson, WindReference
from lessons.published_content import manoeuvres_by_code, unit_manoeuvres
from lessons.rules.scale import Ending, Help, LandingKind, Level, Part, Step
from school.fragment_cache import CachedFragment

# Every mark that a part can have in the strip: without the school a tablet draws it.
PAD_MARKS = {"mark_levels": list(Level), "mark_helps": list(Help)}
# The same in every lesson: the number pad and those marks.
PAD_TOOLS = CachedFragment("tools of the pad", lambda: PAD_MARKS)
CIRCUIT_PART_CODES = {part.value for part in Part}
# What changes the target of a gate, and so every proposal that rests on a number.
TARGET_FIELDS = {f"lesson.{name}" for name in ("aircraft", "wind_speed_kt", "wind_gust_kt", "weather_report")}
WIND_FIELDS = TARGET_FIELDS | {"lesson.runway", "lesson.wind_direction", "lesson.wind_reference"}


@dataclass(frozen=True)
class PartLine:
    """One part of a closed circuit. `step` is None where none was tapped."""

    part: Part
    attempt: Attempt | None
    step: Step | None


@dataclass(frozen=True)
class CircuitLine:
    circuit: Circuit
    parts: list[PartLine]
    summary: str


class LessonPage:
    """The contexts of the sections of the page and of its fragments; each part is gathered when it is first needed.

    `typed`: the fields of a form that was refused, by name.
    """

    def __init__(
        self,
        lesson: Lesson,
        number: int | None = None,
        typed: Mapping[str, str] | None = None,
        open_faults: Callable[[], OpenFaults] = dict,
    ) -> None:
        self.lesson, self.typed = lesson, typed or {}
        self.number, self.open_faults = number, open_faults

    # Each is read once and passed on to pad, grade lines and summaries: a tap waits for every query. None is read for
    # a section that was drawn before. Django's property and not that of functools, which in Python 3.11 holds one lock
    # for all objects while it computes.
    @cached_property
    def attempts(self) -> list[Attempt]:
        return load_attempts(self.lesson)

    @cached_property
    def circuits(self) -> list[Circuit]:
        return list(self.lesson.circuits.order_by("number"))

    @cached_property
    def grading_context(self) -> GradingContext:
        return load_grading_context(self.lesson)

    @cached_property
    def pad_maker(self) -> PadMaker:
        return PadMaker(self.lesson, self.grading_context, self.typed)

    @cached_property
    def circuit_maker(self) -> CircuitPadMaker:
        return CircuitPadMaker(self.lesson, self.pad_maker, self.circuits, self.attempts, self.open_faults)

    @property
    def work_context(self) -> dict[str, Any]:
        """Return what is written in the air: circuits, pad, grades."""
        return {
            "lesson": self.lesson,
            "pad": self.pad,
            "lines": self.lines(self.grade_lines),
            "others": self.other_manoeuvres,
            "pad_tools": PAD_TOOLS,
            "usual_kind": usual_landing_kind(self.lesson, None),
            "columns": self.circuit_maker.columns() if self.pad else [],
            "noted": circuit_entries_json(self.circuits, self.attempts, self.grading_context),
            "missing": missing_before_signing(self.lesson, self.grade_lines),
            "undo": self.undo,
        }

    @property
    def hours_context(self) -> dict[str, Any]:
        """Return the details as they were typed, and what is counted where they are empty."""
        return {**self.details_context, "counted": self.counted, "block_hours": self.block_hours}

    @property
    def details_context(self) -> dict[str, Any]:
        return {
            "lesson": self.lesson,
            "details": {
                name: self.typed.get(f"lesson.{name}", detail_text(self.lesson, name))
                for name in lesson_details.DETAIL_PARSERS
            },
        }

    def after_tap(self, fields: Iterable[str]) -> dict[str, Any]:
        """Return what these entries can have changed, without the brief, so that a tap is answered quickly."""
        fields = set(fields)
        context: dict[str, Any] = {"lesson": self.lesson, "flies_circuits": self.lesson.unit.flies_circuits}
        # None means every line: in another wind each proposal that rests on a number may differ.
        touched = (
            None if fields & TARGET_FIELDS else {code for field in fields if (code := self._manoeuvre_code(field))}
        )
        # Closing a circuit may give a level to each of its parts.
        if touched is not None and any(field.endswith(".closed") for field in fields):
            touched |= CIRCUIT_PART_CODES
        context["changed"] = [line for line in self.grade_lines if touched is None or line.manoeuvre.code in touched]
        prefixes = sorted(set(filter(None, map(_attempt_prefix, fields))))
        # What a circuit says that is no longer on the pad has no place on the page.
        context["summaries"] = [self._attempt_summary(prefix) for prefix in prefixes if self._is_on_page(prefix)]
        if touched is None:
            context["summaries"] = self._pad_summaries()
        # The targets of today follow the wind: only then is the brief gathered, which a tap would else wait for.
        if fields & WIND_FIELDS:
            context |= {**self.brief_context, "with_wind": True}
        return context | self.signing_context

    @property
    def signing_context(self) -> dict[str, Any]:
        return {
            "missing": missing_before_signing(self.lesson, self.grade_lines),
            "undo": self.undo,
            "counted": self.counted,
            "block_hours": self.block_hours,
        }

    @property
    def counted(self) -> tuple[int, int]:
        """Return the takeoffs and landings that the circuits give."""
        return counts_from_endings([row.ending for row in self.circuits], [row.shown for row in self.circuits])

    @property
    def block_hours(self) -> tuple[str, int] | None:
        """Return as what and for how long the block time will count; None where hours are entered, or no times."""
        hours = {"dual": self.lesson.dual_minutes, "solo": self.lesson.solo_minutes}
        filled = dict(zip(hours, hours_with_block_time(self.lesson), strict=True))
        return next(((kind, filled[kind]) for kind in hours if filled[kind] != hours[kind]), None)

    @cached_property
    def grade_lines(self) -> list[GradeLine]:
        return grade_lines.grade_lines_for(self.lesson, self.attempts, self.grading_context)

    @property
    def other_manoeuvres(self) -> CachedFragment:
        """Return what the unit does not grade, the type can fly and nobody graded yet, with the keys of a level."""
        shown = {line.manoeuvre.code for line in self.grade_lines}
        shown |= CIRCUIT_PART_CODES if self.lesson.unit.flies_circuits else set()
        kind = self.lesson.aircraft.type if self.lesson.aircraft else self.lesson.enrolment.aircraft_type
        rows = tuple(
            (row.code, row.title)
            for row in manoeuvres_by_code(self.lesson.unit.stage.syllabus_id).values()
            if row.code not in shown and (kind.tailwheel or not row.tailwheel_only)
        )
        keys = self.pad_maker.level_keys("")
        return CachedFragment(("other manoeuvres", rows, keys), lambda: {"others": rows, "keys": keys})

    @property
    def undo(self) -> Tap | None:
        return last_tap(self.lesson)

    @cached_property
    def pad_number(self) -> int:
        """Return the circuit that the pad is for: the one requested, else the open one, else the next."""
        known = {circuit.number for circuit in self.circuits}
        return self.number if self.number is not None and self.number in known else next_number(self.circuits)

    @cached_property
    def pad(self) -> CircuitPad | None:
        return self.circuit_maker.pad(self.pad_number) if self.lesson.unit.flies_circuits else None

    def _pad_summaries(self) -> list[AttemptSummary]:
        if not self.lesson.unit.flies_circuits:
            return []
        prefixes = (f"circuit.{self.pad_number}.{part.value}" for part in Part)
        return [self._attempt_summary(prefix) for prefix in prefixes if self._is_graded(prefix)]

    def _is_on_page(self, prefix: str) -> bool:
        return not prefix.startswith("circuit.") or prefix.startswith(f"circuit.{self.pad_number}.")

    def _is_graded(self, prefix: str) -> bool:
        return not prefix.endswith(Part.DOWNWIND.value) or self.pad_maker.grades_downwind

    def _attempt(self, prefix: str) -> Attempt | None:
        match prefix.split("."):
            case ["circuit", number, part]:
                return next(
                    (
                        row
                        for row in self.attempts
                        if row.circuit and str(row.circuit.number) == number and row.part == part
                    ),
                    None,
                )
            case ["manoeuvre", code]:
                alone = (row for row in self.attempts if row.circuit_id is None and row.manoeuvre.code == code)
                return next(alone, None)
        return None

    def _manoeuvre_code(self, field: str) -> str | None:
        """Return the manoeuvre whose grade an entry can change."""
        if field.startswith("grade."):
            return field.removeprefix("grade.")
        prefix = _attempt_prefix(field)
        attempt = self._attempt(prefix) if prefix else None
        return attempt.manoeuvre.code if attempt else None

    def _attempt_summary(self, prefix: str) -> AttemptSummary:
        attempt = self._attempt(prefix)
        noted = attempt is not None and attempt.preloaded_measures  # without a number there is no hint to look for
        known = self.pad_maker.faults_of(attempt.manoeuvre.code) if attempt and noted else ()
        return AttemptSummary.of(prefix, attempt, self.grading_context, known)

    def circuit_line(self, circuit: Circuit) -> CircuitLine:
        flown = {row.part: row for row in self.attempts if row.circuit_id == circuit.pk}
        # A landing that was tried before a go-around is kept beside it.
        around = circuit.ending == Ending.GO_AROUND or Part.GO_AROUND in flown
        last = [Part.LANDING] if not around or Part.LANDING in flown else []
        last += [Part.GO_AROUND] if around else []
        parts = [self._part_line(part, flown.get(part)) for part in (*self.circuit_maker.flown_parts, *last)]
        remarks = []
        for row in flown.values():
            remarks += [seen.fault.name for seen in row.preloaded_faults]
            remarks += [f"not done: {seen.criterion.text}" for seen in row.preloaded_criteria if not seen.done]
            remarks += [self._measured_words(measure) for measure in row.preloaded_measures]
            remarks += [f"{row.part} kept as tapped: {row.kept}"] if row.kept else []
        remarks += ["shown by the instructor"] if circuit.shown else []
        remarks += [LandingKind(circuit.landing_kind).label] if circuit.landing_kind else []
        sentence = ". ".join(word[0].upper() + word[1:] for word in [*remarks, Ending(circuit.ending).label])
        return CircuitLine(circuit, parts, sentence + ".")

    def _measured_words(self, measure: Measure) -> str:
        return measured_deviation(measure, self.grading_context).words + track_words(measure)

    def _part_line(self, part: Part, attempt: Attempt | None) -> PartLine:
        return PartLine(part, attempt, tapped_step(attempt, self.grading_context.scale) if attempt else None)

    def lines(self, graded: list[GradeLine]) -> list[dict[str, Any]]:
        """Return grade lines with the keys to tap a manoeuvre flown by itself, or to change a proposal."""
        shown = []
        for line in graded:
            code = line.manoeuvre.code
            alone = None
            # A part of the circuit is tapped in its circuit and has no keys of its own here.
            if code not in CIRCUIT_PART_CODES or not self.lesson.unit.flies_circuits:
                alone = self.pad_maker.pad(f"manoeuvre.{code}", line.manoeuvre.title, code, line.own_attempt)
            keys = self.grading_context.scale.keys
            override = tuple(PadKey(step.code, step.label, step == line.override, step.level.value) for step in keys)
            shown.append({"line": line, "pad": alone, "override": override_keys(f"grade.{code}", override)})
        return shown

    @property
    def brief_context(self) -> dict[str, Any]:
        """Return wind, runways and the targets in this wind: what the brief shows again when one of them is entered."""
        return {
            "targets": [(row, self.pad_maker.measure("", row, None)) for row in self.pad_maker.targets],
            "runway_lines": runway_lines(self.lesson) if self.lesson.aircraft else [],
            "wind_references": WindReference.choices,
            "releases_in_force": self.releases_in_force,
            "release_status": self.release_status,
            **self.wind_context,
            "circuit_wind": self._wind_brief(),
            # Before the first circuit it is read, afterwards it would stand between the brief and the pad.
            "circuit_wind_open": not self.circuits,
        }

    @cached_property
    def releases_in_force(self) -> list[Release]:
        # All of them: which one a flight uses is not known before it.
        return all_releases_in_force(self._releases_given, self.lesson.on)

    @cached_property
    def release_status(self) -> ReleaseStatus | None:
        return release_status(self._releases_given, self.lesson.on)

    @cached_property
    def _releases_given(self) -> list[Release]:
        return releases_given(self.lesson.enrolment)

    @cached_property
    def wind_context(self) -> dict[str, Any]:
        return wind_context(self.lesson, self.releases_in_force)

    def _wind_brief(self) -> WindBrief | None:
        """Return what the wind does to the circuit; None where none is flown."""
        flown = self.lesson.type_flown
        if flown is None or not self.lesson.unit.flies_circuits:
            return None
        wind = lesson_wind(self.lesson)
        stall_kt, units = flown.stall_landing_kt, self.grading_context.units
        return wind_brief(self.pad_maker.gate_set, stall_kt, self.lesson.runway, wind, units)

    @property
    def asked(self) -> str:
        """Return what the last lesson asked of this one."""
        return self.previous_lesson.next_time if self.previous_lesson else ""

    @cached_property
    def previous_lesson(self) -> Lesson | None:
        earlier = Lesson.objects.filter(enrolment=self.lesson.enrolment_id, number__lt=self.lesson.number)
        # Signed lessons only: a remark for the next lesson may still change until then.
        return earlier.signed().newest_first().first()


def override_keys(field: str, keys: tuple[PadKey, ...]) -> CachedFragment:
    """Return the keys that give another grade than the one proposed."""
    return CachedFragment(("override", field, keys), lambda: {"field": field, "keys": keys})


def is_outside_unit(lesson: Lesson, field: str) -> bool:
    """Return whether an entry is of a manoeuvre that the unit does not grade, and so may bring a line of its own."""
    match field.split("."):
        case ["circuit", _, code, _, *_] | ["manoeuvre", code, *_] | ["grade", code]:
            return code not in {row.manoeuvre.code for row in unit_manoeuvres(lesson.unit_id)}
    return False


def _attempt_prefix(field: str) -> str | None:
    """Return 'circuit.5.landing' for 'circuit.5.landing.level', and None for a field that is not of one attempt."""
    match field.split("."):
        case ["circuit", number, part, _, *_]:
            return f"circuit.{number}.{part}"
        case ["manoeuvre", code, _, *_]:
            return f"manoeuvre.{code}"
    return None
