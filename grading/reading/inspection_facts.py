"""This module is the bridge from the database to the rules of inspection: facts, in a fixed number of queries."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date, datetime, tzinfo
from functools import cache
from typing import Any

from django.db.models import Case, Count, F, Func, IntegerField, OuterRef, Q, Subquery, Value, When
from django.db.models.expressions import RawSQL
from django.db.models.functions import Coalesce, Concat

from grading.models import Release, Signature
from grading.reading import fact_mapping
from grading.reading.candidate_lessons import annotate_neighbours, filter_candidates
from grading.reading.facts import papers_by_student, standard_in_force
from grading.reading.release_limits import breaches_of_releases
from grading.reading.release_status import ReleasePhase, release_status
from grading.rules import inspection
from grading.rules.inspection import facts as fact
from grading.rules.readiness.standard import Policy, StandardSpec
from lessons.models import Circuit, DiscardedLesson, Endorsement, Enrolment, KnowledgeTest, Lesson
from lessons.models.lesson import LessonQuerySet
from lessons.queries import instructor_excesses
from lessons.rules.scale import Ending, UnitKind
from school.citations import follows_us_rules
from school.current import get_school
from school.days import day_of, day_of_optional, end_of
from school.models import Paper, Person, School

# The fields of fact.InspectedLesson but the last, in its order.
# They are taken by position: a column in another place would put its value into another field.
LESSON_FACT_COLUMNS = (
    "pk",
    "uid",
    "enrolment_id",
    "enrolment__student_id",
    "number",
    "version",
    "on",
    "unit__kind",
    "instructor_id",
    "teacher",
    "aircraft_id",
    "aircraft__registration",
    "aircraft__type_id",
    "runway_id",
    "off_blocks",
    "on_blocks",
    "dual_minutes",
    "solo_minutes",
    "night_minutes",
    "instrument_minutes",
    "ground_minutes",
    "takeoffs",
    "landings",
    "outside_release",
    "begun_at",
    "signed_at",
    "answer",
    "flown",
    "landed",
    "before",
)
DAY_COLUMN = LESSON_FACT_COLUMNS.index("on")


def collect_findings(
    enrolments: Iterable[Enrolment],
    at: datetime,
    whole_school: bool = False,
    standard: StandardSpec | None = None,
) -> list[inspection.Finding]:
    """Return every finding of these enrolments, the latest day first. At most nineteen queries, however many.

    whole_school: these are all there are. Then nobody else's lessons are read, and what concerns an instructor
    and no single student is found as well. standard: the one in force, where the caller has read it already.
    """
    enrolments = list(enrolments)
    school = get_school()
    zone = school.zone
    today = day_of(at, zone)
    standard = standard or standard_in_force(school, today)
    lessons = _lessons(enrolments, whole_school, at, standard.policy, zone)
    records = _records(enrolments, lessons, school, standard.policy)
    neighbours = [] if whole_school else _overlapping_lessons(enrolments, zone)
    names = _student_names(enrolments, neighbours)
    findings = inspection.inspect_records(
        records, neighbours, standard.requirements, _certificates(), names, at, today, school.rule_set
    )
    return [*collect_instructor_findings(at), *findings] if whole_school else findings


def collect_instructor_findings(at: datetime, only: Person | None = None) -> list[inspection.Finding]:
    """Return the findings about instructors and no single student. Two queries; none where no law asks for them.

    only: those of this instructor alone.
    """
    if not follows_us_rules():
        return []
    zone = get_school().zone
    excesses = instructor_excesses(date.min, day_of(at, zone), only)
    return [inspection.instructor_hours_finding(pair, day_of(pair[1].begin, zone)) for pair in excesses]


def _records(
    enrolments: Sequence[Enrolment], lessons: dict[int, list[fact.InspectedLesson]], school: School, policy: Policy
) -> list[inspection.InspectedRecord]:
    zone = school.zone
    papers = papers_by_student(enrolments, zone)
    tests, endorsements, releases = _tests(enrolments), _endorsements(enrolments, zone), _releases(enrolments)
    (outside, after), discarded = _release_breaches(enrolments, releases, school), _discarded_lessons(enrolments)
    certified = set(Signature.objects.filter(enrolment__in=enrolments).values_list("enrolment_id", flat=True))
    return [
        inspection.InspectedRecord(
            enrolment=row.pk,
            uid=row.uid,
            student=row.student_id,
            student_name=row.student.name,
            born=row.student.born,
            instructor=row.instructor_id,
            instructor_name=row.instructor.name,
            aircraft_type=row.aircraft_type_id,
            type_name=row.aircraft_type.name,
            enrolled_on=row.enrolled_on,
            ended_on=row.ended_on,
            end=row.end,
            certified=row.pk in certified,
            lessons=lessons.get(row.pk, ()),
            discarded=discarded[row.pk],
            # A finding asks what the student held and not what was known then: void entries count on no day, and a
            # document that was recorded late counts on the day of the flight.
            papers=[paper for paper in papers[row.student_id] if paper.void_from is None],
            tests=tests[row.pk],
            endorsements=endorsements[row.pk],
            # The others rest on that by day, so its endorsement is the one to look for.
            releases=[_release(made, zone) for made in releases[row.pk] if made.kind == Release.Kind.DAY],
            outside=outside,
            after_withdrawal=after,
            policy=policy,
        )
        for row in enrolments
    ]


def _lessons(
    enrolments: Sequence[Enrolment], whole_school: bool, at: datetime, policy: Policy, zone: tzinfo
) -> dict[int, list[fact.InspectedLesson]]:
    rows = Lesson.objects.all() if whole_school else Lesson.objects.filter(enrolment__in=enrolments)
    rows = annotate_neighbours(rows.current())
    grouped: dict[int, list[fact.InspectedLesson]] = defaultdict(list)
    for row in _lesson_facts(filter_candidates(rows, at, policy) if whole_school else rows, zone):
        grouped[row.enrolment].append(row)
    return grouped


# From the few lessons asked about to those beside them: the other way round every lesson of the school is read.
# The day narrows the search before times are compared, one more on either side because block times are UTC. Pairs
# inside the enrolments are left out: overlapping_pairs() sees both of their lessons already.
OVERLAP_SQL = """
    SELECT other.id FROM lessons_lesson own JOIN lessons_lesson other ON other.{shared} = own.{shared}
        AND other."on" BETWEEN own."on" - 1 AND own."on" + 1
        AND other.off_blocks < own.on_blocks AND other.on_blocks > own.off_blocks
    WHERE own.enrolment_id = ANY(%s) AND NOT other.enrolment_id = ANY(%s)
"""
# A UNION and not OR, for which no single index would serve.
OVERLAPPING_LESSONS_SQL = " UNION ".join(
    OVERLAP_SQL.format(shared=shared) for shared in ("instructor_id", "aircraft_id")
)


def _overlapping_lessons(enrolments: Sequence[Enrolment], zone: tzinfo) -> list[fact.InspectedLesson]:
    """Return lessons of others that overlap one of these in block time, with the same instructor or aircraft."""
    asked = [row.pk for row in enrolments]
    beside = RawSQL(OVERLAPPING_LESSONS_SQL, [asked] * 4)  # noqa: S611 - a fixed text with parameters
    return list(_lesson_facts(annotate_neighbours(Lesson.objects.filter(pk__in=beside).current()), zone))


def _lesson_facts(rows: LessonQuerySet, zone: tzinfo) -> Iterable[fact.InspectedLesson]:
    """Return the lessons in the order flown, from rows of values and without models."""
    flown = Circuit.objects.filter(lesson=OuterRef("pk")).order_by().values("lesson")
    count, landed = flown.values(n=Count("pk")), flown.exclude(ending=Ending.GO_AROUND).values(n=Count("pk"))
    uncounted = Q(takeoffs=0) | Q(landings=0)
    values = rows.annotate(
        teacher=Concat("instructor__given_name", Value(" "), "instructor__family_name"),
        flown=_count_only_if(uncounted, count),
        landed=_count_only_if(uncounted, landed),
    )
    facts = values.order_by("on", "number", "version").values_list(*LESSON_FACT_COLUMNS)
    # Many lessons share a day, whose end is computed once.
    ends = cache(lambda day: end_of(day, zone))
    return (fact.InspectedLesson._make((*row, ends(row[DAY_COLUMN]))) for row in facts)


def _count_only_if(condition: Q, count: Any) -> Case:
    """Count rows only where the condition is met; elsewhere the subquery is not run."""
    return Case(When(condition, then=Coalesce(Subquery(count), 0)), default=0, output_field=IntegerField())


def _release_breaches(
    enrolments: Sequence[Enrolment], releases: dict[int, list[Release]], school: School
) -> tuple[dict[int, list[str]], dict[int, str]]:
    """Return, by the key of each solo flight, what of it lies outside the releases, and which withdrawal it follows.

    Of one that is not signed yet only the withdrawal: what else is in it may still be entered.
    """
    solo = Lesson.objects.filter(Q(unit__kind=UnitKind.SOLO) | Q(solo_minutes__gt=0), enrolment__in=enrolments)
    outside, after = {}, {}
    # Few units, aircraft and runways for many lessons.
    for lesson in solo.current().prefetch_related("unit", "aircraft__type", "runway__aerodrome"):
        given = releases[lesson.enrolment_id]
        held = [row for row in given if fact_mapping.held_for_flight(row, lesson, school.zone)]
        if lesson.signed_at is not None:
            outside[lesson.pk] = breaches_of_releases(lesson, held, school.aerodrome_id)
        # Every other release rests on that by day.
        if not any(row.kind == Release.Kind.DAY for row in held) and (words := _withdrawal_before(lesson, given)):
            after[lesson.pk] = words
    return outside, after


def _withdrawal_before(lesson: Lesson, given: Sequence[Release]) -> str:
    """Return the withdrawal after which a solo was flown, in a sentence; nothing where none came before it."""
    status = release_status(given, lesson.on)
    if status is None or status.phase is not ReleasePhase.WITHDRAWN:
        return ""
    unknown = status.withdrawn_on == lesson.on and lesson.off_blocks is None
    return f"{status.words}." + (" Off blocks is not recorded: it may have come later that day." if unknown else "")


def _releases(enrolments: Sequence[Enrolment]) -> dict[int, list[Release]]:
    rows = Release.objects.filter(enrolment__in=enrolments).select_related(
        "aerodrome", "aircraft_type", "endorsed_by", "withdrawn_by"
    )
    grouped: dict[int, list[Release]] = defaultdict(list)
    # The frozen verdict is long, and no rule of inspection reads it.
    for row in rows.defer("verdict").order_by("pk"):
        grouped[row.enrolment_id].append(row)
    return grouped


def _release(row: Release, zone: tzinfo) -> fact.InspectedRelease:
    return fact.InspectedRelease(
        row.valid_from,
        row.valid_until,
        day_of_optional(row.withdrawn_at, zone),
        row.aircraft_type_id,
        row.endorsed_by_id,
        row.endorsed_by.name,
    )


def _discarded_lessons(enrolments: Sequence[Enrolment]) -> dict[int, list[fact.InspectedDiscard]]:
    grouped: dict[int, list[fact.InspectedDiscard]] = defaultdict(list)
    rows = DiscardedLesson.objects.filter(enrolment__in=enrolments).order_by("on", "pk")
    # Counted by the database: the entries themselves may be hundreds, and no rule reads them.
    many = Func("entries", function="jsonb_array_length", output_field=IntegerField())
    values = rows.annotate(many=many).select_related("discarded_by").defer("entries")
    for row in values:
        discarded = fact.InspectedDiscard(
            row.uid, row.number, row.version, row.on, row.discarded_by.name, row.many, row.reason
        )
        grouped[row.enrolment_id].append(discarded)
    return grouped


def _tests(enrolments: Sequence[Enrolment]) -> dict[int, list[fact.WrittenTest]]:
    grouped: dict[int, list[fact.WrittenTest]] = defaultdict(list)
    for row in KnowledgeTest.objects.filter(enrolment__in=enrolments).order_by("taken_on", "pk"):
        test = fact.WrittenTest(
            row.taken_on, row.title, tuple(row.topics), row.aircraft_type_id, row.wrong, row.reviewed_on
        )
        grouped[row.enrolment_id].append(test)
    return grouped


def _endorsements(enrolments: Sequence[Enrolment], zone: tzinfo) -> dict[int, list[fact.InspectedEndorsement]]:
    """Return the endorsements for solo flight."""
    grouped: dict[int, list[fact.InspectedEndorsement]] = defaultdict(list)
    rows = Endorsement.objects.filter(enrolment__in=enrolments, kind=Endorsement.Kind.PRE_SOLO_TRAINING)
    for row in rows.order_by("given_on", "pk"):
        given = fact.InspectedEndorsement(
            row.given_on, row.given_by_id, row.aircraft_type_id, day_of_optional(row.withdrawn_at, zone)
        )
        grouped[row.enrolment_id].append(given)
    return grouped


def _certificates() -> dict[int, list[fact.InspectedCertificate]]:
    """Return the certificates that a signature may name (14 CFR 61.51(h)(2)(ii)): with a number and a last day."""
    grouped: dict[int, list[fact.InspectedCertificate]] = defaultdict(list)
    rows = Paper.objects.in_force().filter(kind=Paper.Kind.INSTRUCTOR_CERTIFICATE).exclude(number="")
    until = Coalesce(F("expires"), F("recent_experience_until"))
    for person, issued, last in rows.annotate(until=until).values_list("person_id", "issued", "until"):
        # A certificate without a last day cannot be shown to be in force on any day.
        if last is not None:
            grouped[person].append(fact.InspectedCertificate(issued, last))
    return grouped


def _student_names(enrolments: Sequence[Enrolment], neighbours: Sequence[fact.InspectedLesson]) -> dict[int, str]:
    known = {row.student_id: row.student.name for row in enrolments}
    # Names are read for the neighbours only: the findings name the other student of an overlap.
    others = {row.student for row in neighbours} - set(known)
    return known | {person.pk: person.name for person in Person.objects.filter(pk__in=others)}
