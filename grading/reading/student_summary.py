"""This module reads what the board, readiness and own progress show, in a fixed number of queries."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

# Not functools.cached_property: in Python 3.11 it holds one lock for all objects while it computes, and a page that
# waits for the database with it would stop all others.
from django.utils.functional import cached_property

from grading.models import Release
from grading.reading.course_progress import courses_by_enrolment
from grading.reading.facts import (
    FactRows,
    load_facts_and_rows,
    releases_by_day,
    releases_in_force,
    standard_in_force,
)
from grading.reading.release_status import ReleaseStatus, headline_with_verdict, release_status
from grading.rules.in_force import is_withdrawn_by
from grading.rules.inspection.finding import ENDORSEMENT_DAYS
from grading.rules.readiness import Facts, Outcome, StandardSpec, State, Verdict, assess
from grading.rules.readiness.checks.parts import PartProgress, progress_by_part
from grading.rules.readiness.facts import COUNTED_PARTS, CircuitFact
from grading.rules.readiness.history import FlownAttempt, History
from grading.rules.readiness.relapse import find_slips
from grading.rules.readiness.wording import describe_days_ago
from lessons.models import Endorsement, Enrolment
from lessons.queries import Course
from lessons.rules.scale import Ending
from lessons.rules.units import KNOTS_AND_FEET, DisplayUnits
from school import marks
from school.current import get_school, school_zone
from school.days import day_of_optional

# The project's own choices for what the board shows; no requirement rests on them.
CIRCUITS_IN_STRIP = 10  # as many as the usual rule looks at
CLOSE_REQUIREMENTS = 2
LESSONS_WITHOUT_PROGRESS = 3


@dataclass(frozen=True)
class StudentSummary:
    """One student on a day: course, verdict, circuits, release; `read`: the rows that were read for it."""

    enrolment: Enrolment
    course: Course
    verdict: Verdict
    history: History
    release: Release | None
    on: date
    standard: StandardSpec
    read: FactRows
    units: DisplayUnits = KNOTS_AND_FEET
    status: ReleaseStatus | None = None  # of the release by day; None before the first

    @property
    def headline(self) -> str:
        """Return where the release is in its life and how many requirements are met, in one sentence."""
        return headline_with_verdict(self.status, self.verdict)

    @property
    def progress(self) -> dict[str, PartProgress]:
        """Return how far each part of the circuit is that the standard asks for, in the order flown."""
        return progress_by_part(self.history)

    @cached_property
    def slips(self) -> dict[str, FlownAttempt]:
        """Return the parts of the circuit that were at standard and no longer are."""
        return find_slips(self.history)

    @property
    def endorsement_gap(self) -> str:
        """Return what is missing of the endorsement for solo in the type, in words; empty where it holds."""
        given = [
            row.given_on
            for row in self.read.endorsements
            if row.kind == Endorsement.Kind.PRE_SOLO_TRAINING
            and row.aircraft_type_id == self.enrolment.aircraft_type_id
            and not is_withdrawn_by(day_of_optional(row.withdrawn_at, school_zone()), self.on)
            and row.given_on <= self.on
        ]
        if not given:
            return "Endorsement for solo missing"
        # 14 CFR 61.87(n), (p)(4); under other rules the school's own days.
        old = (self.on - max(given)).days > ENDORSEMENT_DAYS
        return f"Endorsement for solo more than {ENDORSEMENT_DAYS} days old" if old else ""

    @property
    def is_endorsed(self) -> bool:
        """Return whether a release could rest on an endorsement of today."""
        return not self.endorsement_gap

    @property
    def is_close(self) -> bool:
        """Return whether the student is not ready and little is missing."""
        return 0 < len(self.verdict.unmet) <= CLOSE_REQUIREMENTS

    @cached_property
    def is_stuck(self) -> bool:
        """Return whether the last three flown lessons met no further requirement and brought none nearer."""
        flown = [lesson for lesson in self.history.lessons if lesson.circuits]
        if self.verdict.ready or len(flown) <= LESSONS_WITHOUT_PROGRESS:
            return False
        # By the standard of today on both days, so that only flying can make the difference.
        before = assess(self.history.facts, self.standard, flown[-LESSONS_WITHOUT_PROGRESS - 1].on)
        return _progress_score(self.verdict) <= _progress_score(before)

    @property
    def last_flown(self) -> date | None:
        flown = [lesson.on for lesson in self.history.lessons if lesson.aircraft_type]
        return flown[-1] if flown else None

    @property
    def last_flown_words(self) -> str:
        return last_flown_words(self.last_flown, self.on)

    @property
    def strip_words(self) -> str:
        count = len(self.history.circuits[-CIRCUITS_IN_STRIP:])
        parts = ", ".join(f"{part} {progress.words}" for part, progress in self.progress.items())
        return f"Last {count} circuits; to standard: {parts}"

    @property
    def lapsed_papers(self) -> list[Outcome]:
        """Return the expired papers that keep this student from flying solo."""
        return [row for row in self.verdict.unmet if row.group == "papers" and row.state is State.LAPSED]

    @property
    def group(self) -> str:
        return student_group(
            released=self.release is not None, ready=self.verdict.ready, waits_for_paper=bool(self.lapsed_papers)
        )

    @property
    def open_words(self) -> str:
        """Return what is open in words, the nearest first."""
        if self.lapsed_papers:
            return ". ".join(row.sentence for row in self.lapsed_papers) + "."
        unmet = self.verdict.unmet
        if not unmet:
            return self.verdict.headline
        close = sorted(unmet, key=lambda row: (row.group != "standard", -(row.done or 0)))[:3]
        return f"{len(unmet)} of {len(self.verdict.requirements)} open. " + "; ".join(r.sentence for r in close) + "."


def student_group(*, released: bool, ready: bool, waits_for_paper: bool) -> str:
    """Return the group of the board in which a student is shown: who acts next."""
    if released:
        return "released"
    if ready:
        return "decision"
    return "paper" if waits_for_paper else "before"


def last_flown_words(last_flown: date | None, on: date) -> str:
    """Return how long ago a student flew last, in words."""
    return "not flown yet" if last_flown is None else describe_days_ago((on - last_flown).days)


def _progress_score(verdict: Verdict) -> tuple[int, int]:
    """Return the progress that flying brings: papers and days do not count."""
    flown = [outcome for outcome in verdict.requirements if outcome.group in ("training", "standard")]
    met = sum(outcome.state.counts for outcome in flown)
    # Up to what is needed: more of what is already met brings nobody nearer.
    return met, sum(min(outcome.done or 0, outcome.needed or 0) for outcome in flown)


def summarise_students(
    enrolments: Sequence[Enrolment], on: date, releases: Mapping[int, Release] | None = None
) -> list[StudentSummary]:
    """Return one summary a student, in the order given. The number of queries is fixed.

    `releases`: those in force by enrolment, where the caller has read them.
    """
    school = get_school()
    standard, units = standard_in_force(school, on), DisplayUnits(school.speed_unit, school.length_unit)
    read = load_facts_and_rows(enrolments, on)
    flown = {pk: {lesson.unit_id for lesson in rows.lessons} for pk, (_, rows) in read.items()}
    course = courses_by_enrolment(enrolments, on, flown)
    if releases is None:
        releases = releases_in_force(enrolments, on)
    given = releases_by_day(enrolments)
    return [
        _summarise(
            enrolment,
            *read[enrolment.pk],
            course[enrolment.pk],
            standard,
            releases.get(enrolment.pk),
            on,
            units,
            release_status(given[enrolment.pk], on),
        )
        for enrolment in enrolments
    ]


def _summarise(
    enrolment: Enrolment,
    facts: Facts,
    read: FactRows,
    course: Course,
    standard: StandardSpec,
    release: Release | None,
    on: date,
    units: DisplayUnits,
    status: ReleaseStatus | None,
) -> StudentSummary:
    verdict, history = assess(facts, standard, on), History.from_facts(facts, standard, on)
    return StudentSummary(enrolment, course, verdict, history, release, on, standard, read, units, status)


def circuit_marks(circuit: CircuitFact) -> marks.CircuitMarks:
    """Return a circuit of the engine as marks, each part as it counts; a go-around is where no landing was tried."""
    parts = {
        name: marks.PartGrade(attempt.counted.value, attempt.help.value)
        for name in COUNTED_PARTS
        if (attempt := getattr(circuit, name)) is not None
    }
    if circuit.ending is Ending.GO_AROUND and "landing" not in parts:
        parts["landing"] = marks.PartGrade("go_around")
    return marks.CircuitMarks(circuit.number, parts)
