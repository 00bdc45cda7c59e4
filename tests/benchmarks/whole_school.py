"""The readiness of a whole school three ways: by the engine, by one query, and in pandas; and that they agree.

The engine alone says why, with evidence, and keeps what it says. pandas answers every requirement from what was tapped,
met or not and how many. The query counts the last attempts of each part by the level that was noted at signing, so that
all three agree only where that level is the one that follows from the taps.
"""

from collections import defaultdict
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pandas as pd
from django.db import connection

from grading.models import StoredVerdict
from grading.reading import verdict_cache
from grading.reading.facts import facts_for_all, standard_in_force
from grading.rules.readiness import assess
from grading.rules.readiness.json_format import standard_from_json
from grading.rules.readiness.standard import RequirementSpec, StandardSpec
from grading.rules.readiness.verdict import State
from lessons.models import Circuit, Enrolment
from lessons.rules.scale import Level
from school import models
from tests.benchmarks.figures import Figure, measure_time
from tests.benchmarks.frames import read_school
from tests.benchmarks.papers_in_pandas import Answer
from tests.benchmarks.rules_in_pandas import all_answers, minutes

BATCH_SIZE = 200
# Checks whose verdict says how many, where that is a count and not a number of days.
CHECKS_WITH_COUNTS = {
    "knowledge_test", "training_received", "manoeuvres_taught", "most_of_last", "in_a_row", "last_at_level",
    "no_take_over", "consistent", "numbers_inside",
}  # fmt: skip
# As one published until 28 November 2026 asks, by rows and likely numbers, and the European one.
OTHER_STANDARDS = ("tests/standards/us-2025.json", "fixtures/standards/eu.json")
ROOT = Path(__file__).resolve().parents[2]
OTHER_DAYS_AGO = (0, 45, 200)
LESSONS_IN_FORCE_SQL = """
SELECT DISTINCT ON (l.enrolment_id, l.number) l.*, e.aircraft_type_id FROM lessons_lesson l
JOIN lessons_enrolment e ON e.id = l.enrolment_id
WHERE e.enrolled_on <= %(on)s AND (e.ended_on IS NULL OR e.ended_on > %(on)s)
    AND l."on" <= %(on)s
    AND (l.signed_at AT TIME ZONE (SELECT time_zone FROM school_school))::date <= %(on)s
ORDER BY l.enrolment_id, l.number, l."on" DESC, l.version DESC
"""
# By student and part of the circuit: how many of the last ones, how many of those to standard and over how many
# lessons, and whether the newest was. Nothing in it counts a flight in another type or a circuit that was shown.
LAST_OF_EACH_PART = f"""
WITH standing AS ({LESSONS_IN_FORCE_SQL}), tried AS (
    SELECT l.enrolment_id, a.part, l.id AS lesson, a.help = 'none' AND a.counted = ANY(%(levels)s) AS good,
        row_number() OVER (PARTITION BY l.enrolment_id, a.part ORDER BY l."on" DESC, l.number DESC, c.number DESC)
        AS place
    FROM standing l JOIN grading_attempt a ON a.lesson_id = l.id
    JOIN lessons_circuit c ON c.id = a.circuit_id JOIN school_aircraft f ON f.id = l.aircraft_id
    JOIN lessons_unit u ON u.id = l.unit_id
    WHERE f.type_id = l.aircraft_type_id AND u.kind <> 'ground' AND NOT c.shown
        AND (a.counted <> 'not_observed' OR a.help <> 'none' OR EXISTS (
            SELECT FROM grading_faultseen s JOIN lessons_fault t ON t.id = s.fault_id
            WHERE s.attempt_id = a.id AND t.critical))
)
SELECT enrolment_id, part, count(*), count(*) FILTER (WHERE good), count(DISTINCT lesson) FILTER (WHERE good),
    bool_or(good AND place = 1)
FROM tried WHERE place <= %(last)s GROUP BY 1, 2
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
    count = measure_time(lambda: _query_last(standard, today), 3)
    frames = measure_time(lambda: all_answers(read_school(standard, today), standard), 3)
    agreed = compare_answers(standard, today)
    circuits = Circuit.objects.filter(lesson__enrolment__in=enrolments).count()
    note = f"{len(enrolments)} students, {circuits:,} circuits; floor: the last of each part counted, no reasons"
    return [
        Figure("whole school derived again", taken, count, note),
        Figure("the same rules in pandas", frames, count, f"read and answered, no reasons; {agreed}"),
    ]


def compare_answers(standard: StandardSpec, today: date) -> str:
    """What was compared, in words; stops the benchmark at the first difference.

    Today against the stored verdicts; then other standards and earlier days against verdicts derived for them.
    """
    differences = [*_from_stored(standard, today)]
    checked = 0
    for other in (standard, *(standard_from_json((ROOT / name).read_text()) for name in OTHER_STANDARDS)):
        for days in OTHER_DAYS_AGO:
            on = today - timedelta(days=days)
            engine = _verdicts(other, on)
            found = all_answers(school := read_school(other, on), other)
            differences += _from_engine(found, other, engine)
            differences += _from_query(found, minutes(school), other, on)
            checked += len(found) * len(engine)
    if differences:
        raise SystemExit(f"{len(differences):,} answers differ, the first: {differences[0]}")
    return f"{checked:,} answers as the engine's, parts and hours as the query's"


Verdicts = dict[int, dict[str, tuple[bool, int]]]


def _from_stored(standard: StandardSpec, today: date) -> Iterator[str]:
    """The verdict of each student that is stored, against the one that is derived now."""
    stored = StoredVerdict.objects.filter(on=today, stale=False, enrolment__in=Enrolment.objects.active(today))
    kept = {
        enrolment: {
            row["key"]: (row["state"] == State.MET, _count(standard.requirement(row["key"]), row["done"], row["more"]))
            for row in content["requirements"]
        }
        for enrolment, content in stored.values_list("enrolment", "content")
    }
    if kept != _verdicts(standard, today):
        yield "the stored verdicts are not those of today"


def _verdicts(standard: StandardSpec, on: date) -> Verdicts:
    """By enrolment and requirement: met or not, set aside being not met, and how many."""
    enrolments, verdicts = list(Enrolment.objects.active(on).for_pages().order_by("pk")), {}
    for batch in range(0, len(enrolments), BATCH_SIZE):
        for enrolment, facts in facts_for_all(enrolments[batch : batch + BATCH_SIZE], on).items():
            outcomes = assess(facts, standard, on).requirements
            verdicts[enrolment] = {
                row.key: (row.state is State.MET, _count(standard.requirement(row.key), row.done, row.more))
                for row in outcomes
            }
    return verdicts


def _count(spec: RequirementSpec, done: int | None, more: int | None) -> int:
    """How many are done. Circuits without control taken are told by how many more are needed."""
    return spec.number("circuits") - (more or 0) if spec.check == "no_take_over" else done or 0


def _from_engine(found: dict[str, Answer], standard: StandardSpec, engine: Verdicts) -> Iterator[str]:
    """Met or not, and how many, of every student and requirement."""
    checks = {spec.key: spec.check for spec in standard.requirements}
    for enrolment, outcomes in engine.items():
        for key, answer in found.items():
            if answer.asked is not None and not answer.asked[enrolment]:
                pandas: tuple[bool, int] | None = None
            else:
                counted = answer.done is not None and checks[key] in CHECKS_WITH_COUNTS
                done = int(answer.done.get(enrolment, 0)) if counted and answer.done is not None else 0
                pandas = bool(answer.met.get(enrolment, False)), done
            said = outcomes.get(key)
            if said is not None and checks[key] not in CHECKS_WITH_COUNTS:
                said = said[0], 0
            if said != pandas:
                yield f"{key} of enrolment {enrolment} by {standard.key}: the engine says {said}, pandas {pandas}"


def _from_query(found: dict[str, Answer], spent: pd.DataFrame, standard: StandardSpec, on: date) -> Iterator[str]:
    """The last attempts of each student and part by the query's own count, and the minutes of each student."""
    last = _query_last(standard, on)
    students = list(Enrolment.objects.active(on).values_list("pk", flat=True))
    for spec in _shares(standard):
        done = found[spec.key].done
        assert done is not None
        for enrolment in students:
            flown, good, lessons, newest = last[spec.words("part")[0]].get(enrolment, (0, 0, 0, False))
            met = flown == spec.number("last") and good >= spec.number("good") and lessons >= spec.number("lessons")
            query = met and newest, good
            pandas = bool(found[spec.key].met.get(enrolment, False)), int(done.get(enrolment, 0))
            if query != pandas:
                yield f"{spec.key} of enrolment {enrolment}: the query says {query}, pandas {pandas}"
    with connection.cursor() as cursor:
        cursor.execute(HOURS, {"on": on})
        hours = {enrolment: tuple(both) for enrolment, *both in cursor.fetchall()}
    ours = {int(row.Index): (row.dual_minutes, row.solo_minutes) for row in spent.itertuples()}
    if hours != ours:
        yield f"the minutes of the students on {on}"


def _query_last(standard: StandardSpec, on: date) -> dict[str, dict[int, tuple[Any, ...]]]:
    """By part and enrolment: how many of the last ones, how many good, over how many lessons, the newest good."""
    levels = [level.value for level in Level if level.observed and level.rank >= standard.solo_level.rank]
    last = {spec.number("last") for spec in _shares(standard)}
    by_part: dict[str, dict[int, tuple[Any, ...]]] = defaultdict(dict)
    for asked in last:
        with connection.cursor() as cursor:
            cursor.execute(LAST_OF_EACH_PART, {"on": on, "levels": levels, "last": asked})
            for enrolment, part, *row in cursor.fetchall():
                by_part[part][enrolment] = tuple(row)
    if len(last) > 1:
        raise SystemExit("The query counts one number of last attempts; this standard asks for several.")
    return by_part


def _shares(standard: StandardSpec) -> list[RequirementSpec]:
    return [spec for spec in standard.requirements if spec.check == "most_of_last"]
