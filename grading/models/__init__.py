from grading.models.attempt import Attempt, CriterionSeen, FaultSeen, Grade, Measure, Tap
from grading.models.decision import Release, SetAside, Standard, StoredVerdict
from grading.models.received import PendingUpload, ReceivedBatch, ReceivedRecord
from grading.models.record import Seal, Sheet, Signature

__all__ = [
    "Attempt",
    "CriterionSeen",
    "FaultSeen",
    "Grade",
    "Measure",
    "PendingUpload",
    "ReceivedBatch",
    "ReceivedRecord",
    "Release",
    "Seal",
    "SetAside",
    "Sheet",
    "Signature",
    "Standard",
    "StoredVerdict",
    "Tap",
]
