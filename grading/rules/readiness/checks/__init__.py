"""Map each check of a standard to its function, which returns None where the requirement does not apply."""

from collections.abc import Callable, Mapping

from grading.rules.readiness.checks import (
    aircraft_endorsements,
    flying,
    numbers,
    papers,
    parts,
    recency,
    training,
)
from grading.rules.readiness.history import History
from grading.rules.readiness.standard import RequirementSpec
from grading.rules.readiness.verdict import CheckResult

Check = Callable[[History, RequirementSpec], CheckResult | None]

CHECKS: Mapping[str, Check] = {
    "paper": papers.check_paper,
    "age": papers.check_age,
    "medical": papers.check_medical,
    "knowledge_test": papers.check_knowledge_test,
    "training_received": training.check_training_received,
    "manoeuvres_taught": training.check_manoeuvres_taught,
    "tailwheel_endorsement": aircraft_endorsements.check_tailwheel_endorsement,
    "complex_endorsement": aircraft_endorsements.check_complex_endorsement,
    "high_performance_endorsement": aircraft_endorsements.check_high_performance_endorsement,
    "in_a_row": parts.check_part,
    "most_of_last": parts.check_part,
    "shown_unaided": flying.check_shown_unaided,
    "last_at_level": flying.check_last_at_level,
    "no_take_over": flying.check_no_take_over,
    "no_open_critical_fault": flying.check_no_open_critical_fault,
    "second_instructor": flying.check_second_instructor,
    "consistent": numbers.check_consistent,
    "numbers_inside": numbers.check_numbers_inside,
    "recent_training": recency.check_recent_training,
    "recent_circuit": recency.check_recent_circuit,
}
