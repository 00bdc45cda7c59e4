"""Say in sentences how a draft differs from the issue before it. Pure.

A part is the same one by its code; a unit, which has none, by its title and else by its number.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from decimal import Decimal
from typing import Any

from lessons.rules.gate_rules import GateSetSpec, GateSpec, TargetSpec

Content = Mapping[str, Any]
# What the pages call a field whose name says something else.
FIELD_WORDS = {
    "along_ft": "distance from lift-off",
    "flies_circuits": "circuits flown",
    "from_unit": "first unit",
    "rule": "rule",
    "signs": "signs at the gates",
    "tailwheel_only": "tailwheel types only",
}
HEADING = ("title", "rule", "scale")


def gate_differences(before: GateSetSpec | None, after: GateSetSpec) -> list[str]:
    """Return what is new, gone and changed in the gates of a type; all of it where there were none."""
    if before is None:
        return [f"{len(after.gates)} gates; there were none."]
    lines = [] if before.shape is after.shape else [f"The circuit is {after.shape.label}; it was {before.shape.label}."]
    old = {gate.code: gate for gate in before.gates}
    new = {gate.code: gate for gate in after.gates}
    lines += [f"{gate.name}: new." for code, gate in new.items() if code not in old]
    lines += [f"{gate.name}: no longer there." for code, gate in old.items() if code not in new]
    for code, gate in new.items():
        if code in old and gate != old[code]:
            lines += [f"{gate.name}: {words}." for words in _gate_changes(old[code], gate)]
    if not lines and before.gates != after.gates:
        lines.append("The gates are in another order.")
    return lines


def _gate_changes(old: GateSpec, new: GateSpec) -> Iterator[str]:
    if old.along_ft != new.along_ft:
        yield f"{new.along_ft} ft from lift-off; it was {old.along_ft} ft"
    for name in ("name", "phase", "leg", "configuration", "where"):
        was, will = getattr(old, name), getattr(new, name)
        if was != will:
            yield f"{name} “{_word(will)}”; it was “{_word(was)}”"
    targets = {row.quantity: row for row in old.targets}
    wanted = {row.quantity: row for row in new.targets}
    for quantity in [*wanted, *(name for name in targets if name not in wanted)]:
        if targets.get(quantity) != wanted.get(quantity):
            yield f"{quantity} {_target_words(wanted.get(quantity))}; it was {_target_words(targets.get(quantity))}"


def _word(value: object) -> str:
    return str(getattr(value, "label", value)) or "nothing"


def _target_words(target: TargetSpec | None) -> str:
    if target is None:
        return "not asked for"
    gust = ", plus half the gust" if target.wind_rule == "half_gust" else ""
    return f"{_number(target.value)} {target.unit} +{_number(target.over)} −{_number(target.under)}{gust}"


def _number(value: Decimal) -> str:
    return f"{value.normalize():f}"


def syllabus_differences(before: Content | None, after: Content) -> list[str]:
    """Return what is new, gone and changed in a syllabus, by its file form; all of it where there was no issue."""
    if before is None:
        return [f"{len(_units(after))} units; this is the first issue."]
    lines = [
        f"{name.capitalize()}: “{after.get(name)}”; it was “{before.get(name)}”."
        for name in HEADING
        if before.get(name) != after.get(name)
    ]
    old, new = _units(before), _units(after)
    for unit in new:
        lines += _unit_changes(_same_unit(unit, old), unit)
    kept = [_same_unit(unit, old) for unit in new]
    lines += [f"Unit {unit['number']}, {unit['title']}: no longer there." for unit in old if unit not in kept]
    for part, code, word, name in (
        ("manoeuvres", "code", "Manoeuvre", "title"),
        ("faults", "code", "Fault", "name"),
        ("items", "code", "Item", "code"),
    ):
        lines += _changes_by_key(before.get(part, []), after.get(part, []), code, lambda row: f"{word} {row[name]}")  # noqa: B023 - called at once
    stages = [(row["number"], row["title"]) for row in before.get("stages", [])]
    if stages != [(row["number"], row["title"]) for row in after.get("stages", [])]:
        lines.append("The stages have other numbers or titles.")
    return lines


def _units(content: Content) -> list[Content]:
    return [unit | {"stage": stage["number"]} for stage in content.get("stages", []) for unit in stage["units"]]


def _same_unit(unit: Content, among: Sequence[Content]) -> Content | None:
    titled = [row for row in among if row["title"] == unit["title"]]
    return next(iter(titled or [row for row in among if row["number"] == unit["number"]]), None)


def _unit_changes(old: Content | None, new: Content) -> Iterator[str]:
    name = f"Unit {new['number']}, {new['title']}"
    if old is None:
        yield f"{name}: new."
        return
    if old["number"] != new["number"]:
        yield f"{name}: it was unit {old['number']}."
    if changed := [field for field in _changed_fields(old, new) if field != "number"]:
        yield f"{name}: {', '.join(changed)} changed."


def _changes_by_key(
    before: Sequence[Content], after: Sequence[Content], key: str, name: Callable[[Content], str]
) -> Iterator[str]:
    old, new = {row[key]: row for row in before}, {row[key]: row for row in after}
    yield from (f"{name(row)}: new." for code, row in new.items() if code not in old)
    yield from (f"{name(row)}: no longer there." for code, row in old.items() if code not in new)
    for code, row in new.items():
        if code in old and (changed := _changed_fields(old[code], row)):
            yield f"{name(row)}: {', '.join(changed)} changed."
    if [*old] != [*new] and set(old) == set(new):
        yield f"{name(after[0]).split()[0]}s: in another order."


def _changed_fields(old: Content, new: Content) -> list[str]:
    names = [*new, *(name for name in old if name not in new)]
    return [FIELD_WORDS.get(name, name.replace("_", " ")) for name in names if old.get(name) != new.get(name)]
