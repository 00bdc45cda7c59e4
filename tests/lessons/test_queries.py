"""What is asked of the lessons across students."""

from datetime import timedelta

from grading.actions import corrections
from lessons.queries import find_excess_around, instructor_excesses
from tests.cast import Cast
from tests.factories import begin_lesson, record_circuit, record_entries, sign_lesson


def test_a_flight_under_correction_is_counted_once(cast: Cast) -> None:
    """Five hours of flight training: 14 CFR 61.195(a) allows eight in 24 hours, and ten would be beyond it."""
    lesson = begin_lesson(cast)
    record_entries(
        cast, lesson, **{"lesson.dual_minutes": "5.0", "lesson.off_blocks": "03:00", "lesson.on_blocks": "08:00"}
    )
    record_circuit(cast, lesson, 1)
    sign_lesson(cast, lesson)
    version = corrections.begin_correction(lesson=lesson, reason="Mistyped.", by=cast.bert, at=cast.at(12))
    assert find_excess_around(version) is None
    assert instructor_excesses(cast.today - timedelta(days=1), cast.today) == []
    record_entries(cast, version, **{"lesson.dual_minutes": "8.5", "lesson.on_blocks": "11:30"})
    version.refresh_from_db()
    excess = find_excess_around(version)
    assert excess is not None
    assert [person for person, _ in instructor_excesses(cast.today, cast.today)] == [cast.bert]
