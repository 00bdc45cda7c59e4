from lessons.models.discarded import DiscardedLesson
from lessons.models.drafts import GateDraft, SyllabusDraft
from lessons.models.earlier import AMOUNT_FIELDS, CreditDecision, CreditedUnit, EarlierTraining
from lessons.models.enrolment import Endorsement, Enrolment, KnowledgeTest
from lessons.models.gates import Gate, GateSet, GateTarget
from lessons.models.lesson import Circuit, Lesson, WindReference
from lessons.models.moves import SyllabusMove, UnitMapping
from lessons.models.scales import GradeScale
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
    "AMOUNT_FIELDS",
    "Circuit",
    "CreditDecision",
    "CreditedUnit",
    "Criterion",
    "DiscardedLesson",
    "EarlierTraining",
    "Endorsement",
    "Enrolment",
    "Fault",
    "Gate",
    "GateDraft",
    "GateSet",
    "GateTarget",
    "GradeScale",
    "KnowledgeTest",
    "Lesson",
    "Manoeuvre",
    "Stage",
    "Syllabus",
    "SyllabusDraft",
    "SyllabusMove",
    "TrainingItem",
    "Unit",
    "UnitManoeuvre",
    "UnitMapping",
    "WindReference",
]
