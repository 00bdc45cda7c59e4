"""What the rows of a lesson become as facts of the readiness engine."""

import pytest

from grading.actions import signing
from grading.reading.facts import facts_for
from lessons.models import Circuit
from tests.cast import SECRET, Cast
from tests.factories import begin_lesson, record_circuit, record_entries

GO_AROUNDS = "61.87(d)(15)"


@pytest.mark.parametrize("shown", [False, True])
def test_what_the_instructor_showed_is_no_item_of_training(cast: Cast, shown: bool) -> None:
    """A circuit that was shown counts for nothing but the hours."""
    lesson = begin_lesson(cast, 8)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0"})
    record_circuit(cast, lesson, 1)
    record_entries(cast, lesson, **{"circuit.2.go_around.level": "practice"})
    Circuit.objects.filter(lesson=lesson, number=2).update(shown=shown)
    signing.sign_lesson(lesson=lesson, secret=SECRET, by=cast.bert, at=cast.at())
    assert (GO_AROUNDS in facts_for(cast.enrolment, cast.today).lessons[0].training) is not shown
