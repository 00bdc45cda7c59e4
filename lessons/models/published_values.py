"""Values of published rows, which a process may cache and its threads may share.

A model instance can be written in and collects related rows as it is read, so two threads must never share one. A
value has the attributes of its model, cannot be changed, and builds an instance of its own where one is needed.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from functools import cache, lru_cache
from types import MappingProxyType
from typing import Any, ClassVar, Generic, Self, TypeVar

from django.db import DEFAULT_DB_ALIAS, models

# From their own modules: lessons.models imports this one by way of lesson.py.
from lessons.models.gates import Gate, GateTarget
from lessons.models.scales import GradeScale
from lessons.models.syllabus import Criterion, Fault, Manoeuvre, Stage, Syllabus, TrainingItem, Unit, UnitManoeuvre

# As many as published_content caches: 64 issues of twenty units.
MAX_CACHED_UNITS = 1280
Row = TypeVar("Row", bound=models.Model)


def _freeze(value: Any) -> Any:
    """Copy what a JSON or an array column holds into values that cannot be changed."""
    if isinstance(value, list):
        return tuple(map(_freeze, value))
    if isinstance(value, dict):
        return MappingProxyType({key: _freeze(each) for key, each in value.items()})
    return value


def _thaw(value: Any) -> Any:
    """Copy a frozen value back into lists and dicts that belong to one instance alone."""
    if isinstance(value, tuple):
        return list(map(_thaw, value))
    if isinstance(value, MappingProxyType):
        return {key: _thaw(each) for key, each in value.items()}
    return value


# eq=False: the generated comparison would go through every field and every related value.
@dataclass(frozen=True, eq=False)
class PublishedRow(Generic[Row]):
    """The columns of one row under the names of its model, and the values of the rows that `relations` names.

    Like two instances of a model, two values are equal where they are of the same row.
    """

    id: int

    model: ClassVar[type[models.Model]]
    relations: ClassVar[Mapping[str, type["PublishedRow[Any]"]]] = {}

    @property
    def pk(self) -> int:
        return self.id

    def __eq__(self, other: object) -> bool:
        return isinstance(other, PublishedRow) and self.model is other.model and self.id == other.id

    def __hash__(self) -> int:
        return hash(self.id)

    def __str__(self) -> str:
        return self.model.__str__(self)  # it has the attributes that the text of the model reads

    @classmethod
    def from_row(cls, row: models.Model, **more: Any) -> Self:
        """Copy a row as it was read; `more`: fields that are no columns of it."""
        columns = {name: _freeze(getattr(row, name)) for name in _columns(cls.model)}
        related: dict[str, Any] = {name: value.from_row(getattr(row, name)) for name, value in cls.relations.items()}
        return cls(**columns, **related, **more)

    def to_model(self) -> Row:
        """Build an instance that nobody else has, with its related rows, without a query."""
        columns = _columns(self.model)
        # from_db() and not the class: the instance counts as read, so saving it updates its row and inserts none.
        row = self.model.from_db(DEFAULT_DB_ALIAS, columns, [_thaw(getattr(self, name)) for name in columns])
        for name in self.relations:
            setattr(row, name, getattr(self, name).to_model())
        return row  # type: ignore[return-value] # `model` is the class that Row names


@cache
def _columns(model: type[models.Model]) -> tuple[str, ...]:
    return tuple(field.attname for field in model._meta.concrete_fields)


@dataclass(frozen=True, eq=False)
class PublishedScale(PublishedRow[GradeScale]):
    model = GradeScale

    code: str
    issue: int
    title: str
    rule: str
    solo: str
    steps: tuple[Mapping[str, str], ...]


@dataclass(frozen=True, eq=False)
class PublishedSyllabus(PublishedRow[Syllabus]):
    model = Syllabus
    relations = MappingProxyType({"scale": PublishedScale})

    code: str
    issue: int
    title: str
    rule: str
    scale_id: int
    published_on: Any
    scale: PublishedScale


@dataclass(frozen=True, eq=False)
class PublishedStage(PublishedRow[Stage]):
    model = Stage
    relations = MappingProxyType({"syllabus": PublishedSyllabus})

    syllabus_id: int
    number: int
    title: str
    syllabus: PublishedSyllabus


@dataclass(frozen=True, eq=False)
class PublishedManoeuvre(PublishedRow[Manoeuvre]):
    model = Manoeuvre

    syllabus_id: int
    code: str
    order: int
    title: str
    phase: str
    items: tuple[str, ...]
    tailwheel_only: bool
    reference: str


@dataclass(frozen=True, eq=False)
class PublishedUnitManoeuvre(PublishedRow[UnitManoeuvre]):
    model = UnitManoeuvre
    relations = MappingProxyType({"manoeuvre": PublishedManoeuvre})

    unit_id: int
    manoeuvre_id: int
    order: int
    expected: str
    compulsory: bool
    manoeuvre: PublishedManoeuvre


@dataclass(frozen=True, eq=False)
class PublishedUnit(PublishedRow[Unit]):
    """Hold a unit. `compulsory`: what must be graded in it, in its order; empty where only the unit was asked for."""

    model = Unit
    relations = MappingProxyType({"stage": PublishedStage})

    stage_id: int
    number: int
    title: str
    kind: str
    aim: str
    brief: str
    exercises: str
    flies_circuits: bool
    ending: str
    stage: PublishedStage
    compulsory: tuple[PublishedUnitManoeuvre, ...] = field(default=())


@dataclass(frozen=True, eq=False)
class PublishedCriterion(PublishedRow[Criterion]):
    model = Criterion
    relations = MappingProxyType({"manoeuvre": PublishedManoeuvre})

    manoeuvre_id: int
    code: str
    order: int
    text: str
    kind: str
    gate: str
    quantity: str
    from_unit: int | None
    gear: str
    manoeuvre: PublishedManoeuvre


@dataclass(frozen=True, eq=False)
class PublishedFault(PublishedRow[Fault]):
    model = Fault

    syllabus_id: int
    code: str
    order: int
    name: str
    critical: bool
    gear: str
    cause: str
    cure: str
    source: str
    signs: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class PublishedItem(PublishedRow[TrainingItem]):
    model = TrainingItem

    syllabus_id: int
    code: str
    order: int
    text: str


@dataclass(frozen=True, eq=False)
class PublishedGate(PublishedRow[Gate]):
    model = Gate

    gate_set_id: int
    code: str
    name: str
    phase: str
    order: int
    leg: str
    configuration: str
    where: str
    along_ft: int


@dataclass(frozen=True, eq=False)
class PublishedTarget(PublishedRow[GateTarget]):
    model = GateTarget
    relations = MappingProxyType({"gate": PublishedGate})

    gate_id: int
    quantity: str
    value: Decimal
    over: Decimal
    under: Decimal
    unit: str
    wind_rule: str
    gate: PublishedGate


@lru_cache(maxsize=MAX_CACHED_UNITS)
def get_unit(pk: int) -> PublishedUnit:
    """Return a unit with its stage, its syllabus and its scale."""
    return PublishedUnit.from_row(Unit.objects.select_related("stage__syllabus__scale").get(pk=pk))
