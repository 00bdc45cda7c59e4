"""Bring the law of a school's standard up to what the project ships; a published standard itself never changes."""

import json
from collections.abc import Mapping, Sequence
from typing import Any

from grading.actions.load_standards import FIXTURES

Row = dict[str, Any]


def with_current_law(rule_set: str, rows: Sequence[Row]) -> list[Row]:
    """Return the requirements with every legal one as the shipped file of the rule set has it, and those it adds.

    A legal one that the file does not have stays. What the school set more strictly, and the types that it calls
    similar, stay too.
    """
    shipped: list[Row] = json.loads((FIXTURES / "standards" / f"{rule_set}.json").read_text())["requirements"]
    by_key = {row["key"]: row for row in shipped}
    current = [_current(rule_set, row, by_key.get(row["key"])) for row in rows]
    known = {row["key"] for row in current}
    for row in shipped:
        if row["kind"] == "legal" and row["key"] not in known:
            current.insert(_place(row, current), row)
    return current


def _current(rule_set: str, row: Row, shipped: Row | None) -> Row:
    if shipped is None:
        return row
    if shipped["kind"] == "school":
        return _leave_foreign_law(rule_set, row, shipped)
    # Another check under the same key would be another requirement, which the database refuses.
    if shipped["check"] != row["check"] or row["kind"] != "legal":
        return row
    return shipped | {"values": dict(shipped["values"]) | _stricter(row["values"], shipped["values"])}


def _leave_foreign_law(rule_set: str, row: Row, shipped: Row) -> Row:
    """Return a school's own row; under the European rules without paragraphs of 14 CFR, which older rows asked for."""
    if rule_set != "eu":
        return row
    if row["check"] == "training_received":
        return shipped
    # Older European standards called the days of recency law. They are the school's, with the days that it had.
    return row | {"kind": shipped["kind"], "source": shipped["source"]} if row["kind"] == "legal" else row


def _stricter(own: Mapping[str, Any], shipped: Mapping[str, Any]) -> Row:
    kept: Row = {}
    if "similar_types" in own:
        kept["similar_types"] = own["similar_types"]
    if "years" in own and "years" in shipped:
        kept["years"] = max(own["years"], shipped["years"])
    if "days" in own and "days" in shipped:
        kept["days"] = min(own["days"], shipped["days"])
    return kept


def _place(row: Row, current: Sequence[Row]) -> int:
    """Return the place of a new row: after the last legal one of its group, so that the page shows them together."""
    same = [place for place, other in enumerate(current) if (other["group"], other["kind"]) == (row["group"], "legal")]
    return same[-1] + 1 if same else len(current)
