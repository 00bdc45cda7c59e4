"""What a published issue offers, read once a process: the database lets nothing of it change.

The rows are shared by everybody who asks: read them, never write in them. Keys are those of published issues only.
"""

from collections import defaultdict
from functools import lru_cache

from django.db.models import Prefetch

# From their own modules: a lesson asks for its unit here.
from lessons.models.gates import GateTarget
from lessons.models.syllabus import Criterion, Fault, Manoeuvre, TrainingItem, Unit, UnitManoeuvre

MAX_CACHED_ISSUES = 64


@lru_cache(maxsize=MAX_CACHED_ISSUES)
def syllabus_units(syllabus_id: int) -> tuple[Unit, ...]:
    """In their order, each with what must be graded in it as `needed`."""
    needed = UnitManoeuvre.objects.filter(compulsory=True).select_related("manoeuvre").order_by("order")
    rows = Unit.objects.filter(stage__syllabus=syllabus_id).select_related("stage")
    rows = rows.prefetch_related(Prefetch("graded", queryset=needed, to_attr="compulsory"))
    return tuple(rows.order_by("stage__number", "number"))


@lru_cache(maxsize=MAX_CACHED_ISSUES * 20)
def get_unit(pk: int) -> Unit:
    """With its stage, its syllabus and its scale."""
    return Unit.objects.select_related("stage__syllabus__scale").get(pk=pk)


@lru_cache(maxsize=MAX_CACHED_ISSUES * 20)
def unit_manoeuvres(unit_id: int) -> tuple[UnitManoeuvre, ...]:
    """What a unit grades, in its order."""
    return tuple(UnitManoeuvre.objects.filter(unit=unit_id).select_related("manoeuvre").order_by("order"))


@lru_cache(maxsize=MAX_CACHED_ISSUES)
def manoeuvres_by_code(syllabus_id: int) -> dict[str, Manoeuvre]:
    """By code."""
    return {row.code: row for row in Manoeuvre.objects.filter(syllabus=syllabus_id)}


@lru_cache(maxsize=MAX_CACHED_ISSUES)
def manoeuvres_by_pk(syllabus_id: int) -> dict[int, Manoeuvre]:
    return {row.pk: row for row in manoeuvres_by_code(syllabus_id).values()}


@lru_cache(maxsize=MAX_CACHED_ISSUES)
def criteria_by_pk(syllabus_id: int) -> dict[int, Criterion]:
    return {row.pk: row for row in syllabus_criteria(syllabus_id)}


@lru_cache(maxsize=MAX_CACHED_ISSUES)
def faults_by_pk(syllabus_id: int) -> dict[int, Fault]:
    return {row.pk: row for row in Fault.objects.filter(syllabus=syllabus_id)}


@lru_cache(maxsize=MAX_CACHED_ISSUES)
def training_items(syllabus_id: int) -> tuple[TrainingItem, ...]:
    return tuple(TrainingItem.objects.filter(syllabus=syllabus_id).order_by("order"))


@lru_cache(maxsize=MAX_CACHED_ISSUES)
def syllabus_criteria(syllabus_id: int) -> tuple[Criterion, ...]:
    """Observed and measured ones, each with its manoeuvre."""
    rows = Criterion.objects.filter(manoeuvre__syllabus=syllabus_id).select_related("manoeuvre")
    return tuple(rows.order_by("order", "pk"))


@lru_cache(maxsize=MAX_CACHED_ISSUES)
def faults_by_manoeuvre(syllabus_id: int) -> dict[str, tuple[Fault, ...]]:
    """By code of the manoeuvre they are seen in, in their order."""
    grouped: dict[str, list[Fault]] = defaultdict(list)
    for fault in Fault.objects.filter(syllabus=syllabus_id).order_by("order").prefetch_related("manoeuvres"):
        for manoeuvre in fault.manoeuvres.all():
            grouped[manoeuvre.code].append(fault)
    return {code: tuple(faults) for code, faults in grouped.items()}


@lru_cache(maxsize=MAX_CACHED_ISSUES)
def gate_targets(gate_set_id: int) -> tuple[GateTarget, ...]:
    """In the order in which their gates are flown."""
    rows = GateTarget.objects.filter(gate__gate_set=gate_set_id).select_related("gate")
    return tuple(rows.order_by("gate__order", "pk"))
