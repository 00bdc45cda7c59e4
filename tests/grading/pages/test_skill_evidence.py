"""What the page before first solo says of the time to come: the verdict's own event, and nothing it contradicts."""

from dataclasses import replace

from django.test import Client

from grading.pages.skill_evidence import SkillEvidence, build_skill_evidence
from grading.reading.student_summary import summarise_students
from tests.cast import Cast
from tests.factories import fly_lesson

PROMISE = "It is no date and no promise."


def evidence_of(cast: Cast) -> tuple[SkillEvidence, int]:
    """Return the evidence of the student, and the fewest circuits that a part still needs."""
    row = summarise_students([cast.enrolment], cast.today)[0]
    return build_skill_evidence(row), max(progress.more for progress in row.progress.values())


def test_before_three_circuits_there_is_no_forecast(cast: Cast) -> None:
    fly_lesson(cast, circuits=2, days_ago=5)
    evidence, _ = evidence_of(cast)
    assert evidence.forecast_words == "Too few circuits for a forecast."


def test_the_forecast_says_until_what_and_contradicts_no_part(cast: Cast, client: Client) -> None:
    for days_ago, level in ((20, "practice"), (12, "perform"), (4, "perform")):
        fly_lesson(cast, circuits=2, days_ago=days_ago, level=level)
    evidence, fewest = evidence_of(cast)
    assert evidence.forecast is not None
    assert fewest > 0
    assert evidence.forecast.early >= fewest
    assert "more circuits (" in evidence.forecast_words
    assert "until all parts would meet the standard at the end of a lesson." in evidence.forecast_words
    assert evidence.forecast_words.endswith(PROMISE)
    client.force_login(cast.amelia)
    assert evidence.forecast_words in client.get(f"/students/{cast.enrolment.uid}/").text


def test_a_student_who_meets_the_parts_is_told_no_number(cast: Cast) -> None:
    for days_ago in (9, 6, 3):
        fly_lesson(cast, circuits=4, days_ago=days_ago)
    evidence, fewest = evidence_of(cast)
    assert fewest == 0
    assert evidence.forecast_words == "All parts of the circuit meet the standard."


def test_without_progress_the_part_is_named_and_no_number_of_circuits_given(cast: Cast) -> None:
    for days_ago in (20, 12, 4):
        fly_lesson(cast, circuits=2, days_ago=days_ago, level="practice")
    evidence, _ = evidence_of(cast)
    assert evidence.forecast is not None
    since = tuple(35 if part.part == "landing" else 0 for part in evidence.parts)
    stalled = replace(evidence, forecast=replace(evidence.forecast, without_progress=since))
    assert stalled.forecast_words == (
        "Landing: no progress in the last 35 circuits. No number of circuits can be told from that."
    )
