"""How a draft differs from the issue before it: nothing is left out, and an unchanged one has no difference."""

import json
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

from lessons.loading import parse_gates
from lessons.rules.differences import gate_differences, syllabus_differences
from lessons.rules.gate_rules import GateSetSpec

FIXTURES = Path(__file__).resolve().parents[3] / "fixtures"
GATES: GateSetSpec = parse_gates(json.loads((FIXTURES / "aircraft/tailwheel.json").read_text())["gate_set"])
SYLLABUS: dict[str, Any] = json.loads((FIXTURES / "syllabus/first-solo.json").read_text())


def copied() -> dict[str, Any]:
    copy: dict[str, Any] = json.loads(json.dumps(SYLLABUS))
    return copy


def test_the_same_gates_differ_in_nothing_and_another_day_is_no_difference() -> None:
    later = replace(GATES, issue=9, valid_from=GATES.valid_from.replace(year=2031))
    assert gate_differences(GATES, later) == []
    assert gate_differences(None, GATES) == [f"{len(GATES.gates)} gates; there were none."]


def test_each_change_of_a_gate_is_named_with_what_it_was() -> None:
    first, *rest = GATES.gates
    target, *others = first.targets
    higher = replace(target, value=target.value + 10, over=Decimal(40))
    moved = replace(first, along_ft=first.along_ft + 100, configuration="", targets=(higher, *others))
    [distance, configuration, aim] = gate_differences(GATES, replace(GATES, gates=(moved, *rest)))
    assert distance == f"{first.name}: {first.along_ft + 100} ft from lift-off; it was {first.along_ft} ft."
    assert configuration == f"{first.name}: configuration “nothing”; it was “{first.configuration}”."
    assert f"{target.quantity} {higher.value.normalize():f} {target.unit} +40" in aim
    assert f"it was {target.value.normalize():f} {target.unit}" in aim
    fewer = replace(first, targets=tuple(others))
    [gone] = gate_differences(GATES, replace(GATES, gates=(fewer, *rest)))
    assert f"{target.quantity} not asked for; it was" in gone
    assert gate_differences(GATES, replace(GATES, gates=tuple(rest))) == [f"{first.name}: no longer there."]
    new = replace(first, code="another", name="Another")
    assert gate_differences(GATES, replace(GATES, gates=(*GATES.gates, new))) == ["Another: new."]
    assert gate_differences(GATES, replace(GATES, gates=(*rest, first))) == ["The gates are in another order."]


def test_each_change_of_a_syllabus_is_named() -> None:
    assert syllabus_differences(SYLLABUS, copied()) == []
    assert syllabus_differences(None, SYLLABUS)[0].endswith("this is the first issue.")
    content = copied()
    content["title"] = "Another"
    first = content["stages"][0]["units"]
    first.insert(0, first[0] | {"number": 99, "title": "Before the first flight"})
    first[1]["aim"] = "Another aim"
    second = first.pop(2)
    content["manoeuvres"][0]["title"] = "Other words"
    content["faults"][0]["cure"] = "Look further"
    [item] = content["items"][:1]
    content["items"] = content["items"][1:]
    old = SYLLABUS["stages"][0]["units"][0]
    assert syllabus_differences(SYLLABUS, content) == [
        f"Title: “Another”; it was “{SYLLABUS['title']}”.",
        "Unit 99, Before the first flight: new.",
        f"Unit {old['number']}, {old['title']}: aim changed.",
        f"Unit {second['number']}, {second['title']}: no longer there.",
        "Manoeuvre Other words: title changed.",
        f"Fault {SYLLABUS['faults'][0]['name']}: cure changed.",
        f"Item {item['code']}: no longer there.",
    ]
    numbered = copied()
    numbered["stages"][0]["units"][0]["number"] = 50
    numbered["faults"].reverse()
    assert syllabus_differences(SYLLABUS, numbered) == [
        f"Unit 50, {old['title']}: it was unit {old['number']}.",
        "Faults: in another order.",
    ]
