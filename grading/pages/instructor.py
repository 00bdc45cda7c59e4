"""An instructor: students, lessons, certificate, what they gave in 24 hours and seven days, findings, grading."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import Count, Q

from grading.models import Attempt
from grading.pages.board import board_rows
from grading.pages.week import lesson_lines, with_neighbours
from grading.reading import verdict_cache
from grading.reading.board_query import BoardRequest, select_rows
from grading.reading.facts import standard_in_force
from grading.reading.inspection_facts import collect_findings
from grading.reading.settled_findings import leave_out_settled
from grading.rules.inspection.finding import FINDING_KINDS
from grading.rules.readiness import StandardSpec
from lessons.models import Enrolment, Lesson
from lessons.queries import instructor_excesses, training_given
from lessons.rules.instructor_limits import MAX_MINUTES
from lessons.rules.scale import Level
from school.citations import follows_us_rules
from school.current import get_school, school_day
from school.models import Paper, Person

LESSONS_SHOWN = 12
EXCESS_WINDOW_DAYS = 30
FLOWN_WITH_DAYS = 30
GRADING_DAYS = 90
# The project's own choice: a share of fewer levels says more about the few students than about who graded them.
FEWEST_LEVELS = 60
SENTENCES_SHOWN = 3


@dataclass(frozen=True)
class HeldCertificate:
    """The certificate that a signature names, as on record. `until`: its last day; `days`: to that day."""

    number: str
    issued: date
    what: str
    until: date | None
    days: int


@dataclass(frozen=True)
class KindOfFinding:
    """The findings of one kind that this person has to correct: how many, and the first of them."""

    key: str
    title: str
    count: int
    first: list[str]


@dataclass(frozen=True)
class GradingShare:
    """How often something was done among the levels of this instructor and of the others, in whole percent."""

    label: str
    own: int
    others: int


@dataclass(frozen=True)
class GradingHabits:
    """How an instructor gave the levels of circuits beside the others; no shares where either gave too few."""

    own: int
    others: int
    shares: list[GradingShare]


def instructor_context(instructor: Person, reader: Person, at: datetime) -> dict[str, Any]:
    """Return what the page shows. A fixed number of queries, however many students and lessons there are."""
    today = school_day(at)
    standard = standard_in_force(get_school(), today)
    us_rules = follows_us_rules()
    verdict_cache.derive_missing(Enrolment.objects.active(today).filter(instructor=instructor).for_pages(), today)
    stored = select_rows(BoardRequest(instructor=str(instructor.pk)), today)
    students = board_rows(stored, today, grouped=False)
    given = Lesson.objects.current().filter(instructor=instructor)
    all_lessons = Lesson.objects.current()
    unsigned = list(with_neighbours(given.unsigned().for_pages().newest_first(), all_lessons))
    signed = list(with_neighbours(given.signed().for_pages().newest_first(), all_lessons)[:LESSONS_SHOWN])
    findings = _findings(instructor, at, standard)
    return {
        "instructor": instructor,
        "students": [row.content for row in students],
        "also_flown": _flown_with(instructor, today),
        "unsigned": lesson_lines(unsigned, standard, today),
        "signed": lesson_lines(signed, standard, today),
        "certificate": _held_certificate(instructor, today),
        "given": training_given(instructor, at),
        "limit_hours": MAX_MINUTES // 60 if us_rules else None,
        "excesses": instructor_excesses(today - timedelta(days=EXCESS_WINDOW_DAYS), today, instructor)
        if us_rules
        else [],
        "excess_window_days": EXCESS_WINDOW_DAYS,
        "flown_with_days": FLOWN_WITH_DAYS,
        "findings": findings,
        "finding_count": sum(kind.count for kind in findings),
        "habits": _grading_habits(instructor, today),
        "habits_days": GRADING_DAYS,
        "fewest_levels": FEWEST_LEVELS,
        "own": instructor.pk == reader.pk,
    }


def _flown_with(instructor: Person, today: date) -> list[Enrolment]:
    """Return the students of other instructors who flew with this one lately, by name."""
    lately = Lesson.objects.filter(instructor=instructor, on__gt=today - timedelta(days=FLOWN_WITH_DAYS))
    rows = Enrolment.objects.active(today).for_pages().filter(pk__in=lately.order_by().values("enrolment"))
    return list(rows.exclude(instructor=instructor).order_by("student__family_name", "student__given_name", "pk"))


def _held_certificate(instructor: Person, today: date) -> HeldCertificate | None:
    """Return the newest certificate on record that is not void."""
    papers = Paper.objects.in_force().filter(person=instructor, kind=Paper.Kind.INSTRUCTOR_CERTIFICATE)
    paper = papers.order_by("-issued", "-pk").first()
    if paper is None:
        return None
    # It carries an expiry or the end of recent experience (14 CFR 61.51(h)(2)(ii)).
    what = "expires" if paper.expires else "recent experience until"
    until = paper.expires or paper.recent_experience_until
    return HeldCertificate(paper.number, paper.issued, what, until, (until - today).days if until else 0)


def _findings(instructor: Person, at: datetime, standard: StandardSpec) -> list[KindOfFinding]:
    """Return what this instructor has to correct, kind by kind in the order in which they are checked."""
    taught = Lesson.objects.filter(instructor=instructor).order_by().values("enrolment")
    rows = Enrolment.objects.for_pages().filter(Q(instructor=instructor) | Q(pk__in=taught))
    found = [row for row in collect_findings(rows, at, standard=standard) if row.mends == instructor.pk]
    found = leave_out_settled(found)
    by_kind = {key: [row for row in found if row.kind == key] for key in FINDING_KINDS}
    return [
        KindOfFinding(key, FINDING_KINDS[key].title, len(rows), [row.sentence for row in rows[:SENTENCES_SHOWN]])
        for key, rows in by_kind.items()
        if rows
    ]


def _grading_habits(instructor: Person, today: date) -> GradingHabits:
    """Return how often levels were kept against a number or given together, beside the other instructors. One query.

    No share of levels to standard is compared: it says who flew with whom more than how anybody graded.
    """
    levels = Attempt.objects.filter(
        lesson__on__gt=today - timedelta(days=GRADING_DAYS), lesson__signed_at__isnull=False, circuit__isnull=False
    )
    levels = levels.filter(Q(lesson__superseded_by=None) | Q(lesson__superseded_by__signed_at=None))
    levels = levels.exclude(level=None).exclude(level=Level.NOT_OBSERVED.value)
    own, kept, together = Q(lesson__instructor=instructor), ~Q(kept=""), Q(by_closing=True)
    asked = {"levels": Q(), "kept": kept, "together": together}
    counts = levels.aggregate(
        **{f"own_{name}": Count("pk", filter=own & condition) for name, condition in asked.items()},
        **{f"others_{name}": Count("pk", filter=~own & condition) for name, condition in asked.items()},
    )
    enough = min(counts["own_levels"], counts["others_levels"]) >= FEWEST_LEVELS
    labels = (("kept", "Level kept against a number or a criterion"), ("together", "Level given by the closing key"))
    shares = [GradingShare(label, *_shares(counts, name)) for name, label in labels] if enough else []
    return GradingHabits(counts["own_levels"], counts["others_levels"], shares)


def _shares(counts: dict[str, int], name: str) -> Iterable[int]:
    """Return the share of an instructor and that of the others, in whole percent."""
    return (round(100 * counts[f"{who}_{name}"] / counts[f"{who}_levels"]) for who in ("own", "others"))
