"""A verdict that was stored says word for word what it said when it was derived."""

import json
from datetime import date
from pathlib import Path

import pytest

from grading.rules.readiness import assess
from grading.rules.readiness.json_format import facts_from_json, standard_from_json, verdict_to_json
from grading.rules.readiness.stored_form import verdict_from_plain, verdict_to_plain

ROOT = Path(__file__).parents[4]
STANDARDS = [
    ROOT / "fixtures/standards/us.json",
    ROOT / "fixtures/standards/eu.json",
    ROOT / "tests/standards/us-2025.json",
]


@pytest.mark.parametrize("path", sorted((ROOT / "fixtures/histories").glob("*.json")), ids=lambda path: path.stem)
def test_it_reads_as_it_was_written(path: Path) -> None:
    history = json.loads(path.read_text())
    facts = facts_from_json(json.dumps(history["facts"]))
    for standard in STANDARDS:
        for worked in history["worked"]:
            verdict = assess(facts, standard_from_json(standard.read_text()), date.fromisoformat(worked["on"]))
            read = verdict_from_plain(json.loads(json.dumps(verdict_to_plain(verdict))))
            assert read == verdict
            assert verdict_to_json(read) == verdict_to_json(verdict)
