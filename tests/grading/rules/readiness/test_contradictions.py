"""Facts that contradict themselves are refused by the paths of their fields. The list is the project's own.

The JSON Schema is held against the reader by a general validator (jsonschema, JSON Schema 2020-12).
"""

import copy
import json
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from grading.rules.readiness.contradictions import CODES
from grading.rules.readiness.facts import EndorsementFact, GateNumberFact, KnowledgeTestFact, PaperFact
from grading.rules.readiness.json_format import BadInput, facts_from_json, facts_schema
from lessons.models import Endorsement, GateTarget, KnowledgeTest
from lessons.models import Lesson as FlownLesson
from school.models import Paper

ROOT = Path(__file__).parents[4]
HISTORIES = [json.loads(path.read_text())["facts"] for path in sorted((ROOT / "fixtures/histories").glob("*.json"))]
TODAY = date(2026, 12, 1)
SCHEMA = Draft202012Validator(facts_schema(), format_checker=Draft202012Validator.FORMAT_CHECKER)


def make_history() -> dict[str, Any]:
    """Return a history in which every kind of fact is present and nothing contradicts itself."""
    attempt = {
        "manoeuvre": "landing", "level": "perform", "help": "none", "step": "perform",
        "faults": [{"code": "flat", "name": "flat flare", "critical": False}],
        "numbers": [
            {"gate": "final", "quantity": "speed", "amount": 3.5, "over": 5, "under": 0, "unit": "kt"},
            {"gate": "final", "quantity": "height", "amount": -20, "over": 50, "under": 50, "unit": "ft"},
        ],
    }  # fmt: skip
    lesson = {
        "number": 1, "on": "2026-06-01", "signed": "2026-06-02", "instructor": "B. Example", "aircraft_type": "t1",
        "kind": "dual", "training": ["d3"], "dual_minutes": 60, "solo_minutes": 0, "id": "one",
        "circuits": [{"number": 1, "ending": "full_stop", "landing": attempt}, {"number": 2, "landing": attempt}],
        "manoeuvres": [attempt | {"manoeuvre": "stalls"}],
    }  # fmt: skip
    # Through JSON, so that no two places share an object.
    return json.loads(
        json.dumps({
            "student": {"name": "D. Example", "born": "2004-03-02"},
            "aircraft_type": {"code": "t1", "name": "Type One", "tailwheel": True},
            "own_instructor": "B. Example",
            "papers": [
                {"kind": "english", "issued": "2026-01-10", "recorded": "2026-01-11", "void_from": "2026-02-01"},
                {"kind": "medical", "issued": "2026-01-10", "expires": "2027-01-31", "medical_class": "3"},
            ],
            "knowledge_tests": [
                {
                    "on": "2026-05-20", "aircraft_type": "t1", "topics": ["rules", "aerodrome"], "wrong": 2,
                    "reviewed": "2026-05-21", "by": "B. Example",
                }
            ],
            "endorsements": [
                {"kind": "tailwheel", "on": "2026-05-20", "by": "B. Example", "withdrawn": "2026-05-25"}
            ],
            "lessons": [lesson, lesson | {"number": 2, "on": "2026-06-03", "signed": "2026-06-03", "id": "two"}],
            "set_aside": [{"requirement": "go_around", "on": "2026-06-04", "by": "C. Example", "reason": "Shown."}],
        })
    )  # fmt: skip


def change(facts: dict[str, Any], path: str, value: Any) -> dict[str, Any]:
    """Return the facts with another value at a path such as 'lessons.0.number'."""
    changed = copy.deepcopy(facts)
    *way, last = [int(step) if step.isdigit() else step for step in path.split(".")]
    place: Any = changed
    for step in way:
        place = place[step]
    place[last] = value
    return changed


def refusal(facts: dict[str, Any], today: date | None = TODAY) -> str:
    with pytest.raises(BadInput) as error:
        facts_from_json(json.dumps(facts), today)
    return str(error.value)


@pytest.mark.parametrize("facts", [*HISTORIES, make_history()], ids=lambda facts: facts["student"]["name"])
def test_a_good_history_passes_reader_and_schema(facts: dict[str, Any]) -> None:
    facts_from_json(json.dumps(facts), TODAY)
    assert list(SCHEMA.iter_errors(facts)) == []


LANDING = "lessons.0.circuits.0.landing"

# What only the reader can see: a schema does not compare two values.
ACROSS_FIELDS = [
    ("lessons.0.signed", "2026-05-31", "lessons[0].signed is before lessons[0].on: 2026-05-31 and 2026-06-01"),
    ("lessons.1.on", "2026-12-02", "lessons[1].on is after today: 2026-12-02 and 2026-12-01"),
    ("lessons.1.signed", "2026-12-02", "lessons[1].signed is after today"),
    ("lessons.1.number", 1, "lessons[1].number is the same as lessons[0].number: 1"),
    ("lessons.1.id", "one", "lessons[1].id is the same as lessons[0].id: one"),
    ("lessons.0.circuits.1.number", 1, "lessons[0].circuits[1].number is the same as lessons[0].circuits[0].number"),
    ("lessons.0.solo_minutes", 1381, "lessons[0].dual_minutes and lessons[0].solo_minutes are together more than"),
    ("papers.1.expires", "2026-01-09", "papers[1].expires is before papers[1].issued"),
    ("papers.0.void_from", "2026-01-10", "papers[0].void_from is before papers[0].recorded"),
    ("papers.0.issued", "2026-12-02", "papers[0].issued is after today"),
    ("knowledge_tests.0.reviewed", "2026-05-19", "knowledge_tests[0].reviewed is before knowledge_tests[0].on"),
    ("endorsements.0.withdrawn", "2026-05-19", "endorsements[0].withdrawn is before endorsements[0].on"),
    ("set_aside.0.on", "2026-12-02", "set_aside[0].on is after today"),
    ("student.born", "2026-12-02", "student.born is after today"),
]  # fmt: skip

# What the published schema refuses too.
IN_ONE_FIELD = [
    ("lessons.0.number", 0, "lessons[0].number: expected 1 to 32767, got 0"),
    ("lessons.0.number", 10**30, "lessons[0].number: expected 1 to 32767"),
    ("lessons.0.circuits.0.number", 0, "lessons[0].circuits[0].number: expected 1"),
    ("lessons.0.dual_minutes", -1, "lessons[0].dual_minutes: expected 0 to 1440, got -1"),
    ("lessons.0.dual_minutes", 1441, "lessons[0].dual_minutes: expected 0 to 1440"),
    ("lessons.0.solo_minutes", -1, "lessons[0].solo_minutes: expected 0"),
    ("knowledge_tests.0.wrong", -1, "knowledge_tests[0].wrong: expected 0"),
    ("knowledge_tests.0.topics.1", "weather", "knowledge_tests[0].topics[1]: expected one of rules, aerodrome"),
    ("student.born", "1899-12-31", "student.born: expected a year from 1900 to 2200"),
    ("papers.1.expires", "2201-01-01", "papers[1].expires: expected a year"),
    ("papers.1.expires", "10000-01-01", "papers[1].expires: invalid"),
    ("papers.0.kind", "englisch", "papers[0].kind: expected one of student_certificate"),
    ("papers.1.medical_class", "4", "papers[1].medical_class: expected one of 1, 2, 3, lapl"),
    ("papers.0.medical_class", "3", "papers[0].medical_class contradicts papers[0].kind"),
    ("papers.1.medical_class", None, "papers[1].medical_class contradicts papers[1].kind: a medical has a class"),
    ("endorsements.0.kind", "tailweel", "endorsements[0].kind: expected one of complex"),
    ("lessons.0.kind", "duel", "lessons[0].kind: invalid"),
    (f"{LANDING}.level", "excellent", "lessons[0].circuits[0].landing.level: invalid"),
    (f"{LANDING}.numbers.0.unit", "ft", "lessons[0].circuits[0].landing.numbers[0].unit is not a unit of"),
    (f"{LANDING}.numbers.0.quantity", "heading", "lessons[0].circuits[0].landing.numbers[0].quantity: expected one"),
    (f"{LANDING}.numbers.0.over", -5, "lessons[0].circuits[0].landing.numbers[0].over: expected 0"),
    (f"{LANDING}.numbers.0.under", -0.5, "lessons[0].circuits[0].landing.numbers[0].under: expected 0"),
    (f"{LANDING}.numbers.0.amount", 1e9, "lessons[0].circuits[0].landing.numbers[0].amount: expected -100000"),
    ("lessons.0.instructor", "", "lessons[0].instructor: expected words"),
    ("lessons.0.instructor", "B. Example ", "lessons[0].instructor: expected words"),
    ("lessons.0.instructor", "B. Example\n", "lessons[0].instructor: expected words"),
    ("aircraft_type.code", "", "aircraft_type.code: expected words"),
    ("set_aside.0.reason", " ", "set_aside[0].reason: expected words"),
    ("own_instructor", "", "own_instructor: expected words"),
    (f"{LANDING}.kept", " ", "lessons[0].circuits[0].landing.kept: expected words"),
    (f"{LANDING}.manoeuvre", "go_around", "lessons[0].circuits[0].landing.manoeuvre contradicts lessons"),
    (f"{LANDING}.manoeuvre", "landng", "lessons[0].circuits[0].landing.manoeuvre contradicts lessons"),
    (f"{LANDING}.not_done", "flare", "lessons[0].circuits[0].landing.not_done: expected array"),
]  # fmt: skip


@pytest.mark.parametrize(("path", "value", "sentence"), ACROSS_FIELDS, ids=lambda text: str(text)[:40])
def test_days_and_numbers_that_contradict_each_other_are_named_by_both_paths(
    path: str, value: Any, sentence: str
) -> None:
    assert refusal(change(make_history(), path, value)).startswith(sentence)


@pytest.mark.parametrize(("path", "value", "sentence"), IN_ONE_FIELD, ids=lambda text: str(text)[:40])
def test_an_absurd_value_is_refused_by_reader_and_schema(path: str, value: Any, sentence: str) -> None:
    facts = change(make_history(), path, value)
    assert refusal(facts).startswith(sentence)
    assert not SCHEMA.is_valid(facts)


def test_a_number_of_thousands_of_digits_is_refused_in_a_sentence() -> None:
    text = json.dumps(change(make_history(), "lessons.0.number", "DIGITS")).replace('"DIGITS"', "9" * 5000)
    with pytest.raises(BadInput, match=r"^lessons\[0\]\.number: .{,80}$"):
        facts_from_json(text)


def test_days_to_come_are_allowed_where_nobody_says_what_day_it_is() -> None:
    later = change(change(make_history(), "lessons.1.on", "2027-06-01"), "lessons.1.signed", "2027-06-01")
    assert facts_from_json(json.dumps(later)).lessons[1].on == date(2027, 6, 1)
    assert "lessons[1].on is after today" in refusal(later)


def objects_in(value: Any, path: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    if isinstance(value, dict):
        yield path, value
        for key, entry in value.items():
            yield from objects_in(entry, f"{path}.{key}")
    elif isinstance(value, list):
        for place, entry in enumerate(value):
            yield from objects_in(entry, f"{path}[{place}]")


def test_an_unknown_field_is_refused_at_every_depth() -> None:
    """Once lost without a word below an optional object, which made a student ready who had been helped."""
    count = len(list(objects_in(make_history())))
    assert count > 30
    for place in range(count):
        facts = make_history()
        path, wanted = list(objects_in(facts))[place]
        wanted["hlep"] = "took_control"
        assert refusal(facts).startswith(f"{path}.hlep: no such field".removeprefix("."))
        assert not SCHEMA.is_valid(facts)


@given(st.data())
def test_a_misspelt_field_of_any_history_is_never_a_verdict(data: st.DataObject) -> None:
    facts = copy.deepcopy(data.draw(st.sampled_from(HISTORIES)))
    _, wanted = data.draw(st.sampled_from(list(objects_in(facts))))
    assume(wanted)
    name = data.draw(st.sampled_from(sorted(wanted)))
    letters = data.draw(st.permutations(name)) if data.draw(st.booleans()) else [*name, "s"]
    misspelt = "".join(letters)
    assume(misspelt not in wanted)
    wanted[misspelt] = wanted.pop(name)
    refusal(facts)
    assert not SCHEMA.is_valid(facts)


def test_a_field_given_twice_is_refused() -> None:
    text = json.dumps(make_history()).replace('"help": "none"', '"help": "took_control", "help": "none"', 1)
    with pytest.raises(BadInput) as error:
        facts_from_json(text)
    assert str(error.value) == "lessons[0].circuits[0].landing.help: this field is given twice"


def test_the_closed_lists_are_those_of_the_database() -> None:
    assert {field: set(codes) for field, codes in CODES.items()} == {
        (PaperFact, "kind"): set(Paper.Kind.values),
        (PaperFact, "medical_class"): set(Paper.MedicalClass.values),
        (KnowledgeTestFact, "topics"): set(KnowledgeTest.Topic.values),
        (EndorsementFact, "kind"): set(Endorsement.Kind.values),
        (GateNumberFact, "quantity"): set(GateTarget.Quantity.values),
    }
    assert FlownLesson._meta.get_field("number").get_internal_type() == "PositiveSmallIntegerField"


JUNK = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(max_size=12)
    | st.sampled_from(["2026-06-01", "perform", "none", "3", "medical", "0001-01-01", "9999-12-31", "t1", ""]),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=4,
)


@given(st.data())
def test_whatever_the_schema_refuses_the_reader_refuses(data: st.DataObject) -> None:
    facts = copy.deepcopy(data.draw(st.sampled_from([*HISTORIES, make_history()])))
    for _ in range(data.draw(st.integers(1, 3))):
        _, wanted = data.draw(st.sampled_from(list(objects_in(facts))))
        if wanted:
            wanted[data.draw(st.sampled_from(sorted(wanted)))] = data.draw(JUNK)
    sentence = sentence_about(facts)
    assert "\n" not in sentence
    # The schema is silent only where two values are compared, and one sentence may hide another fault.
    across = any(words in sentence for words in (" is before ", " is after ", " is the same ", " are together "))
    assert across or SCHEMA.is_valid(facts) is (sentence == "")


def sentence_about(facts: dict[str, Any]) -> str:
    try:
        facts_from_json(json.dumps(facts), TODAY)
    except BadInput as error:
        return str(error)
    return ""
