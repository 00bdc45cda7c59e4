"""Faults: open until three clean attempts follow, and pointed to by numbers. The project's own rules; the circuit
flown badly in each way is that of the invented tailwheel type, its faults those of any handbook."""

import json
from datetime import date

import pytest
from django.test import Client
from hypothesis import given
from hypothesis import strategies as st

from grading.models import Attempt, Measure
from grading.pages.pads import AttemptSummary, deviation_sign
from grading.reading.grade_lines import load_attempts, load_grading_context, propose_grade, to_marked_attempt
from grading.rules.readiness.facts import AircraftTypeFact, Facts, FaultFact, LessonFact, StudentFact
from grading.rules.readiness.facts import AttemptFact as Try
from grading.rules.readiness.faults import fault_statuses, open_faults
from grading.rules.readiness.history import History
from grading.rules.readiness.json_format import standard_from_json
from grading.simulation.demo.demo_school import FIXTURES
from lessons.models import Fault as Known
from lessons.rules.scale import Help, Level
from tests.cast import Cast
from tests.factories import begin_lesson, record_circuit, record_entries, sign_lesson
from tests.page_requests import send_entry

STANDARD = standard_from_json((FIXTURES / "standards/us.json").read_text())
BOUNCED = FaultFact("bounced", "Bounced", False)
LOOP = FaultFact("ground-loop", "Ground loop", True)
DAY = date(2026, 6, 1)


def history(*tries: Try) -> History:
    lesson = LessonFact(1, DAY, "Bert", signed=DAY, aircraft_type="t", manoeuvres=tries)
    return History.from_facts(
        Facts(StudentFact("Dora"), AircraftTypeFact("t", "T", True), lessons=(lesson,)), STANDARD, DAY
    )


def landing(*faults: FaultFact, level: Level | None = Level.PRACTICE, code: str = "landing") -> Try:
    return Try(code, level, Help.NONE, faults)


CLEAN, UNSEEN, OTHER = landing(), landing(level=Level.NOT_OBSERVED), landing(code="takeoff")


@pytest.mark.parametrize(
    ("flown", "clean"),
    [
        ([landing(BOUNCED)], 0),
        ([landing(BOUNCED), CLEAN, CLEAN], 2),
        ([landing(BOUNCED), CLEAN, CLEAN, CLEAN], None),
        ([landing(BOUNCED), CLEAN, UNSEEN, CLEAN], 2),  # not observed is no evidence
        ([landing(BOUNCED), CLEAN, OTHER, OTHER], 1),  # another manoeuvre says nothing about this one
        ([landing(BOUNCED), CLEAN, CLEAN, landing(BOUNCED)], 0),
        ([landing(BOUNCED), landing(LOOP), CLEAN, CLEAN], None),  # an attempt with another fault is clean of this one
    ],
)
def test_a_fault_is_open_until_three_clean_attempts_follow(flown: list[Try], clean: int | None) -> None:
    found = {row.code: row.clean for row in open_faults(history(*flown))}
    assert found.get("bounced") == clean


def test_the_critical_one_comes_first_then_the_one_seen_last() -> None:
    drifted = FaultFact("drifted", "Drifted")
    rows = open_faults(history(landing(BOUNCED), landing(LOOP), landing(drifted), landing(BOUNCED)))
    assert [(row.code, row.times) for row in rows] == [("ground-loop", 1), ("bounced", 2), ("drifted", 1)]


@given(st.lists(st.sampled_from([CLEAN, UNSEEN, OTHER, landing(BOUNCED), landing(LOOP)]), max_size=12))
def test_one_more_clean_attempt_never_opens_a_fault(flown: list[Try]) -> None:
    before = {row.code for row in open_faults(history(*flown))}
    after = {row.code for row in open_faults(history(*flown, CLEAN))}
    assert after <= before
    assert {row.code for row in fault_statuses(history(*flown))} >= before


# What the numbers point to

FLOWN_BADLY = [
    ("late turn", "approach", "final.distance", 1900, "late-turn"),
    ("early turn", "approach", "final.distance", 1300, "early-turn"),
    ("too fast on final", "approach", "final.speed", 80, "final-fast"),
    ("too slow on final", "approach", "final.speed", 62, "final-slow"),
    ("too low on final", "approach", "final.height", 140, "final-low"),
    ("too high on final", "approach", "final.height", 230, "final-high"),
    ("turn steepened", "approach", "turn.bank", 35, "steep-turn-low"),
    ("round-out low", "landing", "round-out.height", 10, "round-out-low"),
    ("round-out high", "landing", "round-out.height", 40, "round-out-high"),
    ("floated past the point", "landing", "touchdown.distance", 850, "floated"),
    ("short of the point", "landing", "touchdown.distance", -10, "landed-short"),
    ("first turn low", "takeoff", "first-turn.height", 550, "first-turn-low"),
]


@pytest.mark.parametrize(("way", "part", "gate", "value", "fault"), FLOWN_BADLY, ids=[row[0] for row in FLOWN_BADLY])
def test_the_circuit_flown_badly_points_to_its_fault_and_is_capped(
    cast: Cast, way: str, part: str, gate: str, value: int, fault: str
) -> None:
    lesson = begin_lesson(cast, 14)
    record_entries(
        cast, lesson, **{f"circuit.1.{part}.level": "perform", f"circuit.1.{part}.measure.{gate}": str(value)}
    )
    grading_context = load_grading_context(lesson)
    attempt = load_attempts(lesson)[0]
    said = AttemptSummary.of("x", attempt, grading_context, Known.objects.filter(manoeuvres__code=part))
    assert [row.code for row in said.hints] == [fault]
    assert said.hints[0].cure
    proposal = propose_grade([to_marked_attempt(attempt, grading_context)], grading_context.scale)
    assert proposal.level is Level.PRACTICE
    assert not attempt.faults_seen.exists()  # pointed to, never recorded by itself


def test_the_circuit_flown_exactly_points_to_nothing(cast: Cast) -> None:
    lesson = begin_lesson(cast, 14)
    exactly = {"takeoff": ("climb.speed", "85"), "approach": ("final.speed", "68")}
    exactly["landing"] = ("touchdown.distance", "500")
    for part, (gate, aim) in exactly.items():
        record_entries(cast, lesson, **{f"circuit.1.{part}.level": "perform", f"circuit.1.{part}.measure.{gate}": aim})
    grading_context = load_grading_context(lesson)
    assert [deviation_sign(row, grading_context) for row in Measure.objects.select_related("target__gate")] == [
        "",
        "",
        "",
    ]
    assert {propose_grade([to_marked_attempt(row, grading_context)]).level for row in load_attempts(lesson)} == {
        Level.PERFORM
    }


def test_a_stick_pulled_too_fast_is_a_fault_that_is_tapped_and_a_bounce_chased_caps(cast: Cast) -> None:
    """No gate measures a balloon: it is seen, and does not cap by itself; chasing it is critical."""
    lesson = begin_lesson(cast, 14)
    record_entries(cast, lesson, **{"circuit.1.landing.level": "perform", "circuit.1.landing.fault.ballooned": "on"})
    assert to_marked_attempt(load_attempts(lesson)[0], load_grading_context(lesson)).critical_faults == ()
    record_entries(cast, lesson, **{"circuit.1.landing.fault.bounce-chased": "on"})
    proposal = propose_grade([to_marked_attempt(load_attempts(lesson)[0], load_grading_context(lesson))])
    assert proposal.sentence.startswith("Practice: ")
    assert "a critical fault" in proposal.sentence


def test_every_sign_names_a_target_of_a_type() -> None:
    kinds = [json.loads(path.read_text()) for path in (FIXTURES / "aircraft").glob("*.json")]
    known = {
        f"{gate['code']}.{target['quantity']}"
        for kind in kinds
        for gate in kind["gate_set"]["gates"]
        for target in gate["targets"]
    }
    faults = json.loads((FIXTURES / "syllabus/first-solo.json").read_text())["faults"]
    signs = [sign for fault in faults for sign in fault.get("signs", [])]
    assert len(signs) > 20
    assert {sign.rpartition(".")[0] for sign in signs} <= known


def test_the_brief_and_the_student_are_told_the_open_faults_with_their_cure(cast: Cast, client: Client) -> None:
    lesson = begin_lesson(cast, days_ago=2)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0"})
    record_circuit(cast, lesson, 1, "practice", **{"landing.fault.bounced": "on"})
    record_circuit(cast, lesson, 2, "practice")
    sign_lesson(cast, lesson, 2)
    cure = Known.objects.get(code="bounced").cure
    client.force_login(cast.bert)
    brief = client.get(f"/lessons/{begin_lesson(cast).uid}/").text
    assert "clean 1 of 3" in brief
    assert cure in brief
    client.force_login(cast.dora)
    own = client.get("/me/").text
    assert "1 of 3 attempts without it since" in own
    assert cure in own


def test_a_page_shows_what_the_numbers_point_to_at_once(cast: Cast, client: Client) -> None:
    lesson = begin_lesson(cast, 14)
    client.force_login(cast.bert)
    name = "circuit.1.approach.measure.final.speed"
    html = send_entry(client, lesson, name, "85")["html"]
    assert "The numbers point to: <b>" in html
    assert "If you saw it, tap it under Faults." in html
    assert Attempt.objects.get().faults_seen.count() == 0
