"""Cache what a published issue offers, once in each process: the database lets nothing of it change.

Everybody who asks gets the same values, which nobody can change (lessons/models/published_values.py); `to_model()` of
one builds a separate instance. Keys are those of published issues only.
"""

from collections import defaultdict
from collections.abc import Callable, Mapping
from functools import lru_cache
from types import MappingProxyType
from typing import Protocol, TypeVar

from lessons.models import Criterion, Fault, Gate, GateTarget, Manoeuvre, TrainingItem, Unit, UnitManoeuvre
from lessons.models.published_values import (
    PublishedCriterion,
    PublishedFault,
    PublishedGate,
    PublishedItem,
    PublishedManoeuvre,
    PublishedTarget,
    PublishedUnit,
    PublishedUnitManoeuvre,
    get_unit,
)
from lessons.rules.pattern import Shape


class Cached(Protocol):
    """A function with a cache, as `lru_cache` makes one."""

    def cache_clear(self) -> None: ...


CachedFunction = TypeVar("CachedFunction", bound=Cached)

# Bounds the memory of a process; an issue beyond it is only read again.
MAX_CACHED_ISSUES = 64


@lru_cache(maxsize=MAX_CACHED_ISSUES)
def syllabus_units(syllabus_id: int) -> tuple[PublishedUnit, ...]:
    """Return the units in their order, each with what must be graded in it as `compulsory`."""
    graded = UnitManoeuvre.objects.filter(unit__stage__syllabus=syllabus_id, compulsory=True)
    compulsory: dict[int, list[PublishedUnitManoeuvre]] = defaultdict(list)
    for row in graded.select_related("manoeuvre").order_by("order"):
        compulsory[row.unit_id].append(PublishedUnitManoeuvre.from_row(row))
    units = Unit.objects.filter(stage__syllabus=syllabus_id).select_related("stage__syllabus__scale")
    return tuple(
        PublishedUnit.from_row(row, compulsory=tuple(compulsory[row.pk]))
        for row in units.order_by("stage__number", "number")
    )


# Room for twenty units of each issue.
@lru_cache(maxsize=MAX_CACHED_ISSUES * 20)
def unit_manoeuvres(unit_id: int) -> tuple[PublishedUnitManoeuvre, ...]:
    """Return what a unit grades, in its order."""
    rows = UnitManoeuvre.objects.filter(unit=unit_id).select_related("manoeuvre").order_by("order")
    return tuple(map(PublishedUnitManoeuvre.from_row, rows))


@lru_cache(maxsize=MAX_CACHED_ISSUES)
def manoeuvres_by_code(syllabus_id: int) -> Mapping[str, PublishedManoeuvre]:
    rows = Manoeuvre.objects.filter(syllabus=syllabus_id)
    # A read-only view: all threads share this mapping, and in a dict any of them could write.
    return MappingProxyType({row.code: PublishedManoeuvre.from_row(row) for row in rows})


@lru_cache(maxsize=MAX_CACHED_ISSUES)
def manoeuvres_by_pk(syllabus_id: int) -> Mapping[int, PublishedManoeuvre]:
    # From the other cache: one query serves both, and both give the same values.
    return MappingProxyType({row.pk: row for row in manoeuvres_by_code(syllabus_id).values()})


@lru_cache(maxsize=MAX_CACHED_ISSUES)
def criteria_by_pk(syllabus_id: int) -> Mapping[int, PublishedCriterion]:
    return MappingProxyType({row.pk: row for row in syllabus_criteria(syllabus_id)})


@lru_cache(maxsize=MAX_CACHED_ISSUES)
def faults_by_pk(syllabus_id: int) -> Mapping[int, PublishedFault]:
    rows = Fault.objects.filter(syllabus=syllabus_id)
    return MappingProxyType({row.pk: PublishedFault.from_row(row) for row in rows})


@lru_cache(maxsize=MAX_CACHED_ISSUES)
def training_items(syllabus_id: int) -> tuple[PublishedItem, ...]:
    return tuple(map(PublishedItem.from_row, TrainingItem.objects.filter(syllabus=syllabus_id).order_by("order")))


@lru_cache(maxsize=MAX_CACHED_ISSUES)
def syllabus_criteria(syllabus_id: int) -> tuple[PublishedCriterion, ...]:
    """Return the criteria, observed and measured, each with its manoeuvre."""
    rows = Criterion.objects.filter(manoeuvre__syllabus=syllabus_id).select_related("manoeuvre")
    return tuple(map(PublishedCriterion.from_row, rows.order_by("order", "pk")))


@lru_cache(maxsize=MAX_CACHED_ISSUES)
def faults_by_manoeuvre(syllabus_id: int) -> Mapping[str, tuple[PublishedFault, ...]]:
    """Return the faults in their order by the code of the manoeuvre they are seen in."""
    grouped: dict[str, list[PublishedFault]] = defaultdict(list)
    for row in Fault.objects.filter(syllabus=syllabus_id).order_by("order").prefetch_related("manoeuvres"):
        fault = PublishedFault.from_row(row)
        for manoeuvre in row.manoeuvres.all():
            grouped[manoeuvre.code].append(fault)
    return MappingProxyType({code: tuple(faults) for code, faults in grouped.items()})


@lru_cache(maxsize=MAX_CACHED_ISSUES)
def gate_targets(gate_set_id: int) -> tuple[PublishedTarget, ...]:
    """Return the targets in the order in which their gates are flown."""
    rows = GateTarget.objects.filter(gate__gate_set=gate_set_id).select_related("gate")
    return tuple(map(PublishedTarget.from_row, rows.order_by("gate__order", "pk")))


@lru_cache(maxsize=MAX_CACHED_ISSUES)
def gates_in_order(gate_set_id: int) -> tuple[Shape, tuple[PublishedGate, ...]]:
    """Return the shape of a circuit and its gates in the order flown, those without a target too."""
    rows = Gate.objects.filter(gate_set=gate_set_id).select_related("gate_set").order_by("order")
    gates = list(rows)
    shape = Shape(gates[0].gate_set.shape) if gates else Shape.SQUARE
    return shape, tuple(map(PublishedGate.from_row, gates))


_others: list[Callable[[], None]] = []


def cleared_with_these(cached: CachedFunction) -> CachedFunction:
    """Let `clear` empty a cache of published rows of an app above, too."""
    _others.append(cached.cache_clear)
    return cached


def clear() -> None:
    """Forget every value, so that each is read again when it is next asked for."""
    # A cache that is missing here would hide from an audit what was changed past the guards of the database.
    for cached in (
        get_unit,
        syllabus_units,
        unit_manoeuvres,
        manoeuvres_by_code,
        manoeuvres_by_pk,
        criteria_by_pk,
        faults_by_pk,
        training_items,
        syllabus_criteria,
        faults_by_manoeuvre,
        gate_targets,
        gates_in_order,
    ):
        cached.cache_clear()
    for empty in _others:
        empty()
