"""Prepare the keys of one attempt on the lesson page: levels, help, criteria, faults, numbers."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from django.utils.functional import cached_property

from grading.models import Attempt, Measure
from grading.pages.gate_numbers import MeasureEntry, measure_entry, measure_input
from grading.pages.pad_keys import CRITERION_VALUES, HELP_WORDS, CriterionEntry, FaultEntry, PadKey
from grading.reading.grade_lines import GradingContext, measured_deviation
from grading.rules.marking import Deviation, ToleranceBand
from lessons.models import Criterion, Fault, GateSet, Lesson
from lessons.models.published_values import PublishedCriterion, PublishedFault, PublishedTarget
from lessons.published_content import faults_by_manoeuvre, gate_targets, manoeuvres_by_code, syllabus_criteria
from lessons.rules.gear import Gear
from lessons.rules.scale import PART_BY_GATE_PHASE, Help, Part
from school.formats import write_number
from school.fragment_cache import CachedFragment


@dataclass(frozen=True)
class MeasureReading:
    """A number as entered, with its deviation from the target. `counts_from`: the unit from which it will count.

    track: of a number from a flight track, that it is one and how far it may be off, in words.
    """

    deviation: Deviation
    counts_from: int | None
    track: str = ""

    @property
    def words(self) -> str:
        later = f" (counts from unit {self.counts_from})" if self.counts_from else ""
        return self.deviation.words + later + self.track

    @property
    def scale(self) -> tuple[float, float, float]:
        """Return the deviation and its tolerances above and below, in the unit of the target, as a mark shows them."""
        target = self.deviation.target
        return float(self.deviation.amount), float(target.over), float(target.under)


def track_words(measure: Measure) -> str:
    """Return ' (from a track, ±65 ft)', in the unit in which it was entered; nothing for a number that was seen."""
    if measure.uncertainty is None:
        return ""
    unit = "°" if measure.effective_unit == "deg" else f" {measure.effective_unit}"
    return f" (from a track, ±{write_number(measure.uncertainty)}{unit})"


@dataclass(frozen=True)
class AttemptSummary:
    """What is shown under the keys of an attempt: its numbers, its faults with their cure, what was not done.

    `hints`: faults that the numbers point to and nobody has tapped. They are never recorded by themselves.
    """

    id: str
    noted: list[MeasureReading]
    faults: list[Fault]
    not_done: list[str]
    hints: list[PublishedFault]

    @classmethod
    def of(
        cls, prefix: str, attempt: Attempt | None, grading_context: GradingContext, known: Iterable[PublishedFault] = ()
    ) -> "AttemptSummary":
        """Summarise an attempt. `known`: the faults of its manoeuvre."""
        if attempt is None:
            return cls(prefix.replace(".", "-"), [], [], [], [])
        measures = sorted(attempt.preloaded_measures, key=lambda row: (row.target.gate.order, row.target_id))
        seen = [row.fault for row in attempt.preloaded_faults]
        # By key: `known` has values of published content, `seen` instances.
        tapped = {fault.pk for fault in seen}
        # A number alone does not say what happened: it points to a fault, and an instructor who saw it taps it.
        pointed = {sign for row in measures if (sign := deviation_sign(row, grading_context))}
        return cls(
            prefix.replace(".", "-"),
            [
                MeasureReading(
                    measured_deviation(row, grading_context),
                    grading_context.counts_from(attempt.manoeuvre_id, row.target),
                    track_words(row),
                )
                for row in measures
            ],
            seen,
            [row.criterion.text for row in attempt.preloaded_criteria if not row.done],
            [fault for fault in known if fault.pk not in tapped and pointed & set(fault.signs)],
        )


def deviation_sign(measure: Measure, grading_context: GradingContext) -> str:
    """Return the sign of a number outside its tolerance, such as 'final.speed.over', and '' for one inside."""
    deviation = measured_deviation(measure, grading_context)
    if deviation.place is ToleranceBand.INSIDE:
        return ""
    side = "over" if deviation.amount > 0 else "under"
    return f"{measure.target.gate.code}.{measure.target.quantity}.{side}"


@dataclass(frozen=True)
class Pad:
    """The keys for one attempt at a manoeuvre by itself; those of a part of a circuit are in circuit_pad.py."""

    prefix: str
    title: str
    levels: tuple[PadKey, ...]
    helps: tuple[PadKey, ...]
    criteria: tuple[CriterionEntry, ...]
    faults: tuple[FaultEntry, ...]

    @property
    def id(self) -> str:
        return self.prefix.replace(".", "-")

    @property
    def faults_seen(self) -> int:
        return sum(entry.seen for entry in self.faults)

    @property
    def criteria_seen(self) -> int:
        return sum(any(key.chosen for key in entry.keys) for entry in self.criteria)

    @property
    def fragment(self) -> CachedFragment:
        """Return the part of the page for grading/_attempt_pad.html, which is given this pad and nothing else."""
        # The pad is its own key: a frozen value with everything that its template shows.
        return CachedFragment(("pad", self), lambda: {"keys": self})


@dataclass(frozen=True)
class AttemptPad:
    """The keys for one attempt, and the summary under them."""

    keys: Pad
    summary: AttemptSummary


class PadMaker:
    """Makes the pads of one lesson; what the syllabus and the gates offer is read once, when it is first needed.

    `typed`: the fields of a form that was refused, which are shown as they were sent until they are corrected.
    """

    def __init__(self, lesson: Lesson, grading_context: GradingContext, typed: Mapping[str, str] | None = None) -> None:
        self.lesson, self.grading_context = lesson, grading_context
        self.typed = typed or {}

    @cached_property
    def gate_set(self) -> GateSet | None:
        """Return the gates in force on the day of the lesson: it stays with those that it was flown under."""
        if self.lesson.aircraft is None:
            return None
        return GateSet.objects.in_force(self.lesson.on).filter(aircraft_type=self.lesson.aircraft.type_id).first()

    @cached_property
    def targets(self) -> list[PublishedTarget]:
        return list(gate_targets(self.gate_set.pk)) if self.gate_set else []

    def faults_of(self, code: str) -> tuple[PublishedFault, ...]:
        """Return the faults of a manoeuvre that the type flown can show."""
        return tuple(row for row in self._all_faults(code) if self._fits(row))

    def _all_faults(self, code: str) -> tuple[PublishedFault, ...]:
        return faults_by_manoeuvre(self.lesson.unit.stage.syllabus_id).get(code, ())

    def _fits(self, row: PublishedFault | PublishedCriterion) -> bool:
        # Before an aircraft is chosen, the type of the enrolment says what can be flown.
        kind = self.lesson.aircraft.type if self.lesson.aircraft else self.lesson.enrolment.aircraft_type
        return Gear(row.gear).fits(tailwheel=kind.tailwheel, retractable=kind.retractable)

    @cached_property
    def criteria(self) -> dict[str, list[PublishedCriterion]]:
        """Return the observed criteria that count in this unit already, by code of the manoeuvre."""
        grouped: dict[str, list[PublishedCriterion]] = defaultdict(list)
        for row in syllabus_criteria(self.lesson.unit.stage.syllabus_id):
            # What counts from a later unit is not asked yet; measured criteria are entered as numbers.
            if row.kind == Criterion.Kind.OBSERVED and (row.from_unit or 0) <= self.lesson.unit.number:
                grouped[row.manoeuvre.code].append(row)
        return grouped

    @cached_property
    def grades_downwind(self) -> bool:
        return Part.DOWNWIND.value in manoeuvres_by_code(self.lesson.unit.stage.syllabus_id)

    def targets_under(self, part: Part) -> list[PublishedTarget]:
        return [row for row in self.targets if self._part_of(row) is part]

    def _part_of(self, target: PublishedTarget) -> Part:
        part = PART_BY_GATE_PHASE[target.gate.phase]
        return Part.APPROACH if part is Part.DOWNWIND and not self.grades_downwind else part

    def pad(self, prefix: str, title: str, code: str, attempt: Attempt | None) -> AttemptPad:
        # What was refused goes before what is stored, so that nothing typed is lost.
        tapped = self.typed.get(f"{prefix}.level", attempt.tapped if attempt else "")
        help_ = self.typed.get(f"{prefix}.help", attempt.help if attempt else Help.NONE)
        keys = Pad(
            prefix=prefix,
            title=title,
            levels=self.level_keys(tapped),
            helps=tuple(PadKey(word.value, HELP_WORDS[word], word == help_) for word in Help),
            criteria=tuple(self.criterion_entries(prefix, code, attempt)),
            faults=tuple(self.fault_entries(prefix, code, attempt)),
        )
        return AttemptPad(keys, AttemptSummary.of(prefix, attempt, self.grading_context, self.faults_of(code)))

    def level_keys(self, tapped: str) -> tuple[PadKey, ...]:
        steps = self.grading_context.scale.keys
        return tuple(PadKey(step.code, step.label, step.code == tapped, step.level.value) for step in steps)

    def fault_entries(self, prefix: str, code: str, attempt: Attempt | None) -> Iterator[FaultEntry]:
        seen = {row.fault_id for row in attempt.preloaded_faults} if attempt else set()
        for row in self._all_faults(code):
            # Shown where it was tapped all the same: what was seen is in the record, whatever the type.
            if not self._fits(row) and row.pk not in seen:
                continue
            field = f"{prefix}.fault.{row.code}"
            seen_here = self._is_on(field, row.pk in seen)
            yield FaultEntry(field, row.code, row.name, row.critical, seen_here, row.cause, row.cure, row.signs)

    def _is_on(self, field: str, before: bool) -> bool:
        return self.typed[field] == "on" if field in self.typed else before

    def criterion_entries(self, prefix: str, code: str, attempt: Attempt | None) -> Iterator[CriterionEntry]:
        seen = {row.criterion_id: row.done for row in attempt.preloaded_criteria} if attempt else {}
        for row in self.criteria.get(code, []):
            if not self._fits(row) and row.pk not in seen:
                continue
            field, before = f"{prefix}.criterion.{row.code}", CRITERION_VALUES[seen.get(row.pk)]
            value_shown = self.typed.get(field, before)
            words = (("done", "Done"), ("not_done", "Not done"))
            keys = tuple(PadKey(value, label, value_shown == value) for value, label in words)
            yield CriterionEntry(field, row.text, keys)

    def measure(self, prefix: str, row: PublishedTarget, attempt: Attempt | None) -> MeasureEntry:
        noted = next((m for m in attempt.preloaded_measures if m.target_id == row.pk), None) if attempt else None
        field = f"{prefix}.measure.{row.gate.code}.{row.quantity}" if prefix else ""
        unit = self.grading_context.units.unit_for(row.unit)
        value = self.typed.get(field, measure_input(noted, unit) if noted else "")
        return measure_entry(field, row, value, self.grading_context, self._counts_from(prefix, row))

    def _counts_from(self, prefix: str, row: PublishedTarget) -> int | None:
        manoeuvre = manoeuvres_by_code(self.lesson.unit.stage.syllabus_id).get(prefix.rpartition(".")[2])
        return self.grading_context.counts_from(manoeuvre.pk, row) if manoeuvre else None
