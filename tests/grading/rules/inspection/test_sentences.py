"""Every finding is one whole sentence, and each of its sentences is said somewhere."""

import re
from datetime import date
from pathlib import Path

import pytest

from grading.rules.inspection import sentences
from grading.rules.inspection.sentences import SENTENCES, say

FOLDER = Path(sentences.__file__).parent
RULES = "".join(path.read_text() for path in FOLDER.glob("*_rules.py")) + (FOLDER / "overlaps.py").read_text()
# Made of what two lessons share, or of whether a test has a name.
COMPOSED = re.compile(r"overlap_(instructor|aircraft|instructor_aircraft)|named_test_.*|test_not_reviewed.*")


@pytest.mark.parametrize("key", SENTENCES)
def test_a_sentence_is_whole_and_said(key: str) -> None:
    written = SENTENCES[key]
    assert re.match(r"[A-Z“{]", written)
    assert written.endswith((".", "{reason}", "{breaches}"))
    assert COMPOSED.fullmatch(key) or f'"{key}"' in RULES


def test_a_day_is_written_out() -> None:
    assert say("test_unnamed", day=date(2026, 11, 9)) == "The written test of 9 Nov 2026 has no name."
