"""Compare a sealed record with the content of the tables now; a pure function of the two."""

import re
from collections.abc import Iterator
from decimal import Decimal
from typing import Any

# Copies that may rightly differ later, each with what holds the thing itself fast.
MAY_CHANGE = (
    r"format",  # of the day of sealing
    r"(student|instructor|endorsed_by|given_by|by)\.name",  # people change names; the school number beside it stays
    r"aircraft_type",  # a type may be renamed; its code stands beside it
    r"aerodrome",  # so may an aerodrome; its code stands beside it
)
# Sealed with the digits that were typed; kept with the digits of its column.
COMPARED_AS_NUMBERS = (r"limits\.min_visibility_sm",)
# Keys that came while a format was in use: what stands for an absent one, None for anything.
ADDED_KEYS: dict[str, Any] = {
    "outside_release": "",
    "kind": "day",
    "endorsement": "",
    "aircraft_type_code": None,
    "aerodrome_code": None,
    "kept": "",
    "by_closing": False,
    "counted": "",
    "landing_kind": "",
    "shown": False,
}
KEYS_SINCE_FORMAT_2 = {
    "scale",
    "step",
    "criteria",
    "target_unit",
    "proposed_step",
    "given_step",
    "north",
    "weather_report",
    "kept",
    "by_closing",
    "counted",
    "landing_kind",
    "shown",
}
# A record that was replaced as a whole would otherwise give a sentence for every field.
MAX_DIFFERENCES = 8


def describe_differences(sealed: dict[str, Any], rebuilt: dict[str, Any]) -> list[str]:
    """Return a sentence for each value that differs, by path: "circuits[1].landing.level was perform, is practice"."""
    if sealed.get("format") == 1:
        # The rebuilt record is reduced and the sealed one left alone: what was sealed is the measure.
        rebuilt = _in_format_1(rebuilt)
    found = list(_compare("", sealed, rebuilt))
    if len(found) > MAX_DIFFERENCES:
        found[MAX_DIFFERENCES:] = [f"and {len(found) - MAX_DIFFERENCES} more differences"]
    return found


def _compare(path: str, was: Any, now: Any) -> Iterator[str]:
    if was == now:
        return
    if isinstance(was, dict) and isinstance(now, dict):
        for key in sorted(was.keys() | now.keys()):
            yield from _compare_key(f"{path}.{key}" if path else key, key, was, now)
    elif isinstance(was, list) and isinstance(now, list):
        if len(was) != len(now):
            yield f"{path} had {len(was)} entries, has {len(now)}"
        # The common part is compared too: an entry may have been altered besides the one that was added or removed.
        for place, (before, after) in enumerate(zip(was, now, strict=False)):
            yield from _compare(f"{path}[{place}]", before, after)
    elif not _is_same(path, was, now):
        yield f"{path} was {_describe_value(was)}, is {_describe_value(now)}"


def _compare_key(path: str, key: str, was: dict[str, Any], now: dict[str, Any]) -> Iterator[str]:
    # The whole path must match: the name inside a signature may not change because a student's name may.
    if any(re.fullmatch(pattern, path) for pattern in MAY_CHANGE):
        return
    if key not in was:
        if key not in ADDED_KEYS or ADDED_KEYS[key] not in (None, now[key]):
            yield f"{path} was not there, is {_describe_value(now[key])}"
    elif key not in now:
        yield f"{path} was {_describe_value(was[key])}, is not there"
    else:
        yield from _compare(path, was[key], now[key])


def _is_same(path: str, was: Any, now: Any) -> bool:
    if any(re.fullmatch(pattern, path) for pattern in COMPARED_AS_NUMBERS):
        return Decimal(was) == Decimal(now)
    return bool(was == now)


def _describe_value(value: Any) -> str:
    if value is None or value == "":
        return "empty"
    text = str(value).lower() if isinstance(value, bool) else str(value)
    # Remarks and drawn signatures are long; the path and the beginning are enough to find the place.
    return text if len(text) <= 120 else f"{text[:120]}…"


def _in_format_1(value: Any) -> Any:
    """Return the record without what came with format 2, and with the wind under its older name."""
    if isinstance(value, list):
        return [_in_format_1(entry) for entry in value]
    if not isinstance(value, dict):
        return value
    kept = {key: _in_format_1(entry) for key, entry in value.items() if key not in KEYS_SINCE_FORMAT_2}
    if value.get("north") == "magnetic":
        kept["from_magnetic"] = kept.pop("from")
    return kept
