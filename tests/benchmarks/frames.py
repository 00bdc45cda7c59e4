"""The training of a whole school as tables in memory, read by COPY: what the rules in pandas begin from."""

import io
from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd
from django.db import connection

from grading.rules.readiness.standard import StandardSpec
from lessons.rules.scale import Help, Level, Part

ENROLMENTS = """
SELECT e.id AS enrolment, t.code AS type FROM lessons_enrolment e
JOIN school_aircrafttype t ON t.id = e.aircraft_type_id
WHERE e.enrolled_on <= %(on)s AND (e.ended_on IS NULL OR e.ended_on > %(on)s)
"""
LESSONS = """
SELECT l.id AS lesson, l.enrolment_id AS enrolment, l.number, l.version, l."on", u.kind, t.code AS type,
    p.given_name || ' ' || p.family_name AS instructor, l.dual_minutes, l.solo_minutes,
    (coalesce(l.wind_gust_kt, l.wind_speed_kt) - l.wind_speed_kt) / 2.0 AS half_gust
FROM lessons_lesson l JOIN lessons_unit u ON u.id = l.unit_id JOIN school_person p ON p.id = l.instructor_id
LEFT JOIN school_aircraft a ON a.id = l.aircraft_id LEFT JOIN school_aircrafttype t ON t.id = a.type_id
WHERE l.enrolment_id = ANY(%(enrolments)s) AND l."on" <= %(on)s
    AND (l.signed_at AT TIME ZONE (SELECT time_zone FROM school_school))::date <= %(on)s
"""
CIRCUITS = (
    "SELECT lesson_id AS lesson, id AS circuit, number AS place, ending FROM lessons_circuit WHERE lesson_id = {}"
)
ATTEMPTS = """
SELECT a.id AS attempt, a.lesson_id AS lesson, a.circuit_id AS circuit, a.part, m.code AS manoeuvre, a.level, a.help
FROM grading_attempt a JOIN lessons_manoeuvre m ON m.id = a.manoeuvre_id WHERE a.lesson_id = {}
"""
FAULTS = """
SELECT s.attempt_id AS attempt, f.code AS fault, f.critical FROM grading_faultseen s
JOIN lessons_fault f ON f.id = s.fault_id JOIN grading_attempt a ON a.id = s.attempt_id WHERE a.lesson_id = {}
"""
MEASURES = """
SELECT m.id AS measure, m.attempt_id AS attempt, g.code || '.' || t.quantity AS gate, t.quantity, m.value, m.unit,
    t.unit AS target_unit, t.value AS target, t.over, t.under, t.wind_rule
FROM grading_measure m JOIN lessons_gatetarget t ON t.id = m.target_id JOIN lessons_gate g ON g.id = t.gate_id
JOIN grading_attempt a ON a.id = m.attempt_id WHERE a.lesson_id = {}
"""
ITEMS = "SELECT code AS manoeuvre, unnest(items) AS item FROM lessons_manoeuvre"
LESSON_FILTER = "ANY(%(lessons)s)"
FLOWN_ORDER = ["enrolment", "on", "number", "place", "rank", "attempt"]


@dataclass(frozen=True)
class School:
    """`lessons`: the version of each that counts on the day; `attempts`: in the order flown, with their worth."""

    on: date
    enrolments: pd.DataFrame
    lessons: pd.DataFrame
    circuits: pd.DataFrame
    attempts: pd.DataFrame
    faults: pd.DataFrame
    measures: pd.DataFrame
    items: pd.DataFrame


def read_school(standard: StandardSpec, on: date) -> School:
    """Everything the rules ask for of every student in training, in seven copies."""
    enrolments = _copy_query(ENROLMENTS, on=on)
    lessons = _copy_query(LESSONS, on=on, enrolments=enrolments["enrolment"].tolist())
    lessons["on"] = pd.to_datetime(lessons["on"])
    lessons = lessons.sort_values(["enrolment", "on", "number", "version"])
    lessons = lessons.drop_duplicates(["enrolment", "number"], keep="last")
    keys = lessons["lesson"].tolist()
    flown = lessons[["lesson", "enrolment", "on", "number"]]
    circuits = _copy_query(CIRCUITS.format(LESSON_FILTER), lessons=keys).merge(flown, on="lesson")
    faults = _copy_query(FAULTS.format(LESSON_FILTER), lessons=keys)
    faults["critical"] = faults["critical"] == "t"
    attempts = _copy_query(ATTEMPTS.format(LESSON_FILTER), lessons=keys).merge(flown, on="lesson")
    return School(
        on=on,
        enrolments=enrolments,
        lessons=lessons,
        circuits=circuits,
        attempts=_rate_attempts(attempts, circuits, faults, standard),
        faults=faults,
        measures=_copy_query(MEASURES.format(LESSON_FILTER), lessons=keys),
        items=_copy_query(ITEMS),
    )


def _copy_query(sql: str, **asked: object) -> pd.DataFrame:
    """The answer of a query as a table; empty text counts as missing."""
    connection.ensure_connection()
    with connection.connection.cursor() as cursor:
        statement = f"COPY ({sql}) TO STDOUT (FORMAT csv, HEADER, NULL '')"
        with cursor.copy(statement, asked) as copy:
            return pd.read_csv(io.BytesIO(b"".join(map(bytes, copy))), na_values=[""], keep_default_na=False)


def _rate_attempts(
    attempts: pd.DataFrame, circuits: pd.DataFrame, faults: pd.DataFrame, standard: StandardSpec
) -> pd.DataFrame:
    """Observed, critical, taken over and to standard, in the order flown: circuits first, then what stands alone."""
    attempts = attempts.merge(circuits[["circuit", "place"]], on="circuit", how="left")
    attempts["place"] = attempts["place"].fillna(np.inf)
    attempts["rank"] = attempts["part"].map({part.value: rank for rank, part in enumerate(Part)}).fillna(len(Part))
    levels = {level.value for level in Level if level.observed and level.rank >= standard.solo_level.rank}
    attempts["observed"] = attempts["level"].notna() & (attempts["level"] != Level.NOT_OBSERVED.value)
    attempts["critical"] = attempts["attempt"].isin(faults.loc[faults["critical"], "attempt"])
    attempts["taken"] = attempts["help"] == Help.TOOK_CONTROL.value
    unaided = (attempts["help"] == Help.NONE.value) & ~attempts["critical"]
    attempts["good"] = attempts["level"].isin(levels) & unaided
    return attempts.sort_values(FLOWN_ORDER, ignore_index=True)
