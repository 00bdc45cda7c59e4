"""Stamp the pages of a lesson: what they rest on, as versions of rows, read in one query.

A stamp never comes back. It is made of the versions that the database gives each row it writes (xmin and ctid) and not
of values: entries go from 10 to 12 and back to 10, and a page drawn in between must not be found again under the first
stamp. So it is read before anything that the page shows: what is written meanwhile makes another stamp.
"""

import uuid as uuids
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.db import connection


def _versions(rows: str) -> str:
    return f"(SELECT string_agg(concat(t.xmin, t.ctid), ' ' ORDER BY t.ctid) FROM {rows})"  # noqa: S608 - written here


def _version(alias: str) -> str:
    return f"concat({alias}.xmin, {alias}.ctid)"


# The others that share the rolling 24 hours of find_excess_around() (lessons/queries.py).
NEAR = (
    "l.dual_minutes > 0 AND {0}.id <> l.id AND {0}.instructor_id = l.instructor_id"
    " AND {0}.off_blocks < l.on_blocks + interval '24 hours' AND {0}.on_blocks > l.off_blocks - interval '24 hours'"
)
RELEASES = "grading_release t WHERE t.enrolment_id = e.id"
# What the circuits do not change: who flies, in what, where, in which wind, under which gates, releases and limits.
SETTING = {
    "lesson": _version("l"),
    "enrolment": _version("e"),
    # Their names and not their rows, which each login writes anew.
    "people": "(SELECT string_agg(concat(t.given_name, ' ', t.family_name), ', ' ORDER BY t.id)"
    " FROM school_person t WHERE t.id IN (e.student_id, l.instructor_id)"
    " OR t.id IN (SELECT withdrawn_by_id FROM grading_release WHERE enrolment_id = e.id))",
    "aircraft": _versions("school_aircraft t WHERE t.id = l.aircraft_id OR t.type_id = e.aircraft_type_id"),
    "aircraft documents": _versions("school_aircraftpaper t WHERE t.aircraft_id = l.aircraft_id"),
    "types": _versions("school_aircrafttype t"),  # those that a release names too
    "aerodromes": _versions(
        "school_aerodrome t WHERE t.id IN (s.aerodrome_id, r.aerodrome_id)"
        " OR t.id IN (SELECT aerodrome_id FROM grading_release WHERE enrolment_id = e.id)"
    ),
    "runways": _versions("school_runway t WHERE t.aerodrome_id = coalesce(r.aerodrome_id, s.aerodrome_id)"),
    "obstacles": _versions("school_obstacle t WHERE t.runway_id = l.runway_id"),
    "school": _version("s"),
    "gates": _versions("lessons_gateset t WHERE t.aircraft_type_id = a.type_id"),
    "releases": _versions(RELEASES),
    "endorsements": _versions("lessons_endorsement t WHERE t.enrolment_id = e.id"),
    "lessons before": _versions(
        "lessons_lesson t WHERE t.enrolment_id = e.id AND t.number < l.number AND t.signed_at IS NOT NULL"
    ),
    "lessons near": _versions(f"lessons_lesson t WHERE {NEAR.format('t')}"),
    "corrections near": _versions(
        f"lessons_lesson t JOIN lessons_lesson n ON n.id = t.supersedes_id WHERE {NEAR.format('n')}"
    ),
}
# What a tap changes.
WORK = {
    "circuits": _versions("lessons_circuit t WHERE t.lesson_id = l.id"),
    "attempts": _versions("grading_attempt t WHERE t.lesson_id = l.id"),
    **{
        name: _versions(f"{table} t JOIN grading_attempt o ON o.id = t.attempt_id WHERE o.lesson_id = l.id")
        for name, table in (
            ("faults", "grading_faultseen"),
            ("criteria", "grading_criterionseen"),
            ("measures", "grading_measure"),
        )
    },
    "grades": _versions("grading_grade t WHERE t.lesson_id = l.id"),
    # Taps are only ever added, so the last one says that there is none after it.
    "last tap": "(SELECT t.id FROM grading_tap t WHERE t.lesson_id = l.id ORDER BY t.id DESC LIMIT 1)",
    # What came late is a question until its device says something newer about the field.
    "late entries": "(SELECT string_agg(concat(t.xmin, t.ctid, (SELECT max(n.id) FROM grading_deviceevent n"
    " WHERE n.lesson_id = l.id AND n.device = t.device AND n.field = t.field)), ' ' ORDER BY t.ctid)"
    " FROM grading_deviceevent t WHERE t.lesson_id = l.id AND t.outcome = 'late')",
}
FROM = """
FROM lessons_lesson l JOIN lessons_enrolment e ON e.id = l.enrolment_id CROSS JOIN school_school s
LEFT JOIN school_aircraft a ON a.id = l.aircraft_id LEFT JOIN school_runway r ON r.id = l.runway_id
"""
# What a page of circuits as flown rests on beside its signed lesson. Of the lessons before it count and last moment: a
# correction may change earlier circuits, and nothing signed changes otherwise.
FLOWN = {
    "signed": "(SELECT concat(count(*), ' ', max(t.signed_at)) FROM lessons_lesson t"
    " WHERE t.enrolment_id = e.id AND t.signed_at IS NOT NULL)",
    **{name: SETTING[name] for name in ("people", "aerodromes", "obstacles", "school", "gates")},
    "runway": _version("r"),
}
# What its debrief rests on: both views and whether the student signed, and what the rules count as a clean attempt.
DEBRIEF = {
    **FLOWN,
    "types": SETTING["types"],
    "own view": _versions(
        "grading_ownview t JOIN lessons_lesson o ON o.id = t.lesson_id"
        " WHERE o.enrolment_id = e.id AND o.number = l.number"
    ),
    "signatures": _versions("grading_signature t WHERE t.lesson_id = l.id"),
    "standards": _versions("grading_standard t"),
}


@dataclass(frozen=True)
class LessonStamp:
    """The versions of all rows that the page of one lesson rests on, by what they are."""

    versions: Mapping[str, str | int | None]

    @property
    def setting(self) -> tuple[str | int | None, ...]:
        return tuple(self.versions[name] for name in SETTING)

    @property
    def whole(self) -> tuple[str | int | None, ...]:
        return tuple(self.versions.values())

    @property
    def circuits(self) -> str | int | None:
        return self.versions["circuits"]

    @property
    def has_late_entries(self) -> bool:
        return self.versions["late entries"] is not None

    @property
    def last_tap(self) -> int:
        """Return the number of the last tap; 0 for none."""
        return int(self.versions["last tap"] or 0)


def read_lesson_stamp(uid: uuids.UUID, instructor_id: int) -> LessonStamp | None:
    """Return the stamp of a lesson that this instructor is writing; None for any other. One query.

    The stored verdict of the student and published content are not in it: the first has a stamp of its own, and
    nothing can change the second.
    """
    being_written = "l.uid = %s AND l.instructor_id = %s AND l.signed_at IS NULL"
    versions = _read({**SETTING, **WORK}, being_written, [uid, instructor_id])
    return LessonStamp(versions) if versions else None


def read_flown_stamp(lesson_id: int) -> dict[str, str | int | None]:
    """Return what the pages of the circuits of a signed lesson rest on beside it. One query."""
    return _read(FLOWN, "l.id = %s", [lesson_id])


def read_debrief_stamp(lesson_id: int) -> dict[str, str | int | None]:
    """Return what the debrief of a signed lesson rests on beside it. One query."""
    return _read(DEBRIEF, "l.id = %s", [lesson_id])


def _read(parts: Mapping[str, str], which: str, params: list[Any]) -> dict[str, str | int | None]:
    """Return the versions of one lesson by part; empty where there is no such lesson."""
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT {', '.join(parts.values())} {FROM} WHERE {which}", params)
        row = cursor.fetchone()
    return dict(zip(parts, row, strict=True)) if row else {}
