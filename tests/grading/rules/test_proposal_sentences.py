"""Why a level is proposed has one sentence for each case, alone and as one of several attempts."""

import pytest

from grading.rules.proposal_sentences import SENTENCES, say
from grading.rules.said import said
from lessons.rules.scale import Help


def test_each_case_has_its_sentences() -> None:
    alone = {key.removesuffix("_weakest") for key in SENTENCES if key.endswith("_weakest")}
    assert alone == {key.removesuffix("_lower_of_two") for key in SENTENCES if key.endswith("_lower_of_two")}
    assert alone == {"as_tapped", "control_taken", "lowered", "kept"}
    assert {help.value for help in Help if help is not Help.NONE} <= set(SENTENCES)


@pytest.mark.parametrize(
    ("fault", "words"), [("Ground loop", "ground loop, a critical fault"), ("PIO", "PIO, a critical fault")]
)
def test_an_abbreviation_keeps_its_capitals(fault: str, words: str) -> None:
    assert say(said("critical_fault", fault=fault)) == words
