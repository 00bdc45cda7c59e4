"""Load syllabuses, grade scales and aircraft types with their gates from their file form.

A published issue never changes, which the database enforces: an issue that exists already is left as it is.
"""

import json
from datetime import date
from pathlib import Path
from typing import Any

import msgspec
from django.db import transaction
from django.db.models import Prefetch

from lessons import published_content
from lessons.models import (
    Criterion,
    Fault,
    Gate,
    GateSet,
    GateTarget,
    GradeScale,
    Manoeuvre,
    Stage,
    Syllabus,
    TrainingItem,
    Unit,
    UnitManoeuvre,
)
from lessons.rules.gate_rules import GateSetSpec, GateSpec, RunwayLength, StallSpeeds
from lessons.syllabus_file import FaultForm, ManoeuvreForm, StageForm, SyllabusForm, UnitForm, parse_syllabus
from school.errors import Refusal
from school.models import AircraftType, Runway, School


@transaction.atomic
def load_scale(content: dict[str, Any]) -> GradeScale:
    """Load a scale from its JSON form (fixtures/scales/*.json). Raises ScaleError for one that cannot be used."""
    known = GradeScale.objects.filter(code=content["code"], issue=content["issue"]).first()
    if known:
        return known
    row = GradeScale(**content)
    row.scale  # noqa: B018 - builds the scale, which refuses one that makes no sense
    row.save()
    return row


def load_scales(folder: Path) -> None:
    for path in sorted(folder.glob("*.json")):
        load_scale(json.loads(path.read_text()))


def load_syllabus(path: Path, *, published_on: date) -> Syllabus:
    """Load a syllabus from YAML or JSON. Raises InvalidSyllabusFile, with line and field, and loads nothing."""
    return publish_syllabus(parse_syllabus(path.read_text()), published_on=published_on)


@transaction.atomic
def publish_syllabus(form: SyllabusForm, *, published_on: date) -> Syllabus:
    known = Syllabus.objects.filter(code=form.code, issue=form.issue).first()
    if known:
        return known
    # A file names a scale without its issue: what is published now is graded by the newest.
    scale = GradeScale.objects.filter(code=form.scale).order_by("-issue").first()
    if scale is None:
        raise Refusal(f"There is no grade scale with the code “{form.scale}” here.")
    # published_on is set last: the triggers of the database refuse new parts once an issue is published.
    syllabus = Syllabus.objects.create(
        code=form.code, issue=form.issue, title=form.title, rule=form.rule, scale=scale, published_on=None
    )
    TrainingItem.objects.bulk_create(
        TrainingItem(syllabus=syllabus, order=order, code=item.code, text=item.text)
        for order, item in enumerate(form.items)
    )
    manoeuvres = _create_manoeuvres(syllabus, form.manoeuvres)
    _create_faults(syllabus, form.faults, manoeuvres)
    _create_stages(syllabus, form.stages, manoeuvres)
    syllabus.published_on = published_on
    syllabus.save(update_fields=["published_on"])
    # After the commit: cleared before it, another thread could cache again what was there before.
    transaction.on_commit(published_content.clear)
    return syllabus


def _create_manoeuvres(syllabus: Syllabus, rows: list[ManoeuvreForm]) -> dict[str, Manoeuvre]:
    words = ("code", "title", "phase", "items", "tailwheel_only", "reference")
    # PostgreSQL returns the new keys in the order of the rows, so criteria find their manoeuvre by zip().
    manoeuvres = Manoeuvre.objects.bulk_create(
        Manoeuvre(syllabus=syllabus, order=order, **_pick(row, *words)) for order, row in enumerate(rows)
    )
    Criterion.objects.bulk_create(
        Criterion(
            manoeuvre=manoeuvre,
            order=place,
            gate=criterion.gate or "",
            quantity=criterion.quantity or "",
            gear=criterion.gear.value,
            **_pick(criterion, "code", "text", "kind", "from_unit"),
        )
        for manoeuvre, row in zip(manoeuvres, rows, strict=True)
        for place, criterion in enumerate(row.criteria)
    )
    return {row.code: row for row in manoeuvres}


def _create_faults(syllabus: Syllabus, rows: list[FaultForm], manoeuvres: dict[str, Manoeuvre]) -> None:
    words = ("code", "name", "critical", "cause", "cure", "source", "signs")
    faults = Fault.objects.bulk_create(
        Fault(syllabus=syllabus, order=order, gear=row.gear.value, **_pick(row, *words))
        for order, row in enumerate(rows)
    )
    link = Fault.manoeuvres.through
    link.objects.bulk_create(
        link(fault_id=fault.pk, manoeuvre_id=manoeuvres[code].pk)
        for fault, row in zip(faults, rows, strict=True)
        for code in row.manoeuvres
    )


def _create_stages(syllabus: Syllabus, rows: list[StageForm], manoeuvres: dict[str, Manoeuvre]) -> None:
    stages = Stage.objects.bulk_create(Stage(syllabus=syllabus, number=row.number, title=row.title) for row in rows)
    forms = [(stage, unit) for stage, row in zip(stages, rows, strict=True) for unit in row.units]
    units = Unit.objects.bulk_create(_build_unit(stage, row) for stage, row in forms)
    UnitManoeuvre.objects.bulk_create(
        UnitManoeuvre(
            unit=unit,
            manoeuvre=manoeuvres[graded.code],
            order=order,
            expected=graded.expected,
            compulsory=graded.compulsory,
        )
        for unit, (_, row) in zip(units, forms, strict=True)
        for order, graded in enumerate(row.manoeuvres)
    )


def _build_unit(stage: Stage, row: UnitForm) -> Unit:
    words = ("number", "title", "aim", "brief", "exercises", "flies_circuits")
    return Unit(stage=stage, kind=row.kind.value, ending=row.ending.value, **_pick(row, *words))


def syllabus_form(syllabus: Syllabus) -> SyllabusForm:
    """Return a published issue in its file form. Ten queries."""
    stages = syllabus.stages.order_by("number").prefetch_related(
        Prefetch("units", queryset=Unit.objects.order_by("number")), "units__graded__manoeuvre"
    )
    faults = syllabus.faults.order_by("order").prefetch_related("manoeuvres")
    manoeuvres = syllabus.manoeuvres.order_by("order").prefetch_related("criteria")
    content = {
        "code": syllabus.code,
        "title": syllabus.title,
        "issue": syllabus.issue,
        "rule": syllabus.rule,
        "scale": syllabus.scale.code,
        "items": [{"code": row.code, "text": row.text} for row in syllabus.items.order_by("order")],
        "manoeuvres": [_manoeuvre_content(row) for row in manoeuvres],
        "faults": [_fault_content(row) for row in faults],
        "stages": [
            {"number": row.number, "title": row.title, "units": [_unit_content(unit) for unit in row.units.all()]}
            for row in stages
        ],
    }
    return msgspec.convert(content, SyllabusForm)


def _pick(row: Any, *names: str) -> dict[str, Any]:
    return {name: getattr(row, name) for name in names}


def _manoeuvre_content(row: Manoeuvre) -> dict[str, Any]:
    criteria = [
        _pick(criterion, "code", "text", "kind", "from_unit", "gear")
        | {"gate": criterion.gate or None, "quantity": criterion.quantity or None}
        # Sorted here: order_by() would pass over what was prefetched and ask once for each manoeuvre.
        for criterion in sorted(row.criteria.all(), key=lambda row: row.order)
    ]
    words = _pick(row, "code", "title", "phase", "items", "tailwheel_only", "reference")
    return words | {"criteria": criteria}


def _fault_content(row: Fault) -> dict[str, Any]:
    manoeuvres = sorted(row.manoeuvres.all(), key=lambda manoeuvre: manoeuvre.order)
    words = _pick(row, "code", "name", "critical", "gear", "cause", "cure", "source", "signs")
    return words | {"manoeuvres": [manoeuvre.code for manoeuvre in manoeuvres]}


def _unit_content(row: Unit) -> dict[str, Any]:
    words = _pick(row, "number", "title", "kind", "aim", "brief", "exercises", "flies_circuits", "ending")
    graded = sorted(row.graded.all(), key=lambda found: found.order)
    return words | {
        "manoeuvres": [_pick(found, "expected", "compulsory") | {"code": found.manoeuvre.code} for found in graded]
    }


@transaction.atomic
def load_aircraft_type(path: Path, *, gates_since: date | None = None) -> AircraftType:
    """Load a type and its gates from a file. `gates_since` replaces the file's day from which the gates are valid."""
    content = json.loads(path.read_text())
    if gates_since is not None:
        content["gate_set"]["valid_from"] = gates_since.isoformat()
    fields = (
        "name",
        "tailwheel",
        "retractable",
        "constant_speed_propeller",
        "flaps",
        "horsepower",
        "stall_landing_kt",
        "stall_clean_kt",
        "demonstrated_crosswind_kt",
    )
    # A type that exists keeps its values: loading a file adds what is missing and changes nothing.
    values = {field: content[field] for field in fields} | {"seats": content.get("seats")}
    aircraft_type, _ = AircraftType.objects.get_or_create(code=content["code"], defaults=values)
    load_gates(aircraft_type, parse_gates(content["gate_set"]))
    return aircraft_type


def parse_gates(content: Any) -> GateSetSpec:
    """Parse one issue of a type's gates from its JSON form (fixtures/aircraft/*.json, key gate_set).

    msgspec.ValidationError names the path of a wrong field.
    """
    return msgspec.convert(content, GateSetSpec, strict=False)


def gate_set_spec(gate_set: GateSet) -> GateSetSpec:
    """Return a published issue of gates in its file form. Two queries."""
    gates = [_gate_content(gate) for gate in gate_set.gates.order_by("order").prefetch_related("targets")]
    content = {
        "issue": gate_set.issue,
        "valid_from": gate_set.valid_from,
        "shape": gate_set.shape,
        "gates": gates,
    }
    return msgspec.convert(content, GateSetSpec, strict=False)


def _gate_content(gate: Gate) -> dict[str, Any]:
    words = ("code", "name", "phase", "leg", "configuration", "where", "along_ft")
    targets = [
        {key: getattr(row, key) for key in ("quantity", "value", "over", "under", "unit", "wind_rule")}
        for row in sorted(gate.targets.all(), key=lambda row: row.pk)
    ]
    return {key: getattr(gate, key) for key in words} | {"targets": targets}


def stall_speeds(aircraft_type: AircraftType) -> StallSpeeds:
    return StallSpeeds(aircraft_type.stall_landing_kt, aircraft_type.stall_clean_kt)


def home_runways() -> list[RunwayLength]:
    """Return the runways of the school's home aerodrome, on one of which a circuit begins. One query."""
    rows = Runway.objects.filter(aerodrome__in=School.objects.values("aerodrome"))
    return [RunwayLength(row.length_ft, row.touchdown_ft) for row in rows]


@transaction.atomic
def load_gates(aircraft_type: AircraftType, form: GateSetSpec) -> GateSet:
    """Publish one issue of a type's gates. The caller has checked them (gate_rules.find_problems)."""
    gate_set, new = GateSet.objects.get_or_create(
        aircraft_type=aircraft_type,
        issue=form.issue,
        defaults={"valid_from": form.valid_from, "shape": form.shape.value},
    )
    if not new:
        return gate_set
    for order, row in enumerate(form.gates, start=1):
        _create_gate(gate_set, order, row)
    # Set last: a trigger refuses further gates of an issue that is published.
    gate_set.published = True
    gate_set.save(update_fields=["published"])
    transaction.on_commit(published_content.clear)
    return gate_set


def _create_gate(gate_set: GateSet, order: int, row: GateSpec) -> None:
    words = ("code", "name", "phase", "configuration", "where", "along_ft")
    gate = Gate.objects.create(
        gate_set=gate_set, order=order, leg=row.leg.value, **{key: getattr(row, key) for key in words}
    )
    keys = ("quantity", "value", "over", "under", "unit", "wind_rule")
    GateTarget.objects.bulk_create(
        GateTarget(gate=gate, **{key: getattr(target, key) for key in keys}) for target in row.targets
    )
