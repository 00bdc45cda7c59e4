"""Word a number at a gate: how far from its target, on which side, and where the gate lies. Pure."""

from decimal import Decimal

from school.formats import write_number

# A deviation above the target and below it, in the words of the trade: the only place that names them.
SIDES = {
    "speed": ("fast", "slow"),
    "height": ("high", "low"),
    "distance": ("long", "short"),
    "bank": ("steep", "shallow"),
    "power": ("high", "low"),
    "propeller": ("high", "low"),
    "centreline": ("right", "left"),
}
# A distance counts from the aiming point and its deviation from the target, which is another point: a sentence or a
# table names it. On the keys beside a drawn target "long" and "short" are enough.
DISTANCE_SIDES = "past the target", "short of the target"


def amount_with_side(amount: Decimal | float, unit: str, quantity: str, *, over: bool) -> str:
    """Return how far from its target, without a sign, as '9 kt slow', '3° steep' or '1,000 ft past the target'."""
    side = (DISTANCE_SIDES if quantity == "distance" else SIDES[quantity])[0 if over else 1]
    return f"{write_number(amount)}{'°' if unit == 'deg' else f' {unit}'} {side}"


def gate_phrase(name: str, leg: str) -> str:
    """Return where a gate lies, as a part of a sentence: 'at the round-out', but 'on final' and 'abeam the point'.

    A gate with the name of its own leg is a whole stretch of the circuit, and a pilot is on it, not at it.
    """
    where = name[:1].lower() + name[1:]
    if where.startswith("abeam "):
        return where
    return f"on {where}" if where == leg else f"at {where}"
