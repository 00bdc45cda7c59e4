"""The training of a whole school as tables in memory, read by COPY: what the rules in pandas begin from."""

import io
from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd
from django.db import connection

from grading.rules.readiness.standard import StandardSpec
from lessons.rules.scale import Ending, Help, Level, Part, UnitKind
from lessons.rules.units import convert

ENROLMENTS = """
SELECT e.id AS enrolment, e.student_id AS person, p.born, e.for_lapl, t.code AS type, t.tailwheel, t.retractable,
    t.constant_speed_propeller, t.flaps, t.horsepower
FROM lessons_enrolment e JOIN school_aircrafttype t ON t.id = e.aircraft_type_id
JOIN school_person p ON p.id = e.student_id
WHERE e.enrolled_on <= %(on)s AND (e.ended_on IS NULL OR e.ended_on > %(on)s)
"""
DAY = "({} AT TIME ZONE (SELECT time_zone FROM school_school))::date"
LESSONS = f"""
SELECT l.id AS lesson, l.enrolment_id AS enrolment, l.number, l.version, l."on", u.kind, u.number AS unit,
    t.code AS type, p.given_name || ' ' || p.family_name AS instructor, l.dual_minutes, l.solo_minutes,
    (coalesce(l.wind_gust_kt, l.wind_speed_kt) - l.wind_speed_kt) / 2.0 AS half_gust
FROM lessons_lesson l JOIN lessons_unit u ON u.id = l.unit_id JOIN school_person p ON p.id = l.instructor_id
LEFT JOIN school_aircraft a ON a.id = l.aircraft_id LEFT JOIN school_aircrafttype t ON t.id = a.type_id
WHERE l.enrolment_id = ANY(%(enrolments)s) AND l."on" <= %(on)s AND {DAY.format("l.signed_at")} <= %(on)s
"""
CIRCUITS = """
SELECT lesson_id AS lesson, id AS circuit, number AS place, ending, shown FROM lessons_circuit
WHERE lesson_id = ANY(%(lessons)s)
"""
ATTEMPTS = """
SELECT a.id AS attempt, a.lesson_id AS lesson, a.circuit_id AS circuit, a.part, m.code AS manoeuvre, a.level, a.help,
    a.kept <> '' AS kept
FROM grading_attempt a JOIN lessons_manoeuvre m ON m.id = a.manoeuvre_id WHERE a.lesson_id = ANY(%(lessons)s)
"""
FAULTS = """
SELECT s.attempt_id AS attempt, f.code AS fault, f.critical FROM grading_faultseen s
JOIN lessons_fault f ON f.id = s.fault_id JOIN grading_attempt a ON a.id = s.attempt_id
WHERE a.lesson_id = ANY(%(lessons)s)
"""
NOT_DONE = """
SELECT s.attempt_id AS attempt, a.lesson_id AS lesson, c.from_unit FROM grading_criterionseen s
JOIN lessons_criterion c ON c.id = s.criterion_id JOIN grading_attempt a ON a.id = s.attempt_id
WHERE NOT s.done AND a.lesson_id = ANY(%(lessons)s)
"""
MEASURES = """
SELECT m.id AS measure, m.attempt_id AS attempt, a.lesson_id AS lesson, g.code || '.' || t.quantity AS gate,
    t.quantity, m.value, m.unit, m.uncertainty, t.unit AS target_unit, t.value AS target, t.over, t.under,
    t.wind_rule, c.from_unit
FROM grading_measure m JOIN lessons_gatetarget t ON t.id = m.target_id JOIN lessons_gate g ON g.id = t.gate_id
JOIN grading_attempt a ON a.id = m.attempt_id
LEFT JOIN lessons_criterion c ON c.manoeuvre_id = a.manoeuvre_id AND c.kind = 'measured' AND c.gate = g.code
    AND c.quantity = t.quantity
WHERE a.lesson_id = ANY(%(lessons)s)
"""
ITEMS = "SELECT code AS manoeuvre, unnest(items) AS item FROM lessons_manoeuvre"
PAPERS = f"""
SELECT id AS paper, person_id AS person, kind, medical_class AS class, issued, expires,
    {DAY.format("recorded_at")} AS recorded FROM school_paper
WHERE person_id = ANY(%(people)s) AND issued <= %(on)s AND {DAY.format("recorded_at")} <= %(on)s
    AND (voided_at IS NULL OR {DAY.format("voided_at")} > %(on)s)
"""
TESTS = f"""
SELECT t.enrolment_id AS enrolment, k.code AS type, t.taken_on, t.reviewed_on, t.wrong,
    array_to_string(t.topics, ' ') AS topics
FROM lessons_knowledgetest t JOIN school_aircrafttype k ON k.id = t.aircraft_type_id
WHERE t.enrolment_id = ANY(%(enrolments)s) AND t.topics <> '{{}}' AND t.taken_on <= %(on)s
    AND {DAY.format("t.recorded_at")} <= %(on)s
"""
ENDORSEMENTS = f"""
SELECT d.enrolment_id AS enrolment, d.kind, k.code AS type, d.given_on FROM lessons_endorsement d
JOIN school_aircrafttype k ON k.id = d.aircraft_type_id
WHERE d.enrolment_id = ANY(%(enrolments)s) AND d.given_on <= %(on)s AND {DAY.format("d.recorded_at")} <= %(on)s
    AND (d.withdrawn_at IS NULL OR {DAY.format("d.withdrawn_at")} > %(on)s)
"""
FLOWN_ORDER = ["enrolment", "on", "number", "place", "rank", "attempt"]
LEVEL_RANKS = {level.value: rank for rank, level in enumerate(Level)}
CONTROL_TAKEN, LOWERED, UNTOUCHED = (LEVEL_RANKS[word] for word in ("explain", "practice", "perform"))
YES_OR_NO = {"t": True, "f": False}


@dataclass(frozen=True)
class School:
    """What is known at the end of a day.

    lessons: the version of each that counts; circuits, attempts, measures: of flights in a type that counts, without
    what was shown. Attempts and measures lie in the order flown, with their worth.
    """

    on: date
    enrolments: pd.DataFrame
    lessons: pd.DataFrame
    circuits: pd.DataFrame
    attempts: pd.DataFrame
    faults: pd.DataFrame
    measures: pd.DataFrame
    items: pd.DataFrame
    papers: pd.DataFrame
    tests: pd.DataFrame
    endorsements: pd.DataFrame


def read_school(standard: StandardSpec, on: date) -> School:
    """Everything the rules ask for of every student in training, in eleven copies."""
    enrolments = _with_days(_copy_query(ENROLMENTS, on=on), "born")
    students = enrolments["enrolment"].tolist()
    lessons = _with_days(_copy_query(LESSONS, on=on, enrolments=students), "on")
    lessons = lessons.sort_values(["enrolment", "on", "number", "version"])
    lessons = lessons.drop_duplicates(["enrolment", "number"], keep="last")
    flown = _flights_that_count(lessons, enrolments, standard)
    keys = flown["lesson"].tolist()
    circuits = _copy_query(CIRCUITS, lessons=keys)
    circuits["shown"] = circuits["shown"].map(YES_OR_NO)
    circuits = circuits.merge(flown, on="lesson")
    attempts = _copy_query(ATTEMPTS, lessons=keys).merge(flown, on="lesson")
    measures = _measure_deviations(_copy_query(MEASURES, lessons=keys), lessons)
    not_done = _copy_query(NOT_DONE, lessons=keys).merge(lessons[["lesson", "unit"]], on="lesson")
    not_done = not_done.loc[not_done["from_unit"].fillna(0) <= not_done["unit"], "attempt"]
    faults = _copy_query(FAULTS, lessons=keys)
    faults["critical"] = faults["critical"] == "t"
    return School(
        on=on,
        enrolments=enrolments,
        lessons=lessons,
        circuits=circuits[~circuits["shown"]],
        attempts=_rate_attempts(attempts, circuits, faults, not_done, measures, standard),
        faults=faults,
        measures=measures,
        items=_copy_query(ITEMS),
        papers=_with_days(
            _copy_query(PAPERS, on=on, people=enrolments["person"].tolist()), "issued", "expires", "recorded"
        ),
        tests=_with_days(_copy_query(TESTS, on=on, enrolments=students), "taken_on", "reviewed_on"),
        endorsements=_with_days(_copy_query(ENDORSEMENTS, on=on, enrolments=students), "given_on"),
    )


def _copy_query(sql: str, **asked: object) -> pd.DataFrame:
    """The answer of a query as a table; empty text counts as missing."""
    connection.ensure_connection()
    with connection.connection.cursor() as cursor:
        statement = f"COPY ({sql}) TO STDOUT (FORMAT csv, HEADER, NULL '')"
        with cursor.copy(statement, asked) as copy:
            text = io.BytesIO(b"".join(map(bytes, copy)))
    # A class of a medical is a word: as a number, “3” beside a missing one would become 3.0.
    return pd.read_csv(text, na_values=[""], keep_default_na=False, dtype={"class": str})


def _with_days(rows: pd.DataFrame, *columns: str) -> pd.DataFrame:
    for column in columns:
        rows[column] = pd.to_datetime(rows[column])
    return rows


def _flights_that_count(lessons: pd.DataFrame, enrolments: pd.DataFrame, standard: StandardSpec) -> pd.DataFrame:
    """Not on the ground, and in the student's own type or in one that the standard calls similar."""
    similar = [code for spec in standard.requirements for code in spec.values.get("similar_types", ())]  # type: ignore[union-attr]
    own = lessons["enrolment"].map(enrolments.set_index("enrolment")["type"])
    counted = (lessons["kind"] != UnitKind.GROUND.value) & ((lessons["type"] == own) | lessons["type"].isin(similar))
    return lessons.loc[counted, ["lesson", "enrolment", "on", "number"]]


def _measure_deviations(measures: pd.DataFrame, lessons: pd.DataFrame) -> pd.DataFrame:
    """How far each number lies from the target of its day, and whether it is outside; asked for yet: `counts`.

    inside: with the whole uncertainty of a flight track, so that one from a track may be neither.
    """
    measures = measures.merge(
        lessons[["lesson", "unit", "half_gust"]].rename(columns={"unit": "flown_in"}), on="lesson"
    )
    read_in = measures["unit"].fillna(measures["target_unit"])
    pairs = {pair: float(convert(1, *pair)) for pair in set(zip(read_in, measures["target_unit"], strict=True))}
    factor = [pairs[pair] for pair in zip(read_in, measures["target_unit"], strict=True)]
    gust = measures["half_gust"].fillna(0).where(measures["wind_rule"] == "half_gust", 0)
    gust *= measures["target_unit"].map({"km/h": 1.852}).fillna(1)
    measures["amount"] = (measures["value"] * factor - measures["target"] - gust).round(6)
    measures["outside"] = ~measures["amount"].between(-measures["under"], measures["over"])
    measures["from_track"] = measures["uncertainty"].notna()
    error = (measures["uncertainty"].fillna(0) * factor).round(6)
    low, high = (measures["amount"] - error).round(6), (measures["amount"] + error).round(6)
    measures["inside"] = (low >= -measures["under"]) & (high <= measures["over"])
    measures["counts"] = measures["from_unit"].fillna(0) <= measures["flown_in"]
    return measures


def _rate_attempts(
    attempts: pd.DataFrame,
    circuits: pd.DataFrame,
    faults: pd.DataFrame,
    not_done: "pd.Series[int]",
    measures: pd.DataFrame,
    standard: StandardSpec,
) -> pd.DataFrame:
    """What each attempt is worth, in the order flown: circuits first, then what stands alone.

    judged: it says something of the student; good: to standard and unaided.
    """
    attempts = attempts.merge(circuits[["circuit", "place", "ending", "shown"]], on="circuit", how="left")
    attempts = attempts[~attempts["shown"].eq(True)].copy()
    attempts["place"] = attempts["place"].fillna(np.inf)
    attempts["rank"] = attempts["part"].map({part.value: rank for rank, part in enumerate(Part)}).fillna(len(Part))
    attempts = attempts.sort_values(FLOWN_ORDER, ignore_index=True)
    attempts["taken"] = (attempts["help"] == Help.TOOK_CONTROL.value) | _taken_by_ending(attempts)
    attempts["critical"] = attempts["attempt"].isin(faults.loc[faults["critical"], "attempt"])
    attempts["aided"] = attempts["taken"] | (attempts["help"] != Help.NONE.value)
    outside = measures.loc[measures["counts"] & measures["outside"], "attempt"]
    lowered = (attempts["attempt"].isin(not_done) | attempts["attempt"].isin(outside)) & (attempts["kept"] != "t")
    tapped = attempts["level"].map(LEVEL_RANKS).fillna(0)
    lowered |= attempts["aided"] | attempts["critical"]
    most = np.select([attempts["taken"], lowered], [CONTROL_TAKEN, LOWERED], UNTOUCHED)
    attempts["observed"] = tapped > 0
    attempts["judged"] = attempts["observed"] | attempts["aided"] | attempts["critical"]
    enough = np.minimum(tapped, most) >= LEVEL_RANKS[standard.solo_level.value]
    attempts["good"] = enough & attempts["observed"] & ~attempts["aided"]
    return attempts


def _taken_by_ending(attempts: pd.DataFrame) -> "pd.Series[bool]":
    """The last part of a circuit that ended with control taken, where no part of it says so."""
    in_circuit = attempts[attempts["ending"] == Ending.TOOK_CONTROL.value]
    said = in_circuit.loc[in_circuit["help"] == Help.TOOK_CONTROL.value, "circuit"]
    last = in_circuit[~in_circuit["circuit"].isin(said)].drop_duplicates("circuit", keep="last")
    return pd.Series(attempts.index.isin(last.index), attempts.index)
