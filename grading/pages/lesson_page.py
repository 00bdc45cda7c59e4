"""What the lesson page shows, gathered once: the brief, the circuits, the pad, the grades, what is missing."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.functional import cached_property

from grading.actions import details
from grading.actions.recording import last_tap
from grading.actions.signing import counted_of, missing_before_signing
from grading.models import Attempt, Tap
from grading.pages.brief import runway_lines, wind_and_runway
from grading.pages.contact import noted_in_circuits
from grading.pages.pads import AttemptPad, Key, PadMaker, Said
from grading.reading import grade_lines
from grading.reading.facts import standing_releases
from grading.reading.grade_lines import GradeLine, attempts_of, deviation_of, ruler_of, step_of
from lessons.models import Circuit, Lesson, WindReference
from lessons.rules.scale import Ending, Part, Step

CODES_OF_CIRCUIT = {part.value for part in Part}
# What changes the target of a gate, and so every proposal that rests on a number.
CHANGES_TARGETS = {f"lesson.{name}" for name in ("aircraft", "wind_speed_kt", "wind_gust_kt", "weather_report")}
CHANGES_WIND = CHANGES_TARGETS | {"lesson.runway", "lesson.wind_direction", "lesson.wind_reference"}


@dataclass(frozen=True)
class PartLine:
    """One part of a closed circuit: the step tapped, None for none."""

    part: Part
    attempt: Attempt | None
    step: Step | None


@dataclass(frozen=True)
class CircuitLine:
    circuit: Circuit
    parts: list[PartLine]
    said: str


@dataclass(frozen=True)
class CircuitPad:
    """The pad of one circuit. `other`: the part it has instead, were it to end otherwise (go-around or landing)."""

    number: int
    ending: str
    endings: list[Key]
    parts: list[AttemptPad]
    other: AttemptPad


class LessonPage:
    """Context of the page and of its fragments; each part is gathered when first asked for.

    `typed`: the fields of a form that was refused, by name.
    """

    def __init__(self, lesson: Lesson, number: int | None = None, typed: Mapping[str, str] | None = None) -> None:
        self.lesson, self.typed = lesson, typed or {}
        self.attempts = attempts_of(lesson)
        self.circuits = list(lesson.circuits.order_by("number"))
        self.ruler = ruler_of(lesson)
        self.maker = PadMaker(lesson, self.ruler, self.typed)
        self.pad_number = self._pad_number(number)

    def context(self) -> dict[str, Any]:
        return {
            "lesson": self.lesson,
            "pad": self.pad,
            "lines": self.lines(self.graded),
            "closed": self.closed,
            "noted": noted_in_circuits(self.circuits, self.attempts, self.ruler),
            "details": {
                name: self.typed.get(f"lesson.{name}", details.as_typed(self.lesson, name)) for name in details.READERS
            },
            **self.standing_after,
            "asked": self.previous.next_time if self.previous else "",
            **self.wind_box,
        }

    def after_tap(self, fields: Iterable[str]) -> dict[str, Any]:
        """What these entries can have changed: gathered without the brief, so that a tap is answered quickly."""
        fields = set(fields)
        context: dict[str, Any] = {"lesson": self.lesson, "flies_circuits": self.lesson.unit.flies_circuits}
        touched = None if fields & CHANGES_TARGETS else {code for field in fields if (code := self._code(field))}
        context["changed"] = [line for line in self.graded if touched is None or line.manoeuvre.code in touched]
        context["said"] = [self._said(prefix) for prefix in sorted(set(filter(None, map(_prefix, fields))))]
        if touched is None:
            context["said"] = [pad.said for pad in self.pad.parts] if self.pad else []
        if fields & CHANGES_WIND:
            context |= {**self.wind_box, "with_wind": True}
        return context | self.standing_after

    @property
    def standing_after(self) -> dict[str, Any]:
        return {
            "missing": missing_before_signing(self.lesson, self.graded),
            "undo": self.undo,
            "counted": counted_of([circuit.ending for circuit in self.circuits]),
        }

    @cached_property
    def graded(self) -> list[GradeLine]:
        return grade_lines.for_lesson(self.lesson, self.attempts, self.ruler)

    @property
    def undo(self) -> Tap | None:
        return last_tap(self.lesson)

    def _pad_number(self, number: int | None) -> int:
        """The circuit the pad is for: the one asked for, else the open one, else the next."""
        numbers = {circuit.number for circuit in self.circuits}
        if number in numbers:
            return number
        open_ones = [circuit.number for circuit in self.circuits if not circuit.closed]
        return open_ones[0] if open_ones else len(self.circuits) + 1

    @cached_property
    def pad(self) -> CircuitPad | None:
        if not self.lesson.unit.flies_circuits:
            return None
        circuit = next((row for row in self.circuits if row.number == self.pad_number), None)
        ending = circuit.ending if circuit else self.lesson.unit.ending
        last, other = Part.LANDING, Part.GO_AROUND
        if ending == Ending.GO_AROUND:
            last, other = other, last
        return CircuitPad(
            number=self.pad_number,
            ending=ending,
            endings=[Key(word.value, word.label.capitalize(), word.value == ending) for word in Ending],
            parts=[self.part_pad(part) for part in (Part.TAKEOFF, Part.APPROACH, last)],
            other=self.part_pad(other),
        )

    def part_pad(self, part: Part) -> AttemptPad:
        prefix = f"circuit.{self.pad_number}.{part.value}"
        return self.maker.pad(prefix, part.label, part.value, self._attempt(prefix), self.maker.measured_under(part))

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

    def _code(self, field: str) -> str | None:
        """The manoeuvre whose grade an entry can change."""
        if field.startswith("grade."):
            return field.removeprefix("grade.")
        prefix = _prefix(field)
        attempt = self._attempt(prefix) if prefix else None
        return attempt.manoeuvre.code if attempt else None

    def _said(self, prefix: str) -> Said:
        attempt = self._attempt(prefix)
        noted = attempt is not None and attempt.its_measures  # without a number there is no hint to look for
        known = self.maker.faults.get(attempt.manoeuvre.code, ()) if attempt and noted else []
        return Said.of(prefix, attempt, self.ruler, known)

    @property
    def closed(self) -> list[CircuitLine]:
        return [self.circuit_line(circuit) for circuit in self.circuits if circuit.number != self.pad_number]

    def circuit_line(self, circuit: Circuit) -> CircuitLine:
        flown = {row.part: row for row in self.attempts if row.circuit_id == circuit.pk}
        last = Part.GO_AROUND if circuit.ending == Ending.GO_AROUND else Part.LANDING
        parts = [self._part_line(part, flown.get(part)) for part in (Part.TAKEOFF, Part.APPROACH, last)]
        said = []
        for row in flown.values():
            said += [seen.fault.name for seen in row.its_faults]
            said += [f"not done: {seen.criterion.text}" for seen in row.its_criteria if not seen.done]
            said += [deviation_of(measure, self.ruler).words for measure in row.its_measures]
        sentence = ". ".join(word[0].upper() + word[1:] for word in [*said, Ending(circuit.ending).label])
        return CircuitLine(circuit, parts, sentence + ".")

    def _part_line(self, part: Part, attempt: Attempt | None) -> PartLine:
        return PartLine(part, attempt, step_of(attempt, self.ruler.scale) if attempt else None)

    def lines(self, graded: list[GradeLine]) -> list[dict[str, Any]]:
        """Grade lines with the keys to tap a manoeuvre flown by itself, or to change a proposal."""
        shown = []
        for line in graded:
            code = line.manoeuvre.code
            alone = None
            if code not in CODES_OF_CIRCUIT or not self.lesson.unit.flies_circuits:
                alone = self.maker.pad(f"manoeuvre.{code}", line.manoeuvre.title, code, line.own_attempt, [])
            keys = self.ruler.scale.keys
            override = [Key(step.code, step.label, step == line.override, step.level.value) for step in keys]
            shown.append({"line": line, "pad": alone, "override": override, "field": f"grade.{code}"})
        return shown

    @property
    def wind_box(self) -> dict[str, Any]:
        """Wind, runways and the targets in this wind: what the brief shows anew when one of them is entered."""
        releases = standing_releases(self.lesson.enrolment, self.lesson.on)
        return {
            "targets": [(row, self.maker.measure("", row, None)) for row in self.maker.targets],
            "runway_lines": runway_lines(self.lesson) if self.lesson.aircraft else [],
            "wind_references": WindReference.choices,
            "releases_in_force": releases,
            **wind_and_runway(self.lesson, releases),
        }

    @cached_property
    def previous(self) -> Lesson | None:
        earlier = Lesson.objects.filter(enrolment=self.lesson.enrolment_id, number__lt=self.lesson.number)
        return earlier.signed().newest_first().first()


def _prefix(field: str) -> str | None:
    """'circuit.5.landing' of 'circuit.5.landing.level'; None for what is not of one attempt."""
    match field.split("."):
        case ["circuit", number, part, _, *_]:
            return f"circuit.{number}.{part}"
        case ["manoeuvre", code, _, *_]:
            return f"manoeuvre.{code}"
    return None
