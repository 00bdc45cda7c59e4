"""Name the items of training before a first solo: 14 CFR 61.87(d)(1)-(15), single-engine aeroplanes, in our own words.

An item that the rule writes with an "and" or a "both" has halves, each with a code of its own: the code of the item, a
colon, and a word. A code without a colon is the whole item.
"""

HALF = ":"
ITEM_WORDS = {
    "61.87(d)(1)": "flight preparation: planning, handling the engine, systems",
    "61.87(d)(2)": "taxiing and surface operations, run-ups included",
    "61.87(d)(3)": "takeoffs and landings, normal and crosswind",
    "61.87(d)(4)": "straight and level flight, turns in both directions",
    "61.87(d)(5)": "climbs and climbing turns",
    "61.87(d)(6)": "traffic patterns, with entry and departure",
    "61.87(d)(7)": "avoiding collision, windshear and wake turbulence",
    "61.87(d)(8)": "descents, straight and turning, with high and low drag",
    "61.87(d)(9)": "speeds from cruise to slow flight",
    "61.87(d)(10)": "stalls: entries from varied attitudes and powers, recovery at first sign and from a full stall",
    "61.87(d)(11)": "emergency procedures and equipment malfunctions",
    "61.87(d)(12)": "ground reference manoeuvres",
    "61.87(d)(13)": "approaches to a landing area with the engine failure simulated",
    "61.87(d)(14)": "slips to a landing",
    "61.87(d)(15)": "go-arounds",
}
HALF_WORDS = {
    "61.87(d)(3):takeoff": "normal takeoffs",
    "61.87(d)(3):landing": "normal landings",
    "61.87(d)(3):crosswind_takeoff": "crosswind takeoffs",
    "61.87(d)(3):crosswind_landing": "crosswind landings",
    "61.87(d)(4):level": "straight and level flight",
    "61.87(d)(4):turns": "turns in both directions",
    "61.87(d)(6):pattern": "traffic patterns",
    "61.87(d)(6):entry": "entry to the traffic pattern",
    "61.87(d)(6):departure": "departure from the traffic pattern",
    "61.87(d)(8):straight": "straight descents",
    "61.87(d)(8):turning": "descending turns",
    "61.87(d)(8):high_drag": "descents with high drag",
    "61.87(d)(8):low_drag": "descents with low drag",
    "61.87(d)(11):emergencies": "emergency procedures",
    "61.87(d)(11):malfunctions": "equipment malfunctions",
}


def whole_item(code: str) -> str:
    """Return the item that a code belongs to: itself, or the item of which it is a half."""
    return code.partition(HALF)[0]


def describe_item(code: str) -> str:
    """Return the words of an item or a half with its paragraph; a code that is not of this rule stands as it is."""
    words = HALF_WORDS.get(code) or ITEM_WORDS.get(code)
    return f"{words} ({whole_item(code)})" if words else code
