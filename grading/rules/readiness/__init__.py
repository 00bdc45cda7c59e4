"""Derive a verdict with every reason from facts and a standard: the readiness engine.

Pure: no Django, no clock, no query. The verdict advises; a person decides.
"""

from grading.rules.readiness.assess import assess
from grading.rules.readiness.dates import medical_expiry
from grading.rules.readiness.facts import Facts
from grading.rules.readiness.standard import RequirementSpec, StandardError, StandardSpec
from grading.rules.readiness.verdict import Evidence, Outcome, State, Verdict

__all__ = [
    "Evidence",
    "Facts",
    "Outcome",
    "RequirementSpec",
    "StandardError",
    "StandardSpec",
    "State",
    "Verdict",
    "assess",
    "medical_expiry",
]
