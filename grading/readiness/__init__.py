"""The readiness engine: facts and a standard in, a verdict with every reason out.

Pure: standard library only, no Django, no clock, no query. The verdict advises; a person decides.
"""

from grading.readiness.assess import assess
from grading.readiness.dates import medical_expiry
from grading.readiness.facts import Facts
from grading.readiness.standard import RequirementSpec, Standard, StandardError
from grading.readiness.verdict import Evidence, Outcome, State, Verdict

__all__ = [
    "Evidence",
    "Facts",
    "Outcome",
    "RequirementSpec",
    "Standard",
    "StandardError",
    "State",
    "Verdict",
    "assess",
    "medical_expiry",
]
