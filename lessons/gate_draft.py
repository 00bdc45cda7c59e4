"""Handle gates as they are typed: every field is text, so that an invalid entry is not lost.

{"shape": "oval", "valid_from": "2026-12-01", "gates": [
    {"code": …, "name": …, "phase": …, "leg": …, "along_ft": "7500", "configuration": …, "where": …,
     "height": {"value": "650", "over": "100", "under": "50", "unit": "ft"}, "speed": {… "half_gust": "on"}, …}]}
"""

import re
from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal, InvalidOperation
from typing import Any

from lessons.fields import is_plausible_date
from lessons.rules.gate_rules import (
    PHASES,
    QUANTITY_UNITS,
    GateProblem,
    GateSetSpec,
    GateSpec,
    RunwayLength,
    StallSpeeds,
    TargetSpec,
    find_problems,
)
from lessons.rules.pattern import Leg, Shape

QUANTITIES = tuple(QUANTITY_UNITS)
TEXT_FIELDS = ("code", "name", "phase", "leg", "along_ft", "configuration", "where")
NUMBER_FIELDS = ("value", "over", "under")
# Bounds what one request can make the server parse, check and draw.
MAX_GATES = 30
Raw = dict[str, Any]


def raw_from_spec(form: GateSetSpec) -> Raw:
    return {
        "shape": form.shape.value,
        "valid_from": form.valid_from.isoformat(),
        "gates": [_raw_gate(gate) for gate in form.gates],
    }


def _raw_gate(gate: GateSpec) -> Raw:
    raw: Raw = {word: str(getattr(gate, word)) for word in TEXT_FIELDS}
    for target in gate.targets:
        raw[target.quantity] = {
            # “:f”, because normalize() alone writes 700 as 7E+2.
            **{name: f"{getattr(target, name).normalize():f}" for name in NUMBER_FIELDS},
            "unit": target.unit,
            "half_gust": "on" if target.wind_rule == "half_gust" else "",
        }
    return raw


def empty_gate() -> Raw:
    return {word: "" for word in TEXT_FIELDS} | {"phase": "circuit", "leg": "downwind"}


def raw_from_post(post: Mapping[str, str]) -> Raw:
    """Return a draft from the inputs gate-0-name, gate-0-height-value and so on; a removed gate has no inputs."""
    # Numbers may have gaps: the page does not renumber its inputs when a gate is removed.
    places = sorted({int(found[1]) for name in post if (found := re.match(r"gate-(\d{1,3})-code$", name))})
    gates = []
    for place in places[:MAX_GATES]:
        raw: Raw = {word: post.get(f"gate-{place}-{word}", "").strip() for word in TEXT_FIELDS}
        for quantity in QUANTITIES:
            prefix = f"gate-{place}-{quantity}"
            typed = {name: post.get(f"{prefix}-{name}", "").strip() for name in (*NUMBER_FIELDS, "unit", "half_gust")}
            # A unit alone is no target: without any number the quantity is not asked for at this gate.
            if any(typed[name] for name in NUMBER_FIELDS):
                raw[quantity] = typed
        gates.append(raw)
    return {"shape": post.get("shape", ""), "valid_from": post.get("valid_from", ""), "gates": gates}


def sort_by_distance(raw: Raw) -> Raw:
    """Sort the gates by distance; one without a number stays last."""
    far = float("inf")
    return raw | {
        "gates": sorted(
            raw["gates"], key=lambda gate: _parse_whole(gate["along_ft"]) if _has_whole_distance(gate) else far
        )
    }


def parse_raw(
    raw: Raw, issue: int, speeds: StallSpeeds, runways: Sequence[RunwayLength] = ()
) -> tuple[GateSetSpec | None, list[GateProblem]]:
    """Return the gates and every problem that prevents publishing; None for the gates if a field is no number."""
    problems: list[GateProblem] = []
    gates = [_parse_gate(place, gate, problems) for place, gate in enumerate(raw["gates"])]
    valid_from = _parse_date(raw["valid_from"], problems)
    shape = Shape(raw["shape"]) if raw["shape"] in list(Shape) else Shape.SQUARE
    if any(gate is None for gate in gates) or valid_from is None:
        return None, problems
    form = GateSetSpec(issue, valid_from, shape, tuple(gate for gate in gates if gate is not None))
    return form, problems + find_problems(form, speeds, runways)


def _parse_gate(place: int, raw: Raw, found: list[GateProblem]) -> GateSpec | None:
    # All problems of a gate are collected before it is given up: one look shows everything to correct.
    before = len(found)
    if not _has_whole_distance(raw):
        found.append(
            GateProblem(place, f"“{raw['along_ft'][:20]}” is not a distance in whole feet since the lift-off.")
        )
    if raw["leg"] not in list(Leg):
        found.append(GateProblem(place, "Choose the leg it lies on."))
    if raw["phase"] not in PHASES:
        found.append(GateProblem(place, "Choose the phase it belongs to."))
    targets = [_parse_target(place, quantity, raw[quantity], found) for quantity in QUANTITIES if quantity in raw]
    if len(found) > before:
        return None
    words = {word: raw[word] for word in ("code", "name", "phase", "configuration", "where")}
    return GateSpec(
        **words, leg=Leg(raw["leg"]), along_ft=_parse_whole(raw["along_ft"]), targets=tuple(filter(None, targets))
    )


def _parse_target(place: int, quantity: str, raw: Raw, found: list[GateProblem]) -> TargetSpec | None:
    numbers = {}
    for name in NUMBER_FIELDS:
        # An empty tolerance is none on that side; an empty target is a problem.
        number = _parse_number(raw[name] or ("" if name == "value" else "0"))
        if number is None:
            what = {"value": "target", "over": "tolerance above", "under": "tolerance below"}[name]
            found.append(GateProblem(place, f"“{raw[name][:20]}” is not a number: the {what} of the {quantity}."))
            continue
        numbers[name] = number
    if len(numbers) < len(NUMBER_FIELDS):
        return None
    rule = "half_gust" if raw["half_gust"] else "none"
    return TargetSpec(quantity, **numbers, unit=raw["unit"] or QUANTITY_UNITS[quantity][0], wind_rule=rule)


def _parse_number(typed: str) -> Decimal | None:
    try:
        number = Decimal(typed.replace(",", ".").replace("−", "-"))
    except InvalidOperation:
        return None
    # Decimal also reads “NaN” and “Infinity”; below 100,000 a number fits the narrowest of its columns.
    return number.quantize(Decimal("0.1")) if number.is_finite() and abs(number) < 100_000 else None


def _has_whole_distance(raw: Raw) -> bool:
    # Feet are whole here, so a comma can only separate thousands.
    return re.fullmatch(r"\d{1,6}", raw["along_ft"].replace(",", "")) is not None


def _parse_whole(typed: str) -> int:
    return int(typed.replace(",", ""))


def _parse_date(typed: str, found: list[GateProblem]) -> date | None:
    try:
        day = date.fromisoformat(typed)
    except ValueError:
        found.append(GateProblem(None, "Choose the day from which these gates are valid."))
        return None
    if not is_plausible_date(day):
        found.append(GateProblem(None, f"{typed} is far from today: check the year."))
        return None
    return day
