from lessons.models.enrolment import Endorsement, Enrolment, KnowledgeTest
from lessons.models.gates import Gate, GateSet, GateTarget
from lessons.models.lesson import Circuit, Lesson
from lessons.models.syllabus import (
    Criterion,
    Fault,
    Manoeuvre,
    Stage,
    Syllabus,
    TrainingItem,
    Unit,
    UnitManoeuvre,
)

__all__ = [
    "Circuit",
    "Criterion",
    "Endorsement",
    "Enrolment",
    "Fault",
    "Gate",
    "GateSet",
    "GateTarget",
    "KnowledgeTest",
    "Lesson",
    "Manoeuvre",
    "Stage",
    "Syllabus",
    "TrainingItem",
    "Unit",
    "UnitManoeuvre",
]
