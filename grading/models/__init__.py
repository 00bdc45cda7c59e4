from grading.models.attempt import Attempt, CriterionSeen, FaultSeen, Grade, Measure, Tap
from grading.models.decision import Release, SetAside, Standard, StoredVerdict
from grading.models.print_run import JobReport, PrintRun, PrintRunItem
from grading.models.record import Seal, Sheet, Signature

__all__ = [
    "Attempt",
    "CriterionSeen",
    "FaultSeen",
    "Grade",
    "JobReport",
    "Measure",
    "PrintRun",
    "PrintRunItem",
    "Release",
    "Seal",
    "SetAside",
    "Sheet",
    "Signature",
    "Standard",
    "StoredVerdict",
    "Tap",
]
