from grading.models.attempt import Attempt, CriterionSeen, FaultSeen, Grade, Measure, Tap
from grading.models.decision import Release, SetAside, Standard, StoredVerdict
from grading.models.record import ProgressSheet, Seal, Signature

__all__ = [
    "Attempt",
    "CriterionSeen",
    "FaultSeen",
    "Grade",
    "Measure",
    "ProgressSheet",
    "Release",
    "Seal",
    "SetAside",
    "Signature",
    "Standard",
    "StoredVerdict",
    "Tap",
]
