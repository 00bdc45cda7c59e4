"""Narrow the JSON Schema of the facts by the tables of contradictions.py, so that it refuses what the reader refuses.

A schema sees one field at a time, or the fields of one object beside fixed values: what compares two values stays with
the reader. JSON Schema 2020-12.
"""

from typing import Any

from grading.rules.readiness.contradictions import AMOUNTS, CODES, FIRST_YEAR, LAST_YEAR, WORDS, WORDS_OR_NOTHING
from lessons.rules.gate_rules import QUANTITY_UNITS
from lessons.rules.scale import Part

YEARS = "|".join((*(f"{century}[0-9]{{2}}" for century in range(FIRST_YEAR // 100, LAST_YEAR // 100)), str(LAST_YEAR)))
# Not “$”, which some dialects let stand before a last line feed.
END = r"(?![\s\S])"
DAY = f"^({YEARS})-[0-9]{{2}}-[0-9]{{2}}{END}"
WORDS_PATTERN = rf"^\S([\s\S]*\S)?{END}"
WORDS_PATTERN_OR_NOTHING = rf"^(\S([\s\S]*\S)?)?{END}"

_MEDICAL = {"properties": {"kind": {"const": "medical"}}}
_WITH_CLASS = {"properties": {"medical_class": {"type": "string"}}, "required": ["medical_class"]}
_WITHOUT_CLASS = {"properties": {"medical_class": {"type": "null"}}}

# What one field says of another, by the name of the object.
BESIDE: dict[str, dict[str, Any]] = {
    "PaperFact": {"if": _MEDICAL, "then": _WITH_CLASS, "else": _WITHOUT_CLASS},
    "CircuitFact": {
        "allOf": [{"properties": {part: {"properties": {"manoeuvre": {"const": part.value}}}}} for part in Part]
    },
    "GateNumberFact": {
        "anyOf": [
            {"properties": {"quantity": {"const": quantity}, "unit": {"enum": list(units)}}}
            for quantity, units in QUANTITY_UNITS.items()
        ]
    },
}


def strict_schema(schema: dict[str, Any]) -> dict[str, Any]:
    """Return the schema of the types with every bound and closed list in it, and no other field at any depth."""
    limits = _limits()
    return schema | {"$defs": {name: _narrow(name, form, limits) for name, form in schema["$defs"].items()}}


def _limits() -> dict[tuple[str, str], dict[str, Any]]:
    """Return what the tables say of each field, by the name of its object and its own."""
    limits: dict[tuple[str, str], dict[str, Any]] = {}
    for (kind, name), (least, most) in AMOUNTS.items():
        limits[kind.__name__, name] = {"minimum": least, "maximum": most}
    for (kind, name), codes in CODES.items():
        limits[kind.__name__, name] = {"enum": list(codes)}
    for kind, name in WORDS:
        empty = (kind, name) in WORDS_OR_NOTHING
        limits[kind.__name__, name] = {"pattern": WORDS_PATTERN_OR_NOTHING if empty else WORDS_PATTERN}
    return limits


def _narrow(name: str, form: dict[str, Any], limits: dict[tuple[str, str], dict[str, Any]]) -> dict[str, Any]:
    if "properties" not in form:
        return form
    fields = {key: _narrow_field(field, limits.get((name, key), {})) for key, field in form["properties"].items()}
    return form | {"properties": fields, "additionalProperties": False} | BESIDE.get(name, {})


def _narrow_field(field: dict[str, Any], limit: dict[str, Any]) -> dict[str, Any]:
    if "anyOf" in field:
        return field | {"anyOf": [_narrow_field(choice, limit) for choice in field["anyOf"]]}
    if field.get("type") == "array":
        return field | {"items": _narrow_field(field["items"], limit)}
    if field.get("format") == "date":
        return field | {"pattern": DAY}
    return field | limit if field.get("type") in {"string", "integer", "number"} else field
