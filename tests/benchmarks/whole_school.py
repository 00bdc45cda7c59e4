"""The readiness of a whole school three ways: by the engine, by one query, and in pandas; and that they agree.

The engine alone says why, with evidence, and keeps what it says. The query counts the rows to standard and the hours.
pandas answers every requirement but papers, written tests and endorsements, met or not.
"""

from collections import defaultdict
from collections.abc import Iterator
from datetime import date
from typing import Any

import pandas as pd
from django.db import connection

from grading.models import StoredVerdict
from grading.reading import verdict_cache
from grading.reading.facts import standard_in_force
from grading.rules.readiness.standard import StandardSpec
from grading.rules.readiness.verdict import State
from lessons.models import Circuit, Enrolment
from lessons.rules.scale import Level
from school import models
from tests.benchmarks.figures import Figure, measure_time
from tests.benchmarks.frames import read_school
from tests.benchmarks.rules_in_pandas import Answer, all_answers, minutes

BATCH_SIZE = 200
CHECKS_WITH_COUNTS = {
    "training_received",
    "in_a_row",
    "last_at_level",
    "consistent",
}  # checks whose verdict says how many
LESSONS_IN_FORCE_SQL = """
SELECT DISTINCT ON (l.enrolment_id, l.number) l.* FROM lessons_lesson l
JOIN lessons_enrolment e ON e.id = l.enrolment_id
WHERE e.enrolled_on <= %(on)s AND (e.ended_on IS NULL OR e.ended_on > %(on)s)
    AND l."on" <= %(on)s
    AND (l.signed_at AT TIME ZONE (SELECT time_zone FROM school_school))::date <= %(on)s
ORDER BY l.enrolment_id, l.number, l."on" DESC, l.version DESC
"""
# By student and part of the circuit: how many to standard, unaided, since the last that broke the row.
IN_A_ROW = f"""
WITH standing AS ({LESSONS_IN_FORCE_SQL}), tried AS (
    SELECT l.enrolment_id, a.part, l.id AS lesson, a.level, a.help, EXISTS (
            SELECT FROM grading_faultseen s JOIN lessons_fault f ON f.id = s.fault_id
            WHERE s.attempt_id = a.id AND f.critical) AS critical,
        row_number() OVER (PARTITION BY l.enrolment_id, a.part ORDER BY l."on", l.number, c.number) AS place
    FROM standing l JOIN grading_attempt a ON a.lesson_id = l.id JOIN lessons_circuit c ON c.id = a.circuit_id
), judged AS (
    SELECT *, level = ANY(%(levels)s) AND help = 'none' AND NOT critical AS good FROM tried
), since AS (
    SELECT *, count(*) FILTER (
            WHERE good IS NOT TRUE AND (level <> 'not_observed' OR help = 'took_control' OR critical)
        ) OVER (PARTITION BY enrolment_id, part ORDER BY place DESC) AS broken FROM judged
)
SELECT enrolment_id, part, count(*), count(DISTINCT lesson) FROM since WHERE good AND broken = 0 GROUP BY 1, 2
"""
HOURS = f"""
WITH standing AS ({LESSONS_IN_FORCE_SQL})
SELECT enrolment_id, sum(dual_minutes), sum(solo_minutes) FROM standing GROUP BY 1
"""


def whole_school(today: date) -> list[Figure]:
    """Every verdict derived and kept, and every requirement in pandas, each against the rows counted in one query."""
    enrolments = list(Enrolment.objects.active(today).for_pages().order_by("pk"))
    standard = standard_in_force(models.School.objects.get(), today)

    def derive() -> None:
        for batch in range(0, len(enrolments), BATCH_SIZE):
            verdict_cache.derive_and_store(enrolments[batch : batch + BATCH_SIZE], today)

    taken = measure_time(derive, 1, warm=False)
    count = measure_time(lambda: _query_rows(IN_A_ROW, standard, today), 3)
    frames = measure_time(lambda: all_answers(read_school(standard, today), standard), 3)
    agreed = compare_answers(standard, today)
    circuits = Circuit.objects.filter(lesson__enrolment__in=enrolments).count()
    note = f"{len(enrolments)} students, {circuits:,} circuits; floor: rows in a row by window functions, no reasons"
    return [
        Figure("whole school derived again", taken, count, note),
        Figure("the same rules in pandas", frames, count, f"read and answered, no reasons; {agreed}"),
    ]


def compare_answers(standard: StandardSpec, today: date) -> str:
    """What was compared, in words; stops the benchmark at the first difference."""
    school = read_school(standard, today)
    found, spent = all_answers(school, standard), minutes(school)
    differences = [*_from_engine(found, standard, today), *_from_query(found, spent, standard, today)]
    if differences:
        raise SystemExit(f"{len(differences):,} answers differ, the first: {differences[0]}")
    checked = len(found) * len(school.enrolments)
    return f"{checked:,} answers as the engine's, rows and hours as the query's"


def _from_engine(found: dict[str, Answer], standard: StandardSpec, today: date) -> Iterator[str]:
    """Met or not, and how many, of every student and requirement in `found`. Set aside is not met here."""
    checks = {spec.key: spec.check for spec in standard.requirements}
    students = Enrolment.objects.active(today)
    stored = StoredVerdict.objects.filter(on=today, stale=False, enrolment__in=students)
    if stored.count() != students.count():
        yield "not every student has a verdict of today"
    for enrolment, content in stored.values_list("enrolment", "content"):
        for outcome in content["requirements"]:
            key = outcome["key"]
            if key not in found:
                continue
            engine: tuple[Any, ...] = (outcome["state"] == State.MET,)
            pandas: tuple[Any, ...] = (bool(found[key].met.get(enrolment, False)),)
            done = found[key].done
            if checks[key] in CHECKS_WITH_COUNTS and done is not None:
                engine, pandas = (*engine, outcome["done"] or 0), (*pandas, int(done.get(enrolment, 0)))
            if engine != pandas:
                yield f"{key} of enrolment {enrolment}: the engine says {engine}, pandas {pandas}"


def _from_query(found: dict[str, Answer], spent: pd.DataFrame, standard: StandardSpec, today: date) -> Iterator[str]:
    """The rows of each student and part, met by the query's own count, and the minutes of each student."""
    asked: dict[str, dict[int, tuple[int, int]]] = defaultdict(dict)
    for enrolment, part, count, lessons in _query_rows(IN_A_ROW, standard, today):
        asked[part][enrolment] = count, lessons
    students = list(Enrolment.objects.active(today).values_list("pk", flat=True))
    for spec in standard.requirements:
        if spec.check != "in_a_row":
            continue
        rows, done = asked[spec.words("part")[0]], found[spec.key].done
        assert done is not None
        for enrolment in students:
            count, lessons = rows.get(enrolment, (0, 0))
            query = count >= spec.number("needed") and lessons >= spec.number("lessons"), count
            pandas = bool(found[spec.key].met.get(enrolment, False)), int(done.get(enrolment, 0))
            if query != pandas:
                yield f"{spec.key} of enrolment {enrolment}: the query says {query}, pandas {pandas}"
    hours = {enrolment: tuple(both) for enrolment, *both in _query_rows(HOURS, standard, today)}
    ours = {int(row.Index): (row.dual_minutes, row.solo_minutes) for row in spent.itertuples()}
    if hours != ours:
        yield "the minutes of the students"


def _query_rows(sql: str, standard: StandardSpec, today: date) -> list[Any]:
    levels = [level.value for level in Level if level.observed and level.rank >= standard.solo_level.rank]
    with connection.cursor() as cursor:
        cursor.execute(sql, {"on": today, "levels": levels})
        return list(cursor.fetchall())
