"""Gates that contradict themselves are refused with the reason; the circuit is laid out from their distances.

The turn of the tailwheel type is checked with the radius of FAA-H-8083-25C, chapter 5 (V² / 11.26 tan bank, from
memory). Everything else here is the project's own rule.
"""

import json
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.db import DatabaseError, transaction
from django.test import Client

from grading.models import Measure
from lessons import publishing
from lessons.gate_draft import parse_raw, raw_from_spec
from lessons.loading import gate_set_spec, parse_gates
from lessons.models import Gate, GateDraft, GateSet, GateTarget
from lessons.rules.gate_rules import GateSetSpec, RunwayLength, StallSpeeds, find_problems
from lessons.rules.pattern import Leg, Shape, Station, UnclosedCircuit, lay_out
from lessons.rules.wind import turn_radius_ft
from school.errors import Refusal
from school.models import JournalEntry
from tests.cast import Cast
from tests.factories import begin_lesson, record_entries
from tests.lessons.gate_form import edited_form

FOLDER = Path(__file__).resolve().parents[3] / "fixtures/aircraft"
TYPES: dict[str, dict[str, Any]] = {
    name: json.loads((FOLDER / f"{name}.json").read_text()) for name in ("tailwheel", "nosewheel")
}
FORMS = {name: parse_gates(kind["gate_set"]) for name, kind in TYPES.items()}
SPEEDS = {name: StallSpeeds(kind["stall_landing_kt"], kind["stall_clean_kt"]) for name, kind in TYPES.items()}
each_type = pytest.mark.parametrize("name", TYPES)


def change_gate(form: GateSetSpec, where: str, **fields: Any) -> GateSetSpec:
    return replace(form, gates=tuple(replace(row, **fields) if row.code == where else row for row in form.gates))


def change_target(form: GateSetSpec, code: str, quantity: str, **fields: Any) -> GateSetSpec:
    gate = next(row for row in form.gates if row.code == code)
    targets = tuple(replace(row, **fields) if row.quantity == quantity else row for row in gate.targets)
    return change_gate(form, code, targets=targets)


def said(form: GateSetSpec, name: str = "tailwheel") -> str:
    return " | ".join(f"{problem.gate}: {problem.sentence}" for problem in find_problems(form, SPEEDS[name]))


@each_type
def test_the_gates_that_come_with_the_school_say_nothing_wrong(name: str) -> None:
    assert find_problems(FORMS[name], SPEEDS[name]) == []


TAIL = FORMS["tailwheel"]


@pytest.mark.parametrize(
    ("form", "sentence"),
    [
        (
            change_target(TAIL, "abeam", "height", value=Decimal(950)),
            "8: It is 950 ft, the gate before it 840 ft: on the way",
        ),
        (
            change_target(TAIL, "flap-up", "height", value=Decimal(100)),
            "lower than the gate before it at 120 ft",
        ),
        (change_target(TAIL, "abeam", "speed", over=Decimal(0), under=Decimal(0)), "is zero on both sides"),
        (change_target(TAIL, "abeam", "speed", over=Decimal(-1)), "is negative"),
        (
            change_target(TAIL, "final", "speed", value=Decimal(57)),
            "as slow as 52 kt, and this type stalls at 52 kt",
        ),
        (change_target(TAIL, "downwind", "speed", value=Decimal(68)), "stalls at 58 kt clean"),
        (change_target(TAIL, "final", "speed", unit="ft"), "The speed is in ft: use kt or km/h"),
        (
            change_target(TAIL, "final", "height", wind_rule="half_gust"),
            "half the gust is added to a speed only",
        ),
        (change_target(TAIL, "round-out", "height", value=Decimal(3)), "under the ground"),
        (change_target(TAIL, "turn", "bank", value=Decimal(85)), "outside 0 to 90 degrees"),
        (change_target(TAIL, "abeam", "power", value=Decimal(2)), "The power with its tolerance may be zero or less"),
        (change_target(TAIL, "abeam", "propeller", unit="inHg"), "The propeller is in inHg: use rpm"),
        (change_gate(TAIL, "abeam", along_ft=17800), "each gate is farther along than the one before"),
        (change_gate(TAIL, "turn", leg=Leg.CROSSWIND), "lies on the crosswind leg, after a gate of the downwind leg"),
        (change_gate(TAIL, "turn", code="abeam"), "2 gates have the code “abeam”"),
        (change_gate(TAIL, "turn", name=" "), "has no name"),
        (replace(TAIL, gates=TAIL.gates[:3]), "at least four gates"),
    ],
)
def test_what_contradicts_itself_is_refused_with_the_reason(form: GateSetSpec, sentence: str) -> None:
    assert sentence in said(form)


RUNWAYS = [RunwayLength(3000, 500), RunwayLength(2400, 400)]


@pytest.mark.parametrize(
    ("form", "sentence"),
    [
        (TAIL, ""),  # it lifts off 800 ft past where it lands
        # 19,900 − 2 × 5,000 − 4,100 = 5,800 ft past the touchdown, on a runway that ends 2,500 ft past it.
        (change_gate(TAIL, "first-turn", along_ft=5000), "it lies 3,300 ft beyond the end of the runway"),
        # 19,900 − 2 × 8,300 − 4,100 = −800 ft, and the runway begins 500 ft before the touchdown.
        (change_gate(TAIL, "first-turn", along_ft=8300), "it lies 300 ft before the runway begins"),
    ],
)
def test_a_lift_off_beside_every_runway_is_refused(form: GateSetSpec, sentence: str) -> None:
    found = find_problems(form, SPEEDS["tailwheel"], RUNWAYS)
    assert [(problem.gate, sentence in problem.sentence) for problem in found] == ([(0, True)] if sentence else [])
    # Without a runway there is nothing to compare with.
    assert find_problems(form, SPEEDS["tailwheel"]) == []


def test_a_stall_speed_is_compared_in_the_unit_of_the_target() -> None:
    fast_enough = change_target(TAIL, "final", "speed", value=Decimal("126"), unit="km/h")  # 121 km/h are 65 kt
    assert "stalls" not in said(fast_enough)
    assert "stalls at 52 kt" in said(change_target(TAIL, "final", "speed", value=Decimal("68"), unit="km/h"))


@each_type
def test_the_track_closes_and_passes_each_gate(name: str) -> None:
    form = FORMS[name]
    track = lay_out(form.stations, form.shape)
    places = {row.code: track.position_at(row.along_ft) for row in form.gates}
    assert track.length == form.gates[-1].along_ft
    assert places["touchdown"] == (0, 0)
    assert places["abeam"] == pytest.approx((0, track.width))
    assert places["lift-off"] == (track.lift_off_x, 0)
    assert places["final"] == pytest.approx(({"tailwheel": -1600, "nosewheel": -3600}[name], 0))
    for before, after in zip(range(0, int(track.length), 50), range(50, int(track.length), 50), strict=False):
        (x, y), (then_x, then_y) = track.position_at(before), track.position_at(after)
        assert abs(then_x - x) + abs(then_y - y) <= 71  # no jump: 50 ft on, at most 50 √2 in both together


def test_the_last_turn_of_the_tailwheel_type_is_that_of_its_bank_and_speed() -> None:
    """76 kt at 22 degrees: V² / (11.26 tan bank) = 1,270 ft; the drawn half circle is within 5 % of it."""
    track = lay_out(TAIL.stations, TAIL.shape)
    assert track.width / 2 == pytest.approx(turn_radius_ft(76, 22), rel=0.05)


def test_a_circuit_without_an_anchor_is_not_laid_out() -> None:
    with pytest.raises(UnclosedCircuit, match="abeam"):
        lay_out([Station("lift-off", Leg.UPWIND, 0), Station("touchdown", Leg.FINAL, 9000)], Shape.SQUARE)


@pytest.mark.parametrize(
    ("abeam", "said"),
    [(22000, "are 5,000 ft, too few for a final of 3,000 ft"), (14000, "before the downwind leg can")],
)
def test_distances_that_make_no_circuit_are_named(abeam: int, said: str) -> None:
    flown = [("lift-off", Leg.UPWIND, 8000), ("abeam", Leg.DOWNWIND, abeam), ("line", Leg.FINAL, 24000)]
    with pytest.raises(UnclosedCircuit, match=said):
        lay_out([*(Station(*row) for row in flown), Station("touchdown", Leg.FINAL, 27000)], Shape.SQUARE)


@each_type
def test_a_draft_reads_back_as_it_was(name: str) -> None:
    form = FORMS[name]
    assert parse_raw(raw_from_spec(form), form.issue, SPEEDS[name]) == (form, [])


# The page


def test_the_chief_changes_the_gates_and_publishes(cast: Cast, client: Client) -> None:
    client.force_login(cast.amelia)
    page = f"/gates/{cast.type.code}/edit/"
    raw = publishing.current_gate_draft(cast.type, cast.today)
    line = next(place for place, gate in enumerate(raw["gates"]) if gate["code"] == "final")
    speed = f"gate-{line}-speed-value"
    wrong = client.post(page, edited_form(raw, **{speed: "fifty"}) | {"act": "keep"}, headers={"HX-Request": "true"})
    assert "“fifty” is not a number: the target of the speed" in wrong.text
    assert "<html" not in wrong.text
    assert 'value="fifty"' in client.get(page).text  # kept as typed
    refused = client.post(page, edited_form(raw, **{speed: "50"}) | {"act": "publish"})
    assert refused.status_code == 422
    assert "this type stalls at 52 kt" in refused.text
    assert 'value="50"' in refused.text
    same = client.post(page, edited_form(raw) | {"act": "publish", "reason": "So"})
    assert (same.status_code, "Nothing differs from issue 1." in same.text) == (422, True)
    faster = edited_form(raw, **{speed: "70"}) | {"act": "publish"}
    preview = client.post(page, faster | {"act": "keep"}, headers={"HX-Request": "true"}).text
    assert "Final: speed 70 kt +10 −5, plus half the gust; it was 68 kt +10 −5, plus half the gust." in preview
    assert "2 students in training fly this type." in " ".join(preview.split())
    without = client.post(page, faster)
    assert (without.status_code, "Write why the gates change" in without.text) == (422, True)
    done = client.post(page, faster | {"reason": "Too slow in gusts"})
    assert done.status_code == 302
    second = GateSet.objects.get(aircraft_type=cast.type, issue=2)
    assert second.valid_from == cast.today + timedelta(days=1)
    assert not GateDraft.objects.exists()
    assert JournalEntry.objects.get(what="gates published").after["reason"] == "Too slow in gusts"
    shown = client.get(f"/gates/{cast.type.code}/?issue=2").text
    assert "Speed 70 kt" in shown
    assert shown.count("<svg") >= 2


def test_a_gate_is_added_taken_out_and_put_in_order(cast: Cast, client: Client) -> None:
    client.force_login(cast.amelia)
    page = f"/gates/{cast.type.code}/edit/"
    raw = publishing.current_gate_draft(cast.type, cast.today)
    count = len(raw["gates"])
    assert client.post(page, edited_form(raw) | {"act": "add"}).text.count("Remove gate") == count + 1
    raw = GateDraft.objects.get().content
    raw["gates"][-1] |= {"along_ft": "100", "name": "New", "code": "new", "leg": "upwind", "phase": "takeoff"}
    client.post(page, edited_form(raw) | {"act": "sort"})
    assert GateDraft.objects.get().content["gates"][1]["code"] == "new"
    client.post(page, edited_form(GateDraft.objects.get().content) | {"act": "remove-1"})
    assert len(GateDraft.objects.get().content["gates"]) == count
    assert client.post(f"/gates/{cast.type.code}/discard/").status_code == 302
    assert not GateDraft.objects.exists()


def test_a_lesson_is_judged_by_the_gates_of_its_day(cast: Cast) -> None:
    raw = publishing.current_gate_draft(cast.type, cast.today - timedelta(days=20))
    line = next(gate for gate in raw["gates"] if gate["code"] == "final")
    line["speed"]["value"] = "74"
    old = begin_lesson(cast, days_ago=30)
    publishing.publish_gates(
        aircraft_type=cast.type,
        raw=raw | {"valid_from": str(cast.today)},
        reason="Faster",
        by=cast.amelia,
        at=cast.at(12, 1),
    )
    new = begin_lesson(cast)
    for lesson in (old, new):
        record_entries(cast, lesson, **{"circuit.1.approach.measure.final.speed": "74"})
    noted = Measure.objects.order_by("pk").values_list("target__value", flat=True)
    assert list(noted) == [Decimal(68), Decimal(74)]


def test_a_day_that_has_lessons_keeps_its_gates(cast: Cast) -> None:
    raw = publishing.current_gate_draft(cast.type, cast.today) | {"valid_from": str(cast.today)}
    with pytest.raises(Refusal, match="choose a later day"):
        publishing.publish_gates(aircraft_type=cast.type, raw=raw, reason="So", by=cast.amelia, at=cast.at())


def test_published_gates_are_final_for_the_database_too(cast: Cast) -> None:
    gate_set = GateSet.objects.get(aircraft_type=cast.type)
    attempts = [
        lambda: GateTarget.objects.filter(gate__gate_set=gate_set).update(value=1),
        lambda: GateTarget.objects.filter(gate__gate_set=gate_set).first().delete(),  # type: ignore[union-attr]
        lambda: Gate.objects.create(gate_set=gate_set, code="x", name="X", phase="circuit", order=99, along_ft=1),
        lambda: GateSet.objects.filter(pk=gate_set.pk).update(valid_from=cast.today),
    ]
    for attempt in attempts:
        with pytest.raises(DatabaseError, match=r"final|published"), transaction.atomic():
            attempt()
    assert gate_set_spec(gate_set) == FORMS["tailwheel"]


def test_a_gate_may_be_there_without_a_target() -> None:
    assert find_problems(change_gate(TAIL, "turn", targets=()), SPEEDS["tailwheel"]) == []
