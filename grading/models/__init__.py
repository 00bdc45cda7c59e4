from grading.models.attempt import Attempt, CriterionSeen, FaultSeen, Grade, Measure, Tap
from grading.models.decision import Release, SetAside, Standard, StoredVerdict
from grading.models.device import DeviceEvent
from grading.models.erasure import Erasure
from grading.models.flight_track import FlightTrack, TrackTerm
from grading.models.own_view import OwnView
from grading.models.print_run import JobReport, PrintRun, PrintRunItem
from grading.models.received import EarlierEvidence, PendingUpload, ReceivedBatch, ReceivedRecord
from grading.models.record import LogbookForm, RecordCheck, Seal, Sheet, Signature
from grading.models.settled_finding import SettledFinding
from grading.models.track_upload import TrackUpload

__all__ = [
    "Attempt",
    "CriterionSeen",
    "DeviceEvent",
    "EarlierEvidence",
    "Erasure",
    "FaultSeen",
    "FlightTrack",
    "Grade",
    "JobReport",
    "LogbookForm",
    "Measure",
    "OwnView",
    "PendingUpload",
    "PrintRun",
    "PrintRunItem",
    "ReceivedBatch",
    "ReceivedRecord",
    "RecordCheck",
    "Release",
    "Seal",
    "SetAside",
    "SettledFinding",
    "Sheet",
    "Signature",
    "Standard",
    "StoredVerdict",
    "Tap",
    "TrackTerm",
    "TrackUpload",
]
