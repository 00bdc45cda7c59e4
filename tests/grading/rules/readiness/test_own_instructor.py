"""Who counts as the student's own instructor. The rule is the project's own."""

from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from grading.rules.readiness.facts import LessonFact
from grading.rules.readiness.own_instructor import own_instructors
from lessons.rules.scale import UnitKind

DAY = date(2026, 6, 1)


def lessons_of(*names: str, kind: UnitKind = UnitKind.DUAL) -> list[LessonFact]:
    return [LessonFact(place, DAY + timedelta(place), name, kind=kind) for place, name in enumerate(names, start=1)]


def test_the_one_who_taught_most_is_the_own_instructor() -> None:
    assert own_instructors(lessons_of("B", "A", "B")) == {"B"}


def test_two_who_taught_as_often_are_both_the_own() -> None:
    assert own_instructors(lessons_of("A", "B")) == {"A", "B"}
    assert own_instructors(lessons_of("C", "A", "B", "A", "C")) == {"A", "C"}


def test_only_dual_lessons_count() -> None:
    assert own_instructors(lessons_of("A") + lessons_of("B", "B", kind=UnitKind.STAGE_CHECK)) == {"A"}
    assert own_instructors(lessons_of("B", kind=UnitKind.GROUND)) == frozenset()
    assert own_instructors([]) == frozenset()


def test_a_named_instructor_is_the_only_own_one() -> None:
    assert own_instructors(lessons_of("A", "B", "B"), named="C") == {"C"}
    assert own_instructors(lessons_of("A", "B", "B"), named="") == {"B"}


@given(st.lists(st.sampled_from("ABC"), max_size=12), st.permutations("ABC"))
def test_neither_names_nor_the_order_of_lessons_decide(taught: list[str], names: list[str]) -> None:
    renamed = dict(zip("ABC", names, strict=True))
    own = own_instructors(lessons_of(*taught))
    assert own_instructors(lessons_of(*reversed(taught))) == own
    assert own_instructors(lessons_of(*(renamed[name] for name in taught))) == {renamed[name] for name in own}
