from grading.models.attempt import Attempt, CriterionSeen, FaultSeen, Grade, Measure, Tap
from grading.models.decision import Release, SetAside, Standard, StoredVerdict
from grading.models.device import DeviceEvent
from grading.models.record import Seal, Sheet, Signature

__all__ = [
    "Attempt",
    "CriterionSeen",
    "DeviceEvent",
    "FaultSeen",
    "Grade",
    "Measure",
    "Release",
    "Seal",
    "SetAside",
    "Sheet",
    "Signature",
    "Standard",
    "StoredVerdict",
    "Tap",
]
