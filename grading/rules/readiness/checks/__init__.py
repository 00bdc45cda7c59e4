"""One function a requirement. A check answers with a Finding, or None where it does not apply."""

from collections.abc import Callable, Mapping

from grading.rules.readiness.checks import numbers, papers, recency, rows, training
from grading.rules.readiness.history import History
from grading.rules.readiness.standard import RequirementSpec
from grading.rules.readiness.verdict import Finding

Check = Callable[[History, RequirementSpec], Finding | None]

CHECKS: Mapping[str, Check] = {
    "paper": papers.held,
    "age": papers.age,
    "medical": papers.medical,
    "knowledge_test": papers.knowledge_test,
    "training_received": training.received,
    "tailwheel_endorsement": training.tailwheel_endorsement,
    "in_a_row": rows.in_a_row,
    "shown_unaided": rows.shown_unaided,
    "last_at_level": rows.last_at_level,
    "no_take_over": rows.no_take_over,
    "no_open_critical_fault": rows.no_open_critical_fault,
    "second_instructor": rows.second_instructor,
    "consistent": numbers.consistent,
    "recent_training": recency.training,
    "recent_circuit": recency.circuit,
}
