"""Whole histories from files, each with the verdict a person worked out by hand beside it."""

import json
import subprocess
import sys
from datetime import date
from pathlib import Path

import pytest

from grading.rules.readiness import StandardError, assess
from grading.rules.readiness.json_format import BadInput, facts_from_json, facts_schema, standard_from_json

ROOT = Path(__file__).parents[4]
HISTORIES = sorted((ROOT / "fixtures/histories").glob("*.json"))


@pytest.mark.parametrize("path", HISTORIES, ids=lambda path: path.stem)
def test_the_verdict_is_the_one_worked_out_by_hand(path: Path) -> None:
    history = json.loads(path.read_text())
    standard = standard_from_json((ROOT / "fixtures/standards/us.json").read_text())
    for expected in history["worked"]:
        verdict = assess(facts_from_json(json.dumps(history["facts"])), standard, date.fromisoformat(expected["on"]))
        unmet = {row.key: [row.state.value, row.how_far] for row in verdict.unmet}
        assert (verdict.headline, unmet) == (expected["headline"], expected["unmet"])
        would_meet = {row.key: row.would_meet for row in verdict.unmet}
        assert would_meet | expected.get("would_meet", {}) == would_meet


def assess_command(*arguments: str, text: str = "") -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "manage.py", "assess", *arguments],
        cwd=ROOT, input=text, capture_output=True, text=True, check=False,
    )  # fmt: skip


def test_the_command_judges_a_file_and_names_a_wrong_field() -> None:
    facts = json.dumps(json.loads(HISTORIES[0].read_text())["facts"])
    done = assess_command("-", "--on", "2026-06-11", text=facts)
    assert done.returncode == 0, done.stderr
    assert len(json.loads(done.stdout)["requirements"]) == 19
    wrong = assess_command("-", "--on", "2026-06-11", text=facts.replace('"perform"', '"excellent"', 1))
    assert wrong.returncode == 2
    assert wrong.stderr.startswith("lessons[")
    assert "excellent" in wrong.stderr
    assert assess_command("no-such-file.json", "--on", "2026-06-11").returncode == 2


TYPE = '"aircraft_type": {"code": "x", "name": "x", "tailwheel": true}'


@pytest.mark.parametrize(
    ("text", "path"),
    [
        ("{", "this is not JSON"),
        ("[]", "the whole file: expected object"),
        (
            '{"student": {"name": "A", "brn": "2000-01-01"}, ' + TYPE + "}",
            "student.brn: no such field",
        ),
        (
            '{"student": {"name": "A"}, "aircraft_type": {"code": "x", "name": "x", "tailwheel": 1}}',
            "aircraft_type.tailwheel: expected bool",
        ),
        (
            '{"student": {"name": "A", "born": "2000-02-30"}, ' + TYPE + "}",
            "student.born: invalid",
        ),
    ],
)
def test_bad_input_names_its_path(text: str, path: str) -> None:
    with pytest.raises(BadInput) as error:
        facts_from_json(text)
    assert str(error.value).startswith(path)


def test_the_schema_describes_the_facts() -> None:
    assert "LessonFact" in facts_schema()["$defs"]


STANDARDS = [
    ROOT / f"{name}.json" for name in ("fixtures/standards/us", "fixtures/standards/eu", "tests/standards/us-2025")
]
NOTHING = facts_from_json(
    '{"student": {"name": "A"}, "aircraft_type": {"code": "x", "name": "x", "tailwheel": true, "horsepower": 300}}'
)


@pytest.mark.parametrize("path", STANDARDS, ids=lambda path: path.stem)
def test_no_standard_that_is_read_is_met_by_nothing_or_ends_in_a_traceback(path: Path) -> None:
    """Each number set to 0 and to one, each list emptied: refused, or asked of a student without any record."""
    content = json.loads(path.read_text())
    day = date(2026, 6, 11)
    assert not [row.key for row in assess(NOTHING, standard_from_json(content), day).requirements if row.state == "met"]
    refused = 0
    for row in content["requirements"]:
        for name, value in row["values"].items():
            for other in ([],) if isinstance(value, list) else (0, 1):
                row["values"][name] = other
                try:
                    verdict = assess(NOTHING, standard_from_json(content), day)
                except (BadInput, StandardError):
                    refused += 1
                else:
                    # Nobody is younger than no years; what the law asks for is refused above.
                    assert not [found.key for found in verdict.requirements if found.state == "met"], (row["key"], name)
            row["values"][name] = value
    assert refused > 10
