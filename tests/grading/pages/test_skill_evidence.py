"""What the page before first solo says of the time to come: the verdict's own event, and nothing it contradicts."""

from dataclasses import replace

from django.test import Client

from grading.pages.skill_evidence import SkillEvidence, build_skill_evidence
from grading.reading.student_summary import summarise_students
from lessons.rules.scale import Part
from tests.cast import Cast
from tests.factories import begin_lesson, fly_lesson, record_circuit, record_entries, sign_lesson

PROMISE = "This is only an estimate."


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
    assert stalled.forecast_words == "Landing: no progress in the last 35 circuits. No forecast is possible."


def test_a_gate_says_whether_the_next_number_is_of_another_lesson(cast: Cast) -> None:
    """Six numbers of one lesson say nothing of another day; with a second lesson the next one is of a third."""
    for lesson, words in (
        (1, "likely to be inside in the same lesson; another day may differ."),
        (2, "in the next lesson."),
    ):
        flown = begin_lesson(cast, 14, 9 - lesson)
        record_entries(cast, flown, **{"lesson.dual_minutes": "1.0"})
        for number in range(1, 7):
            record_circuit(cast, flown, number, **{"approach.measure.final.speed": str(67 + 4 * lesson + number % 2)})
        alone = cast.units[14].graded.filter(compulsory=True).exclude(manoeuvre__code__in=list(Part))
        codes = alone.values_list("manoeuvre__code", flat=True)
        record_entries(cast, flown, **{f"manoeuvre.{code}.level": "perform" for code in codes})
        sign_lesson(cast, flown, 9 - lesson)
        [gate] = evidence_of(cast)[0].gates
        assert gate.words.endswith(words)
        assert gate.consistency is not None
        assert gate.consistency.lessons == lesson
