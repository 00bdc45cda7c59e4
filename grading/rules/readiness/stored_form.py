"""Write a verdict as plain values without words, and read it again: it is worded by whoever shows it."""

from datetime import date
from typing import Any

from grading.rules.readiness.verdict import Evidence, Outcome, State, Verdict
from grading.rules.said import from_plain, to_plain

# Of an outcome, what is stored as it is.
AS_IT_IS = ("key", "title", "group", "kind", "source", "done", "needed", "more")
SAID = ("far", "to_meet", "aside")
DAYS = ("since", "until")


def verdict_to_plain(verdict: Verdict) -> dict[str, Any]:
    return {
        "student": verdict.student,
        "aircraft_type": verdict.aircraft_type,
        "on": verdict.on.isoformat(),
        "standard": verdict.standard,
        "rule_set": verdict.rule_set,
        "engine": verdict.engine,
        "requirements": [_outcome_to_plain(outcome) for outcome in verdict.requirements],
    }


def verdict_from_plain(content: dict[str, Any]) -> Verdict:
    """Return the verdict that verdict_to_plain() wrote."""
    outcomes = tuple(_outcome_from_plain(row) for row in content["requirements"])
    return Verdict(**content | {"on": date.fromisoformat(content["on"]), "requirements": outcomes})


def _outcome_to_plain(outcome: Outcome) -> dict[str, Any]:
    return {
        **{name: getattr(outcome, name) for name in AS_IT_IS},
        **{name: to_plain(getattr(outcome, name)) for name in SAID},
        **{name: day.isoformat() if (day := getattr(outcome, name)) else None for name in DAYS},
        "state": outcome.state.value,
        "evidence": [[to_plain(row.what), row.lesson, row.circuit, row.id] for row in outcome.evidence],
    }


def _outcome_from_plain(row: dict[str, Any]) -> Outcome:
    values: dict[str, Any] = {name: row[name] for name in AS_IT_IS}
    values |= {name: from_plain(row[name]) for name in SAID}
    values |= {name: date.fromisoformat(row[name]) if row[name] else None for name in DAYS}
    evidence = tuple(Evidence(from_plain(what), *rest) for what, *rest in row["evidence"])
    return Outcome(**values, state=State(row["state"]), evidence=evidence)
