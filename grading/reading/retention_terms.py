"""This module computes how long the record of an enrolment is retained: the longest term of the rules and the school.

The function `kept_until()` computes the same in SQL and guards the erasure itself; tests compare the two.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db.models import Max, QuerySet

from grading.models import Release
from lessons.models import Endorsement, Enrolment, Lesson
from school.citations import own_law
from school.current import school_zone
from school.days import day_of

# Kept under any rules, so that changing them shortens no term; cited under its own alone.
OTHER_LAW = "not the law of this school; kept anyway"


@dataclass(frozen=True)
class RetentionTerm:
    """A term of whole calendar years from a day; the record is retained to the end of `until`."""

    what: str
    source: str
    since: date
    years: int

    @property
    def shown_source(self) -> str:
        """Return the source, without its paragraph where the school does not follow that law."""
        return own_law(self.source) or OTHER_LAW

    @property
    def until(self) -> date:
        return years_later(self.since, self.years)


@dataclass(frozen=True)
class EnrolmentRetention:
    """Every term that runs for an enrolment, the longest first. None runs while training has not ended."""

    enrolment: Enrolment
    terms: tuple[RetentionTerm, ...]

    @property
    def until(self) -> date | None:
        """Return the last day on which the record must be retained."""
        return self.terms[0].until if self.terms else None

    @property
    def erasable_from(self) -> date | None:
        return self.until + timedelta(days=1) if self.until else None

    def due(self, on: date) -> bool:
        return self.until is not None and on > self.until


def years_later(day: date, years: int) -> date:
    """Return the same day of a later year; 1 March where it has no 29 February, never a day too short."""
    try:
        return day.replace(year=day.year + years)
    except ValueError:
        return date(day.year + years, 3, 1)


def retention_terms(
    *, ended_on: date, school_years: int, last_lesson: date | None, last_endorsement: date | None
) -> tuple[RetentionTerm, ...]:
    """Return every term, whatever rule set the school follows, so that changing it never shortens one."""
    terms = [
        RetentionTerm(
            "The school’s own time, after the end of training", "never under 49 CFR part 1552", ended_on, school_years
        ),
        RetentionTerm("The record of each student", "14 CFR 141.101(d)", ended_on, 1),
        RetentionTerm("Details and reports of training, after its end", "ORA.ATO.120", ended_on, 3),
    ]
    if last_lesson:
        terms.append(RetentionTerm("Details of training, after the last session", "DTO.GEN.220", last_lesson, 3))
    if last_endorsement:
        terms.append(
            RetentionTerm("The instructor’s record of endorsements and solo", "14 CFR 61.189(c)", last_endorsement, 3)
        )
    return tuple(sorted(terms, key=lambda term: term.until, reverse=True))


def load_retention(enrolments: Iterable[Enrolment], school_years: int) -> list[EnrolmentRetention]:
    """Return the terms of each enrolment, in three queries however many there are."""
    rows = list(enrolments)
    lessons = _latest(Lesson.objects.filter(enrolment__in=rows), "on")
    endorsed = _latest(Endorsement.objects.filter(enrolment__in=rows), "given_on")
    zone = school_zone()
    decided = _latest(Release.objects.filter(enrolment__in=rows), "decided_at")
    released = {pk: day_of(at, zone) for pk, at in decided.items()}
    retained = []
    for row in rows:
        # The instructor's term runs from an endorsement or a release, whichever was signed later; kept_until() counts
        # both too.
        signed = [days[row.pk] for days in (endorsed, released) if row.pk in days]
        terms: tuple[RetentionTerm, ...] = ()
        # While training goes on no term has begun, however old the last lesson is.
        if row.ended_on:
            terms = retention_terms(
                ended_on=row.ended_on,
                school_years=school_years,
                last_lesson=lessons.get(row.pk),
                last_endorsement=max(signed, default=None),
            )
        retained.append(EnrolmentRetention(row, terms))
    return retained


def _latest(rows: QuerySet, name: str) -> dict[int, Any]:  # type: ignore[type-arg]
    return dict(rows.values_list("enrolment").annotate(last=Max(name)).values_list("enrolment", "last"))
