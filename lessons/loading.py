"""Loads a syllabus, or an aircraft type with its gates, from the JSON files under fixtures/.

A published issue never changes: loading one that is there already leaves it as it is.
"""

import json
from datetime import date
from pathlib import Path
from typing import Any

from django.db import transaction

from lessons.models import (
    Criterion,
    Fault,
    Gate,
    GateSet,
    GateTarget,
    Manoeuvre,
    Stage,
    Syllabus,
    TrainingItem,
    Unit,
    UnitManoeuvre,
)
from school.models import AircraftType


@transaction.atomic
def load_syllabus(path: Path, *, published_on: date) -> Syllabus:
    content = json.loads(path.read_text())
    known = Syllabus.objects.filter(code=content["code"], issue=content["issue"]).first()
    if known:
        return known
    syllabus = Syllabus.objects.create(
        code=content["code"],
        issue=content["issue"],
        title=content["title"],
        rule=content["rule"],
        published_on=published_on,
    )
    for order, item in enumerate(content["items"]):
        TrainingItem.objects.create(syllabus=syllabus, order=order, **item)
    manoeuvres = {row["code"]: _manoeuvre(syllabus, order, row) for order, row in enumerate(content["manoeuvres"])}
    for order, row in enumerate(content["faults"]):
        _fault(syllabus, order, row, manoeuvres)
    for row in content["stages"]:
        stage = Stage.objects.create(syllabus=syllabus, number=row["number"], title=row["title"])
        for unit in row["units"]:
            _unit(stage, unit, manoeuvres)
    return syllabus


def _manoeuvre(syllabus: Syllabus, order: int, row: dict[str, Any]) -> Manoeuvre:
    manoeuvre = Manoeuvre.objects.create(
        syllabus=syllabus,
        order=order,
        code=row["code"],
        title=row["title"],
        phase=row["phase"],
        items=row["items"],
        reference=row.get("reference") or "",
    )
    Criterion.objects.bulk_create(
        Criterion(
            manoeuvre=manoeuvre,
            order=place,
            code=criterion["code"],
            text=criterion["text"],
            kind=criterion["kind"],
            gate=criterion.get("gate") or "",
            quantity=criterion.get("quantity") or "",
            from_unit=criterion.get("from_unit"),
        )
        for place, criterion in enumerate(row["criteria"])
    )
    return manoeuvre


def _fault(syllabus: Syllabus, order: int, row: dict[str, Any], manoeuvres: dict[str, Manoeuvre]) -> None:
    words = {key: row[key] for key in ("code", "name", "critical", "cause", "cure", "source")}
    fault = Fault.objects.create(syllabus=syllabus, order=order, **words)
    fault.manoeuvres.set(manoeuvres[code] for code in row["manoeuvres"])


def _unit(stage: Stage, row: dict[str, Any], manoeuvres: dict[str, Manoeuvre]) -> None:
    words = ("number", "title", "kind", "aim", "brief", "exercises", "ending", "flies_circuits")
    unit = Unit.objects.create(stage=stage, **{key: row[key] for key in words})
    UnitManoeuvre.objects.bulk_create(
        UnitManoeuvre(
            unit=unit,
            manoeuvre=manoeuvres[graded["code"]],
            order=order,
            expected=graded["expected"],
            compulsory=graded["compulsory"],
        )
        for order, graded in enumerate(row["manoeuvres"])
    )


@transaction.atomic
def load_aircraft_type(path: Path) -> AircraftType:
    content = json.loads(path.read_text())
    fields = (
        "name",
        "tailwheel",
        "retractable",
        "constant_speed_propeller",
        "stall_landing_kt",
        "stall_clean_kt",
        "demonstrated_crosswind_kt",
    )
    aircraft_type, _ = AircraftType.objects.get_or_create(
        code=content["code"], defaults={field: content[field] for field in fields}
    )
    load_gates(aircraft_type, content["gate_set"])
    return aircraft_type


@transaction.atomic
def load_gates(aircraft_type: AircraftType, content: dict[str, Any]) -> GateSet:
    """One issue of a type's gates, from its JSON form (fixtures/aircraft/*.json, key gate_set)."""
    gate_set, new = GateSet.objects.get_or_create(
        aircraft_type=aircraft_type, issue=content["issue"], defaults={"valid_from": content["valid_from"]}
    )
    if not new:
        return gate_set
    words = ("code", "name", "phase", "order", "configuration", "where", "along_ft")
    for row in content["gates"]:
        gate = Gate.objects.create(gate_set=gate_set, **{key: row[key] for key in words})
        GateTarget.objects.bulk_create(GateTarget(gate=gate, **target) for target in row["targets"])
    return gate_set
