"""Every key that a check gives has a sentence, every sentence is given by a check, and each names its values."""

import ast
import string
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest

from grading.rules.readiness import sentences
from grading.rules.readiness.facts import COUNTED_PARTS
from grading.rules.readiness.sentences import SENTENCES, capital, say, say_first
from grading.rules.said import said

RULES = Path(sentences.__file__).parent
# Keys that are put together from a part of the circuit or from what is not recorded of a type.
MADE = {
    *(f"more_{part}" for part in COUNTED_PARTS),
    *(f"{key}_or_judge" for key in ("record_medical", "new_medical")),
    *(f"{key}_since" for key in ("all_met", "all_met_or_set_aside")),
    *(f"{key}_in_another_lesson" for key in ("fly", "fly_in_a_row")),
    *("features_not_recorded", "record_features", "horsepower_not_recorded", "record_horsepower"),
}


def keys_of_rules() -> Iterator[str]:
    for path in sorted(RULES.rglob("*.py")):
        if path.name != "sentences.py":
            texts = (node.value for node in ast.walk(ast.parse(path.read_text())) if isinstance(node, ast.Constant))
            yield from (text for text in texts if isinstance(text, str) and text in SENTENCES)


def test_no_sentence_is_left_over() -> None:
    assert set(keys_of_rules()) | MADE == set(SENTENCES)


@pytest.mark.parametrize("key", [key for key, forms in SENTENCES.items() if isinstance(forms, tuple)])
def test_both_numbers_of_a_sentence_name_the_same_values(key: str) -> None:
    one, many = ({name for _, name, _, _ in string.Formatter().parse(form) if name} for form in SENTENCES[key])
    assert one == many
    assert "count" in one


def test_words_of_values() -> None:
    assert say(said("answers_not_reviewed", count=1)) == "1 wrong answer not reviewed"
    assert say(said("more_approach", count=2)) == "2 more approaches"
    assert say(said("teach_manoeuvres", manoeuvres=("slow_flight", "steep_turns"))) == (
        "Still to be taught in flight and logged: slow flight, steep turns."
    )
    assert say(said("off_target", offset=(6, "kt", "speed", True))) == "6 kt fast on average"
    place = said("flown_in_circuit", lesson=3, circuit=2, on=date(2026, 6, 3))
    assert say_first(said("gate_outside", gate="final.speed", place=place)) == (
        "Final speed outside: lesson 3, circuit 2, 3 Jun 2026"
    )
    assert capital("") == ""
