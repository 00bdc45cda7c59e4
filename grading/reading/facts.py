"""This module is the only bridge from the database to the readiness engine: facts, in a fixed number of queries."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, tzinfo
from functools import lru_cache
from typing import Any

from django.contrib.postgres.aggregates import ArrayAgg
from django.db.models import F, Q, Subquery, Value
from django.db.models.fields.json import KT
from django.db.models.functions import Coalesce, JSONObject

from grading.models import Attempt, CriterionSeen, Measure, Release, SetAside, Standard
from grading.reading import fact_mapping
from grading.reading.earlier_evidence import evidence_decisions, map_brought_forward
from grading.reading.grade_lines import GradingContext, measured_deviation, numbers_of_later_units
from grading.rules import readiness
from grading.rules.in_force import is_withdrawn_by
from grading.rules.readiness import facts as fact
from grading.rules.readiness.json_format import standard_from_json
from lessons import published_content
from lessons.conditions import lesson_gusts
from lessons.models import Circuit, Endorsement, Enrolment, KnowledgeTest, Lesson
from lessons.rules.scale import Help, Level
from school.current import school_zone
from school.days import day_of_optional, end_of
from school.errors import Refusal
from school.formats import write_day
from school.models import JournalEntry, Paper, School


def standard_in_force(school: School, on: date) -> readiness.StandardSpec:
    """Return the standard of a day, of the rule set at the end of that day. One query. Raises Refusal without one."""
    rule_set = Coalesce(_rule_set_changed_later(school, on), Value(school.rule_set))
    key = Standard.objects.in_force(rule_set=rule_set, on=on).values_list("pk", flat=True).first()
    if key is None:
        raise Refusal(f"No standard for first solo is in force on {write_day(on)}: load one first.")
    return _standard(key)


def _rule_set_changed_later(school: School, on: date) -> Subquery:
    """Select the rule set that the first change after a day replaced, which was in force on it; NULL without one."""
    # From the journal, which is final and gets its entry in the transaction of the change.
    later = JournalEntry.objects.about(school).filter(at__gte=end_of(on, school.zone), before__has_key="rule_set")
    return Subquery(later.order_by("at", "pk").annotate(was=KT("before__rule_set")).values("was")[:1])


# Keyed by the primary key: a new standard is a new row, and triggers refuse to change a published one.
@published_content.cleared_with_these
@lru_cache(maxsize=64)
def _standard(key: int) -> readiness.StandardSpec:
    """Return a standard as the engine reads it; the database lets none change, so each is read once a process."""
    return standard_from_json(Standard.objects.get(pk=key).content)


def facts_for(enrolment: Enrolment, on: date) -> readiness.Facts:
    return facts_for_all([enrolment], on)[enrolment.pk]


def facts_for_all(enrolments: Sequence[Enrolment], on: date) -> dict[int, readiness.Facts]:
    """Return the facts of each enrolment as of a day, by its primary key. Ten queries, however many enrolments."""
    return {pk: facts for pk, (facts, _) in load_facts_and_rows(enrolments, on).items()}


@dataclass(frozen=True)
class FactRows:
    """The rows behind one student's facts, for the pages that show them.

    tests: every written test; lessons: the version of each that counted on the day, in order; measures: by lesson, each
    with `circuit`, the number of its circuit or None.
    """

    tests: list[KnowledgeTest]
    endorsements: list[Endorsement]
    lessons: list[Lesson]
    measures: dict[int, list[Measure]]


def load_facts_and_rows(enrolments: Sequence[Enrolment], on: date) -> dict[int, tuple[readiness.Facts, FactRows]]:
    """Return the facts of each enrolment and the rows behind them, by its primary key. Ten queries."""
    zone = school_zone()
    papers = papers_by_student(enrolments, zone)
    # Read without the day, because pages show every row: what was not known on the day is left out of the facts below.
    written = KnowledgeTest.objects.select_related("unit", "aircraft_type", "given_by")
    tests = _group_by_enrolment(written, enrolments)
    endorsements = _group_by_enrolment(
        Endorsement.objects.select_related("aircraft_type", "aerodrome", "given_by"), enrolments
    )
    set_aside = _group_by_enrolment(SetAside.objects.select_related("decided_by"), enrolments)
    end = end_of(on, zone)
    brought = evidence_decisions(enrolments, end)
    versions = _versions_in_force(enrolments, on, end)
    measures = _measures(versions)
    lessons = _lessons(versions, measures, zone)
    rows: dict[int, list[Lesson]] = defaultdict(list)
    for lesson in versions.values():
        rows[lesson.enrolment_id].append(lesson)
    return {
        enrolment.pk: (
            fact_mapping.map_facts(
                enrolment,
                tuple(papers[enrolment.student_id]),
                # Recorded by that day: one entered later with an earlier date was not known then.
                [row for row in tests[enrolment.pk] if row.recorded_at < end],
                [row for row in endorsements[enrolment.pk] if row.recorded_at < end],
                tuple(lessons[enrolment.pk]),
                # Filtered here and not in the query: a decision that is withdrawn by now was in force on an earlier
                # day.
                [
                    row
                    for row in set_aside[enrolment.pk]
                    if not is_withdrawn_by(day_of_optional(row.withdrawn_at, zone), on)
                ],
                zone,
                on,
                map_brought_forward(brought.get(enrolment.pk), zone),
            ),
            FactRows(tests[enrolment.pk], endorsements[enrolment.pk], rows[enrolment.pk], measures),
        )
        for enrolment in enrolments
    }


def releases_in_force(enrolments: Iterable[Enrolment], on: date) -> dict[int, Release]:
    """Return the release of each enrolment in force on a day, by its primary key; one by day comes before others."""
    rows = Release.objects.in_force(on).filter(enrolment__in=enrolments)
    return _preferred_by_enrolment(rows.select_related("aerodrome", "decided_by").order_by("pk"))


def releases_by_day(enrolments: Iterable[Enrolment]) -> dict[int, list[Release]]:
    """Return every release by day of each enrolment, with who withdrew it, the oldest first. One query."""
    rows = Release.objects.filter(kind=Release.Kind.DAY).select_related("withdrawn_by")
    # The frozen verdict is long, and nobody reads it here.
    return _group_by_enrolment(rows.defer("verdict"), enrolments)


def select_in_force(releases: Iterable[Release], on: date) -> dict[int, Release]:
    """Return the release shown as in force, by enrolment: the latest by day, else the latest.

    `releases` come oldest first.
    """
    zone = school_zone()
    return _preferred_by_enrolment([row for row in releases if fact_mapping.was_in_force(row, on, zone)])


def _preferred_by_enrolment(in_force: Iterable[Release]) -> dict[int, Release]:
    """Return one release for each enrolment: a mapping holds the last row of a key, so those by day come last."""
    # That by day is preferred, because every other release rests on it.
    return {row.enrolment_id: row for row in sorted(in_force, key=lambda row: row.kind == Release.Kind.DAY)}


def releases_given(enrolment: Enrolment) -> list[Release]:
    """Return every release of one enrolment with its aerodrome and who withdrew it, the oldest first. One query."""
    rows = Release.objects.filter(enrolment=enrolment).select_related("aerodrome", "withdrawn_by")
    return list(rows.defer("verdict").order_by("pk"))


def all_releases_in_force(given: Iterable[Release], on: date) -> list[Release]:
    """Return every release that was in force on a day, the one by day first. No query."""
    zone = school_zone()
    in_force = [row for row in given if fact_mapping.was_in_force(row, on, zone)]
    return sorted(in_force, key=lambda row: row.kind != Release.Kind.DAY)


def _group_by_enrolment(rows: Any, enrolments: Iterable[Enrolment]) -> dict[int, list[Any]]:
    grouped: dict[int, list[Any]] = defaultdict(list)
    for row in rows.filter(enrolment__in=enrolments).order_by("pk"):
        grouped[row.enrolment_id].append(row)
    return grouped


def papers_by_student(enrolments: Iterable[Enrolment], zone: tzinfo) -> dict[int, list[fact.PaperFact]]:
    grouped: dict[int, list[fact.PaperFact]] = defaultdict(list)
    students = [enrolment.student_id for enrolment in enrolments]
    for row in Paper.objects.filter(person__in=students).order_by("pk"):
        grouped[row.person_id].append(fact_mapping.map_paper(row, zone))
    return grouped


def _lessons(
    rows: dict[int, Lesson], measures: dict[int, list[Measure]], zone: tzinfo
) -> dict[int, list[fact.LessonFact]]:
    attempts = _attempts(rows, measures)
    circuits: dict[int, list[tuple[int, int, str, bool]]] = defaultdict(list)
    # Values and no models: a school has hundreds of thousands of circuits, and a model takes longer to build than to
    # read.
    flown = Circuit.objects.filter(lesson__in=rows).order_by("number")
    for lesson, pk, number, ending, shown in flown.values_list("lesson", "pk", "number", "ending", "shown"):
        circuits[lesson].append((pk, number, ending, shown))
    grouped: dict[int, list[fact.LessonFact]] = defaultdict(list)
    for row in rows.values():
        grouped[row.enrolment_id].append(fact_mapping.map_lesson(row, circuits[row.pk], attempts[row.pk], zone))
    return grouped


def _versions_in_force(enrolments: Iterable[Enrolment], on: date, end: datetime) -> dict[int, Lesson]:
    """Return the version of each lesson that counted at the end of a day, which is its last one signed by then."""
    rows = (
        Lesson.objects.filter(enrolment__in=enrolments, on__lte=on)
        .signed()
        .select_related("unit__stage", "instructor", "aircraft__type")
        .in_order()
    )
    # In order of versions, so that a later version of the same number takes the place of the earlier one.
    latest: dict[tuple[int, int], Lesson] = {}
    for row in rows:
        if row.signed_at and row.signed_at < end:
            latest[row.enrolment_id, row.number] = row
    return {row.pk: row for row in latest.values()}


def _measures(lessons: dict[int, Lesson]) -> dict[int, list[Measure]]:
    rows = Measure.objects.filter(attempt__lesson__in=lessons).select_related("target__gate").order_by("pk")
    grouped: dict[int, list[Measure]] = defaultdict(list)
    annotated = rows.annotate(
        lesson=F("attempt__lesson"), circuit=F("attempt__circuit__number"), manoeuvre=F("attempt__manoeuvre")
    )
    for row in annotated:
        grouped[row.lesson].append(row)
    return grouped


def _deviations_by_attempt(
    lessons: dict[int, Lesson], measures: dict[int, list[Measure]]
) -> dict[int, tuple[fact.GateNumberFact, ...]]:
    """Return the numbers of each attempt as deviations from the target of their day, in the unit of the target."""
    grouped: dict[int, list[fact.GateNumberFact]] = defaultdict(list)
    for lesson, rows in measures.items():
        # The speeds are enough for targets; a magnetic direction would take a query for the aerodrome of each lesson.
        unit = lessons[lesson].unit
        later = numbers_of_later_units(unit.stage.syllabus_id, unit.number)
        grading_context = GradingContext(wind=lesson_gusts(lessons[lesson]), later=later)
        for row in rows:
            counts = grading_context.counts_from(row.manoeuvre, row.target) is None  # type: ignore[attr-defined] # see _measures
            grouped[row.attempt_id].append(
                fact_mapping.map_measure(row, measured_deviation(row, grading_context), counts)
            )
    return {attempt: tuple(numbers) for attempt, numbers in grouped.items()}


def _attempts(
    lessons: dict[int, Lesson], measures: dict[int, list[Measure]]
) -> dict[int, list[fact_mapping.PlacedAttempt]]:
    numbers = _deviations_by_attempt(lessons, measures)
    rows = (
        # The faults come as one array a row: a prefetch would read their rows and build a model of each.
        Attempt.objects.filter(lesson__in=lessons)
        .annotate(
            seen=ArrayAgg(
                JSONObject(
                    code="faults_seen__fault__code",
                    name="faults_seen__fault__name",
                    critical="faults_seen__fault__critical",
                ),
                # Without it an attempt that showed no fault would have one whose fields are all null, from the outer
                # join.
                filter=Q(faults_seen__isnull=False),
                default=[],
            )
        )
        .order_by("pk")
        .values_list(
            "lesson",
            "circuit",
            "part",
            "manoeuvre__items",
            "manoeuvre__code",
            "level",
            "help",
            "seen",
            "step",
            "kept",
            "pk",
        )
    )
    not_done = _criteria_not_done(lessons)
    grouped: dict[int, list[fact_mapping.PlacedAttempt]] = defaultdict(list)
    for lesson, circuit, part, items, code, level, help_, faults, step, kept, pk in rows:
        attempt = fact.AttemptFact(
            manoeuvre=code,
            level=Level(level) if level else None,
            help=Help(help_),
            faults=tuple(fact.FaultFact(**fault) for fault in faults),
            step=step,
            numbers=numbers.get(pk, ()),
            not_done=not_done.get(pk, ()),
            kept=kept,
        )
        grouped[lesson].append(fact_mapping.PlacedAttempt(circuit, part, items, attempt))
    return grouped


def _criteria_not_done(lessons: dict[int, Lesson]) -> dict[int, tuple[str, ...]]:
    """Return the codes of the criteria in force that were seen not done, by attempt. One query."""
    rows = CriterionSeen.objects.filter(attempt__lesson__in=lessons, done=False).order_by("pk")
    grouped: dict[int, list[str]] = defaultdict(list)
    columns = ("attempt__lesson", "attempt", "criterion__code", "criterion__from_unit")
    for lesson, attempt, code, from_unit in rows.values_list(*columns):
        if (from_unit or 0) <= lessons[lesson].unit.number:
            grouped[attempt].append(code)
    return {attempt: tuple(codes) for attempt, codes in grouped.items()}
