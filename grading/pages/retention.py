"""This module gathers what the pages of retention and erasure show."""

from collections import Counter
from datetime import date
from typing import Any

from django.core.paginator import Paginator
from django.db import connection

from grading.actions.erasure import pending_erasure
from grading.evidence.erasure_plan import ERASURE_STEPS, RETAINED_TABLES, condition_for, seals_to_empty
from grading.models import Erasure, Seal
from grading.reading.retention_terms import EnrolmentRetention, load_retention
from grading.reading.track_terms import LEAST_MONTHS, MOST_MONTHS, track_months, tracks_past_term
from lessons.models import Enrolment
from school.current import get_school
from school.models import Person
from school.permissions import can_decide

ROWS_PER_PAGE = 100
FILTERS = {"": "Everybody", "due": "May be erased", "not_yet": "Not yet"}


def retention_context(reader: Person, on: date, show: str, page: str) -> dict[str, Any]:
    """Return who may be erased and from when, the earliest first, in a fixed number of queries."""
    school = get_school()
    enrolments = Enrolment.objects.for_pages().order_by("student__family_name", "student__given_name", "pk")
    # Sorted here: the end of a term is computed from several tables and is no column.
    rows = sorted(load_retention(enrolments, school.retention_years), key=lambda row: row.until or date.max)
    # Before the filter, which would hide the others.
    due = sum(row.due(on) for row in rows)
    if show in ("due", "not_yet"):
        rows = [row for row in rows if row.due(on) == (show == "due")]
    else:
        show = ""
    erasures = Erasure.objects.select_related("proposed_by", "confirmed_by")
    months = track_months()
    return {
        "months": months,
        "least_months": LEAST_MONTHS,
        "most_months": MOST_MONTHS,
        "old_tracks": tracks_past_term(on, months).count(),
        "sets_months": can_decide(reader),
        "years": school.retention_years,
        "rows": Paginator([(row, row.due(on)) for row in rows], ROWS_PER_PAGE).get_page(page),
        "due": due,
        "show": show,
        "shown": FILTERS,
        "waiting": erasures.filter(confirmed_at=None, withdrawn_at=None).order_by("proposed_at"),
        "erased": erasures.filter(confirmed_at__isnull=False).order_by("-confirmed_at")[:ROWS_PER_PAGE],
    }


def erasure_context(enrolment: Enrolment, reader: Person, on: date) -> dict[str, Any]:
    """Return how long a record is retained, what would be erased, what stays, and who has requested it."""
    keeping = retention_for(enrolment)
    proposed, seals, alone = pending_erasure(enrolment), seals_to_empty(enrolment), erasure_frees_person(enrolment)
    return {
        "enrolment": enrolment,
        "keeping": keeping,
        "due": keeping.due(on),
        "proposed": proposed,
        # Two people erase a record, and nobody decides about their own: the page offers neither.
        "own_proposal": proposed is not None and proposed.proposed_by_id == reader.pk,
        "own_record": enrolment.student_id == reader.pk,
        "erased": count_rows_to_erase(enrolment, alone),
        "seals": sorted(Counter(Seal.Kind(seal.kind).label for seal in seals).items()),
        "alone": alone,
        "kept": [RETAINED_TABLES[table] for table in ("grading_seal", "school_journalentry", "grading_erasure")],
    }


def retention_for(enrolment: Enrolment) -> EnrolmentRetention:
    return load_retention([enrolment], get_school().retention_years)[0]


def erasure_frees_person(enrolment: Enrolment) -> bool:
    """Return whether nothing else in the database needs the student, so that name, login and papers go too."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT erasure_frees_person(%s)", [enrolment.pk])
        (free,) = cursor.fetchone()
    return bool(free)


def count_rows_to_erase(enrolment: Enrolment, alone: bool) -> list[tuple[str, int]]:
    """Count the rows that an erasure removes, by kind, and leave out kinds without rows."""
    taken = [row for row in ERASURE_STEPS if alone or not row.alone]
    # One statement, so that all counts are of one moment.
    counts = " UNION ALL ".join(
        f"SELECT {place}, count(*) FROM {row.table} WHERE {condition_for(row, enrolment)}"  # noqa: S608 - our own list
        for place, row in enumerate(taken)
    )
    with connection.cursor() as cursor:
        cursor.execute(counts)
        found = sorted(cursor.fetchall())
    return [(taken[place].words, count) for place, count in found if count]
