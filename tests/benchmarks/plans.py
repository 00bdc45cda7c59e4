"""What a page asks of the database, and how the database goes about it."""

import json
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.db import connection
from django.test.utils import CaptureQueriesContext

HISTORY_TABLES = {
    "lessons_lesson", "lessons_circuit", "grading_attempt", "grading_measure", "grading_faultseen", "grading_grade",
    "grading_criterionseen", "grading_tap", "grading_signature", "grading_seal", "school_journalentry",
    "grading_sheet",
}  # fmt: skip


@dataclass(frozen=True)
class Scan:
    """A query that reads a history from its first row to its last."""

    table: str
    sql: str
    plan: str


def full_scans(queries: CaptureQueriesContext) -> list[Scan]:
    """Of the queries captured, each EXPLAINed with the values it was asked with."""
    found = []
    for query in queries.captured_queries:
        sql = query["sql"]
        if not sql.startswith("SELECT"):
            continue
        with connection.cursor() as cursor:
            cursor.execute(f"EXPLAIN (FORMAT JSON) {sql}")
            (answer,) = cursor.fetchone()
            plan = (json.loads(answer) if isinstance(answer, str) else answer)[0]["Plan"]
            for table in sorted({node["Relation Name"] for node in _nodes(plan) if node["Node Type"] == "Seq Scan"}):
                if table in HISTORY_TABLES:
                    cursor.execute(f"EXPLAIN {sql}")
                    found.append(Scan(table, sql, "\n".join(line for (line,) in cursor.fetchall())))
    return found


def _nodes(plan: dict[str, Any]) -> Iterator[dict[str, Any]]:
    yield plan
    for below in plan.get("Plans", ()):
        yield from _nodes(below)
