"""The syllabus and the aircraft types of fixtures/ against the rule and the published tolerances. Files only.

Sources: 14 CFR 61.87 (items, knowledge test) and 61.31(i) (tailwheel); FAA-S-ACS-6C, tasks PA.III.B, PA.IV.A and
PA.IV.B (tolerances); AIM 4-3-3, figure keys 3 and 5; AMC1 FCL.210 (exercises). Checks that name none are the
project's own.
"""

import json
import math
import re
from collections import Counter
from decimal import Decimal
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from grading.rules.readiness.training_items import HALF_WORDS, ITEM_WORDS, whole_item
from lessons.rules.gear import Gear

FIXTURES = Path(__file__).resolve().parents[2] / "fixtures"
SYLLABUS: dict[str, Any] = json.loads((FIXTURES / "syllabus/first-solo.json").read_text())
TYPES: dict[str, dict[str, Any]] = {
    name: json.loads((FIXTURES / f"aircraft/{name}.json").read_text()) for name in ("tailwheel", "nosewheel")
}
MANOEUVRES: dict[str, dict[str, Any]] = {row["code"]: row for row in SYLLABUS["manoeuvres"]}
UNITS: list[dict[str, Any]] = [unit for stage in SYLLABUS["stages"] for unit in stage["units"]]
LEVELS = ("describe", "explain", "practice", "perform")
PARTS = ("takeoff", "downwind", "approach", "landing")
DOWN = ("circuit", "approach", "landing")
FT_PER_MIN_OF_A_KNOT = 1852 / 0.3048 / 60

each_type = pytest.mark.parametrize("kind", TYPES.values(), ids=TYPES)
each_part = pytest.mark.parametrize("part", PARTS)


def gates_by_code(kind: dict[str, Any]) -> dict[str, dict[str, Any]]:
    return {row["code"]: row for row in kind["gate_set"]["gates"]}


def targets(kind: dict[str, Any], quantity: str, *phases: str) -> list[tuple[dict[str, Any], dict[str, Any]]]:
    """Gate and target of a quantity, in the order flown."""
    return [
        (gate, target)
        for gate in kind["gate_set"]["gates"]
        if not phases or gate["phase"] in phases
        for target in gate["targets"]
        if target["quantity"] == quantity
    ]


def target_of(kind: dict[str, Any], gate: str, quantity: str) -> dict[str, Any]:
    found: dict[str, Any] = next(row for row in gates_by_code(kind)[gate]["targets"] if row["quantity"] == quantity)
    return found


def tolerance_of(target: dict[str, Any]) -> tuple[str, str]:
    return target["over"], target["under"]


def duplicates(values: list[Any]) -> list[Any]:
    return [value for value, count in Counter(values).items() if count > 1]


def fits(row: dict[str, Any], kind: dict[str, Any]) -> bool:
    return Gear(row.get("gear", "")).fits(tailwheel=kind["tailwheel"], retractable=kind["retractable"])


def unit_codes(unit: dict[str, Any]) -> set[str]:
    return {row["code"] for row in unit["manoeuvres"]}


def test_the_fifteen_items_are_those_of_the_rule_and_all_are_trained() -> None:
    """14 CFR 61.87(d)(1)-(15)."""
    rule = [f"61.87(d)({number})" for number in range(1, 16)]
    codes = [item["code"] for item in SYLLABUS["items"]]
    assert list(dict.fromkeys(whole_item(code) for code in codes)) == rule
    # Those that the rule writes with an "and" or a "both" are trained by halves: (3), (4), (6), (8), (11).
    assert {whole_item(code) for code in codes if ":" in code} == {f"61.87(d)({number})" for number in (3, 4, 6, 8, 11)}
    assert {item for unit in UNITS for code in unit_codes(unit) for item in MANOEUVRES[code]["items"]} == set(codes)


def test_the_standard_asks_for_the_items_of_the_syllabus_and_each_has_its_words() -> None:
    """14 CFR 61.87(d): a code that one of the two does not know could never be met."""
    standard = json.loads((FIXTURES / "standards/us.json").read_text())
    asked = next(row for row in standard["requirements"] if row["key"] == "training_received")["values"]["items"]
    assert asked == [item["code"] for item in SYLLABUS["items"]]
    assert list(ITEM_WORDS) == list(dict.fromkeys(map(whole_item, asked)))
    assert set(HALF_WORDS) == {code for code in asked if ":" in code}


def test_the_european_standard_asks_for_manoeuvres_of_the_syllabus_taught_in_dual_units() -> None:
    """AMC1 FCL.210(b)(2): radio and required systems before solo. Paragraphs of 14 CFR are not asked for there."""
    standard = json.loads((FIXTURES / "standards/eu.json").read_text())
    rows = [row for row in standard["requirements"] if row["check"] == "manoeuvres_taught"]
    assert [row["key"] for row in rows] == ["training_received", "radio_and_systems"]
    flown = {code for unit in UNITS if unit["kind"] == "dual" for code in unit_codes(unit)}
    for row in rows:
        assert set(row["values"]["manoeuvres"]) <= flown
    assert not re.search(r"CFR|61\.", json.dumps(standard))


def test_items_are_trained_in_flight_with_an_instructor() -> None:
    """14 CFR 61.87(c)(1) asks for flight training. Preparation, (d)(1), may begin and end on the ground."""
    begun: dict[str, str] = {}
    practised: set[str] = set()
    for unit in UNITS:
        for row in unit["manoeuvres"]:
            for item in MANOEUVRES[row["code"]]["items"]:
                begun.setdefault(item, unit["kind"])
                if unit["kind"] == "dual" and row["expected"] in ("practice", "perform"):
                    practised.add(item)
    assert {item for item, kind in begun.items() if kind != "dual"} == {"61.87(d)(1)"}
    assert set(begun) - practised == {"61.87(d)(1)"}


def test_tailwheel_training_is_in_the_dual_units() -> None:
    """14 CFR 61.31(i)(1): normal and crosswind takeoffs and landings, wheel landings, go-arounds."""
    flown = {code for unit in UNITS if unit["kind"] == "dual" for code in unit_codes(unit)}
    assert {"takeoff", "landing", "crosswind_takeoff", "crosswind_landing", "wheel_landing", "go_around"} <= flown
    graded = [row for unit in UNITS for row in unit["manoeuvres"] if row["code"] == "wheel_landing"]
    assert not any(row["compulsory"] for row in graded)  # a nosewheel type has none


def test_codes_are_unique_and_numbers_run_on() -> None:
    assert not duplicates([row["code"] for row in SYLLABUS["manoeuvres"]])
    assert not duplicates([row["code"] for row in SYLLABUS["faults"]])
    for manoeuvre in MANOEUVRES.values():
        assert not duplicates([row["code"] for row in manoeuvre["criteria"]]), manoeuvre["code"]
    for unit in UNITS:
        assert not duplicates([row["code"] for row in unit["manoeuvres"]]), unit["number"]
    assert [stage["number"] for stage in SYLLABUS["stages"]] == [1, 2, 3]
    assert [unit["number"] for unit in UNITS] == list(range(1, 19))


def test_units_and_faults_name_manoeuvres_there_are_and_each_is_planned() -> None:
    planned = {code for unit in UNITS for code in unit_codes(unit)}
    assert planned == set(MANOEUVRES)
    assert {code for fault in SYLLABUS["faults"] for code in fault["manoeuvres"]} <= planned
    assert {*PARTS, "go_around", "engine_failure_after_takeoff", "circuit_emergencies"} <= planned


def test_criteria_are_observed_or_measured_at_a_gate_of_a_type() -> None:
    known = {
        (gate["code"], target["quantity"])
        for kind in TYPES.values()
        for gate in kind["gate_set"]["gates"]
        for target in gate["targets"]
    }
    for manoeuvre in MANOEUVRES.values():
        assert manoeuvre["criteria"], manoeuvre["code"]
        for row in manoeuvre["criteria"]:
            at_gate = (row["gate"], row["quantity"])
            assert at_gate in known if row["kind"] == "measured" else at_gate == (None, None), row
            assert row["from_unit"] in (None, *range(1, 19)), row


@each_type
@each_part
def test_each_part_of_a_circuit_is_measured_on_both_types(part: str, kind: dict[str, Any]) -> None:
    assert any(row["gate"] in gates_by_code(kind) for row in MANOEUVRES[part]["criteria"])


def test_what_one_landing_gear_alone_can_show_says_so() -> None:
    """Common practice: a nosewheel has no tail to raise, and wheels that are fixed are never up."""
    gears = {
        "tailwheel": "tail-attitude tailwheel-unlocked touchdown-attitude taxi-blind nose-over-risk",
        "nosewheel": "wheelbarrowing nosewheel-first nose-let-fall",
        "retractable": "gear-not-checked gear-horn wheels-up-early",
    }
    assert {row["code"]: row["gear"] for row in SYLLABUS["faults"] if "gear" in row} == {
        code: gear for gear, codes in gears.items() for code in codes.split()
    }


@each_type
def test_words_of_another_gear_are_never_offered(kind: dict[str, Any]) -> None:
    """A word such as “tailwheel” in a name or a criterion belongs to the types that have one."""
    absent = {"nosewheel", "wheels up", "wheels down"} if kind["tailwheel"] else {"tailwheel", "tail raised"}
    absent -= {"wheels up", "wheels down"} if kind["retractable"] else set()
    absent |= set() if kind["retractable"] else {"wheels up", "wheels down", "horn"}
    names = [row["name"] for row in SYLLABUS["faults"] if fits(row, kind)]
    texts = [row["text"] for manoeuvre in MANOEUVRES.values() for row in manoeuvre["criteria"] if fits(row, kind)]
    assert not [text for text in names + texts for word in absent if word in text.lower()]


def cure(code: str) -> str:
    found: str = next(row["cure"] for row in SYLLABUS["faults"] if row["code"] == code)
    return found


@pytest.mark.parametrize(
    ("code", "first", "then"),
    [
        ("final-slow", "lower the nose and add power together", "at the stall warning the nose comes first"),
        ("power-before-nose", "nose goes down first", "power comes with it"),
        ("second-stall", "stick forward", "ease out"),
        ("aileron-in-stall", "stick forward first", "level the wings"),
        ("skidding-turn", "stick forward first", "rudder"),
        ("steep-turn-low", "stop pulling", "level the wings"),
        ("slip-slow", "nose down", "then straighten"),
        ("torque", "attitude and speed first", "balance"),
        ("flap-too-soon", "landing flap to the go-around setting", "the rest in steps"),
        ("wheels-up-early", "positive climb", "then the wheels"),
        ("bounce-chased", "never push", "go around"),
    ],
)
def test_a_cure_has_its_steps_in_the_order_that_is_safe(code: str, first: str, then: str) -> None:
    """Common practice: the angle of attack before everything, flap before the wheels in a go-around."""
    words = cure(code).lower()
    assert -1 < words.find(first) < words.find(then), words


def test_no_cure_asks_for_the_ball() -> None:
    """Common practice: speed and angle of attack come before the balance of a turn."""
    assert not [row["code"] for row in SYLLABUS["faults"] if re.search(r"\bball\b", row["cure"], re.IGNORECASE)]


@pytest.mark.parametrize("code", ["hard-landing", "porpoise", "ground-loop"])
def test_an_aeroplane_that_was_struck_is_inspected(code: str) -> None:
    """Common practice."""
    assert "aeroplane inspected before further flight" in cure(code)


def test_who_turns_back_is_judged_by_the_height_that_was_named() -> None:
    """The criterion, the cure and the brief say one thing. Common practice; the height is the school's."""
    ahead = next(row for row in MANOEUVRES["engine_failure_after_takeoff"]["criteria"] if row["code"] == "ahead")
    brief = next(unit["brief"] for unit in UNITS if unit["number"] == 13)
    assert "never back below the height" in ahead["text"]
    assert "below the height that the school names, never turn back" in cure("turned-back").lower()
    assert "below which height never turn back" in brief.lower()


def test_a_wide_runway_makes_the_round_out_high_and_a_narrow_one_low() -> None:
    """A wide runway makes the aeroplane seem lower than it is, a narrow one higher: common practice, from memory."""
    causes = {row["code"]: row["cause"] for row in SYLLABUS["faults"]}
    assert "wider runway" in causes["round-out-high"]
    assert "narrower runway" in causes["round-out-low"]


def test_what_is_taught_has_its_place() -> None:
    """Common practice: heels off the brakes, lock, fuel selector, horn, level-off, reference points, relaxed hands."""
    taught = {
        "heels on the floor": ("taxiing", "takeoff", "landing"),
        "tailwheel": ("taxiing", "takeoff", "downwind"),
        "fuel selector": ("taxiing", "downwind"),
        "gear warning horn": ("malfunctions",),
        "crosses to the downwind side": ("downwind",),
        "reference points": ("landing",),
        "relaxed hands": ("effects_of_controls", "landing"),
    }
    for words, codes in taught.items():
        for code in codes:
            assert any(words in row["text"].lower() for row in MANOEUVRES[code]["criteria"]), (words, code)


def test_the_book_of_the_aircraft_is_its_flight_manual() -> None:
    text = (FIXTURES / "syllabus/first-solo.json").read_text()
    assert "type’s handbook" not in text
    assert "aircraft’s handbook" not in text


def test_every_fault_says_cause_cure_and_source_and_fits_a_key() -> None:
    for fault in SYLLABUS["faults"]:
        assert fault["manoeuvres"], fault["code"]
        assert len(fault["name"]) <= 22, fault["name"]
        assert fault["cause"].endswith("."), fault["code"]
        assert fault["cure"].endswith("."), fault["code"]
        assert fault["source"] == "common practice" or fault["source"].startswith("Airplane Flying Handbook (FAA-H-")


@each_type
@each_part
def test_the_fault_keys_of_a_circuit_part_are_few_and_differ(part: str, kind: dict[str, Any]) -> None:
    names = [row["name"] for row in SYLLABUS["faults"] if part in row["manoeuvres"] and fits(row, kind)]
    assert 8 <= len(names) <= 16
    assert not duplicates(names)


CRITICAL_FAULTS = """no-lookout-lining-up ground-loop bounce-chased final-slow skidding-turn turned-back no-go-around
heavy-braking nose-over-risk gear-not-checked landed-short circuit-lookout drifted swerved porpoise hard-landing
wheelbarrowing nosewheel-first gear-horn wheels-up-early power-before-nose"""


@pytest.mark.parametrize("code", CRITICAL_FAULTS.split())
def test_faults_that_put_safety_at_stake_are_critical(code: str) -> None:
    """The school's choice."""
    assert next(row for row in SYLLABUS["faults"] if row["code"] == code)["critical"] is True


def test_expected_levels_never_fall() -> None:
    reached: dict[str, int] = {}
    for unit in UNITS:
        for row in unit["manoeuvres"]:
            level = LEVELS.index(row["expected"])
            assert level >= reached.get(row["code"], 0), (unit["number"], row["code"])
            reached[row["code"]] = level


def test_circuit_units_grade_every_part_of_a_circuit() -> None:
    flying = [unit for unit in UNITS if unit["flies_circuits"]]
    assert [unit["number"] for unit in flying] == [8, 9, 10, 11, 12, 13, 14, 16, 17, 18]
    for unit in flying:
        assert unit_codes(unit) >= set(PARTS), unit["number"]
        compulsory = {row["code"]: row["compulsory"] for row in unit["manoeuvres"]}
        assert compulsory["downwind"] is compulsory["approach"], unit["number"]
        order = [code for code in compulsory if code in PARTS]
        assert order == list(PARTS), unit["number"]
        assert unit["ending"] == "full_stop"
        assert unit["kind"] != "ground"


def test_knowledge_then_the_check_then_solo() -> None:
    """14 CFR 61.87(b): the test is given, and its wrong answers reviewed, before solo. The check is the school's."""
    assert [unit["kind"] for unit in UNITS[-4:]] == ["ground", "stage_check", "solo", "solo"]
    assert {unit["kind"] for unit in UNITS[:-4]} == {"ground", "dual"}


def test_exercises_follow_the_broad_order_of_the_european_list() -> None:
    """AMC1 FCL.210 exercises 1-14; its (c)(1) makes the numbering a broad sequence, not a fixed order."""
    met = list(dict.fromkeys(int(number) for unit in UNITS for number in re.findall(r"\d+", unit["exercises"])))
    assert met == list(range(1, 15))


def test_every_brief_is_short_and_names_the_threat() -> None:
    for unit in UNITS:
        assert 2 <= unit["brief"].count(".") <= 5, unit["number"]
        assert "Threat:" in unit["brief"], unit["number"]
        assert unit["aim"].count(".") == 1, unit["number"]


@each_type
def test_gates_are_in_the_order_flown(kind: dict[str, Any]) -> None:
    rows = kind["gate_set"]["gates"]
    assert not duplicates([row["code"] for row in rows])
    assert not duplicates([row["code"] for row in rows])
    along = [row["along_ft"] for row in rows]
    assert along == sorted(set(along))
    phases = [row["phase"] for row in rows]
    assert phases == sorted(phases, key=("takeoff", *DOWN).index)


@each_type
def test_every_target_has_a_tolerance_and_the_unit_of_its_quantity(kind: dict[str, Any]) -> None:
    power = "inHg" if kind["constant_speed_propeller"] else "rpm"
    units = {"speed": "kt", "height": "ft", "distance": "ft", "bank": "deg", "power": power}
    units |= {"propeller": "rpm"} if kind["constant_speed_propeller"] else {}
    for gate in kind["gate_set"]["gates"]:
        assert not duplicates([row["quantity"] for row in gate["targets"]])
        for row in gate["targets"]:
            assert row["unit"] == units[row["quantity"]]
            assert min(map(Decimal, tolerance_of(row))) >= 0
            assert max(map(Decimal, tolerance_of(row))) > 0


@each_type
def test_heights_rise_on_the_way_up_and_fall_on_the_way_down(kind: dict[str, Any]) -> None:
    up = [Decimal(row["value"]) for _, row in targets(kind, "height", "takeoff")]
    down = [Decimal(row["value"]) for _, row in targets(kind, "height", *DOWN)]
    assert up == sorted(up)
    assert down == sorted(down, reverse=True)
    assert min(up + down) > 0


@each_type
def test_speeds_stay_above_the_stall_at_the_slow_end_of_the_tolerance(kind: dict[str, Any]) -> None:
    """Clean stall up to the approach, then the landing one, raised by the steepest bank: Vs / sqrt(cos bank)."""
    for gate, row in targets(kind, "speed"):
        bank = next((float(t["value"]) + float(t["over"]) for t in gate["targets"] if t["quantity"] == "bank"), 0.0)
        stall = kind["stall_landing_kt"] if gate["phase"] == "approach" else kind["stall_clean_kt"]
        assert float(row["value"]) - float(row["under"]) > stall / math.sqrt(math.cos(math.radians(bank))), gate["code"]


@each_type
def test_speeds_fall_from_joining_to_final(kind: dict[str, Any]) -> None:
    speeds = [Decimal(row["value"]) for _, row in targets(kind, "speed", *DOWN)]
    assert speeds == sorted(speeds, reverse=True)


@each_type
def test_circuit_tolerances(kind: dict[str, Any]) -> None:
    """FAA-S-ACS-6C, task PA.III.B: 100 ft and 10 kt."""
    assert {tolerance_of(row) for _, row in targets(kind, "height", "circuit")} == {("100", "100")}
    assert {tolerance_of(row) for _, row in targets(kind, "speed", "circuit")} == {("10", "10")}


@each_type
def test_climb_and_approach_speed_tolerances(kind: dict[str, Any]) -> None:
    """FAA-S-ACS-6C, tasks PA.IV.A and PA.IV.B: +10/-5 kt, on the approach with the gust factor."""
    speeds = [target_of(kind, "climb", "speed"), *(row for _, row in targets(kind, "speed", "approach"))]
    assert {tolerance_of(row) for row in speeds} == {("10", "5")}
    assert target_of(kind, "final", "speed")["wind_rule"] == "half_gust"


@each_type
def test_final_is_flown_at_1_3_of_the_landing_stall(kind: dict[str, Any]) -> None:
    """FAA-S-ACS-6C, task PA.IV.B: the maker's speed or, without one, not more than 1.3 Vso; here to the knot."""
    assert abs(float(target_of(kind, "final", "speed")["value"]) - 1.3 * kind["stall_landing_kt"]) <= 0.5


@each_type
def test_touchdown_is_on_or_beyond_the_point_and_never_short(kind: dict[str, Any]) -> None:
    """FAA-S-ACS-6C, task PA.IV.B: within 400 ft beyond or on the point, never short.

    The point of the test is where the wheels are to touch. Here it lies as far beyond the aiming point as a normal
    flare carries (tests/project/test_normal_flare.py), and short is what touches before the aiming point.
    """
    row = target_of(kind, "touchdown", "distance")
    assert 0 < Decimal(row["over"]) <= 400
    assert Decimal(row["value"]) - Decimal(row["under"]) == 0


@each_type
def test_near_the_ground_heights_are_held_closer_than_in_the_circuit(kind: dict[str, Any]) -> None:
    """The school's: the test standard gives none below the circuit."""
    for gate in ("final", "round-out"):
        row = target_of(kind, gate, "height")
        assert max(map(Decimal, tolerance_of(row))) < 100
        assert Decimal(row["value"]) > Decimal(row["under"])


@each_type
def test_the_first_turn_waits_for_300_ft_below_circuit_height(kind: dict[str, Any]) -> None:
    """AIM 4-3-3, figure key 5: beyond the departure end and within 300 ft of pattern altitude."""
    turn = target_of(kind, "first-turn", "height")
    lowest = Decimal(turn["value"]) - Decimal(turn["under"])
    assert Decimal(target_of(kind, "join", "height")["value"]) - lowest <= 300


@each_type
def test_final_begins_a_quarter_mile_out_where_its_words_say(kind: dict[str, Any]) -> None:
    """AIM 4-3-3, figure key 3: the turn to final is done at least 1/4 mile (statute, 1,320 ft) from the runway."""
    line = gates_by_code(kind)["final"]
    before = gates_by_code(kind)["touchdown"]["along_ft"] - line["along_ft"]
    assert before >= 1320
    assert line["where"] == f"{before:,} ft before the aiming point"
    assert [int(row["value"]) for row in line["targets"] if row["quantity"] == "distance"] in ([], [before])


@each_type
def test_the_way_down_never_sinks_faster_than_800_ft_a_minute(kind: dict[str, Any]) -> None:
    """Airplane Flying Handbook, Approaches and Landings (2004 text): over 800 to 1,000 ft/min is too much. Calm."""
    speed = 0.0
    for (gate, above), (following, below) in pairwise(targets(kind, "height", *DOWN)):
        speed = next((float(row["value"]) for row in gate["targets"] if row["quantity"] == "speed"), speed)
        minutes = (following["along_ft"] - gate["along_ft"]) / (speed * FT_PER_MIN_OF_A_KNOT)
        sink = (float(above["value"]) - float(below["value"])) / minutes
        assert sink <= 800, (gate["code"], following["code"], sink)


def test_the_gliding_turn_is_half_a_circle_of_its_speed_and_bank() -> None:
    """r = V^2 / (11.26 tan bank) ft: FAA-H-8083-25C chapter 5, from memory; physics gives 11.29. Calm."""
    kind = TYPES["tailwheel"]
    speed, bank = (float(target_of(kind, "turn", quantity)["value"]) for quantity in ("speed", "bank"))
    half_circle = math.pi * speed**2 / (11.26 * math.tan(math.radians(bank)))
    flown = gates_by_code(kind)["final"]["along_ft"] - gates_by_code(kind)["power-back"]["along_ft"]
    assert flown == pytest.approx(half_circle, rel=0.05)


@each_type
def test_demonstrated_crosswind_is_at_least_a_fifth_of_the_landing_stall(kind: dict[str, Any]) -> None:
    """Airplane Flying Handbook (FAA-H-8083-3C), Maximum Safe Crosswind: 0.2 Vso at 90 degrees."""
    assert kind["demonstrated_crosswind_kt"] >= 0.2 * kind["stall_landing_kt"]
