"""Levels that the instructor kept: listed with the reason on the page where the chief instructor decides."""

from django.test import Client

from lessons.rules.scale import Part
from tests.cast import Cast
from tests.factories import begin_lesson, record_circuit, record_entries, sign_lesson

REASON = "A gust at the gate"


def page_after(cast: Cast, **entries: str) -> str:
    """Sign a lesson of one circuit with these entries; return the readiness page as the chief instructor reads it."""
    lesson = begin_lesson(cast, 14)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0"})
    record_circuit(cast, lesson, 1, **entries)
    alone = cast.units[14].graded.filter(compulsory=True).exclude(manoeuvre__code__in=list(Part))
    codes = alone.values_list("manoeuvre__code", flat=True)
    record_entries(cast, lesson, **{f"manoeuvre.{code}.level": "perform" for code in codes})
    sign_lesson(cast, lesson)
    client = Client()
    client.force_login(cast.amelia)
    return client.get(f"/students/{cast.enrolment.uid}/").text


def test_a_kept_level_is_listed_with_what_spoke_against_it(cast: Cast) -> None:
    text = page_after(cast, **{"approach.measure.final.speed": "53", "approach.kept": REASON})
    assert "Lesson 1, circuit 1: approach" in text
    assert "15 kt slow at final" in text
    assert REASON in text
    assert "0 of 1 so far" not in text  # it counts as tapped


def test_a_level_that_was_lowered_is_not_listed(cast: Cast) -> None:
    text = page_after(cast, **{"approach.measure.final.speed": "53"})
    assert "Levels kept by the instructor" not in text
    assert "0 of 1 so far" in text


def test_a_reason_where_nothing_spoke_against_the_level_is_not_listed(cast: Cast) -> None:
    text = page_after(cast, **{"approach.measure.final.speed": "68", "approach.kept": REASON})
    assert "Levels kept by the instructor" not in text


def test_levels_given_by_one_key_are_counted_for_the_chief(cast: Cast) -> None:
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0", "circuit.1.landing.level": "practice"})
    record_entries(cast, lesson, **{"circuit.1.closed": "to_standard", "circuit.2.closed": "to_standard"})
    sign_lesson(cast, lesson)
    client = Client()
    client.force_login(cast.amelia)
    text = client.get(f"/students/{cast.enrolment.uid}/").text
    assert "Of 8 levels in circuits, 7 were given together" in " ".join(text.split())
