"""A whole circuit in one entry: closed to standard, control taken in a part, shown, and each taken back by one undo."""

from typing import Any

import pytest

from grading.actions import corrections, recording
from grading.actions.signing import circuit_counts, counts_from_endings
from grading.models import Attempt, Tap
from lessons.models import Circuit
from school.errors import Refusal
from tests.cast import Cast
from tests.factories import begin_lesson, record_entries, sign_lesson


def flown_parts(number: int = 1) -> dict[str, tuple[str, str, bool]]:
    rows = Attempt.objects.filter(circuit__number=number).order_by("pk")
    return {row.part: (row.tapped, row.help, row.by_closing) for row in rows}


def undo(cast: Cast, lesson: Any) -> Tap | None:
    return recording.undo_tap(lesson=lesson, by=cast.bert, at=cast.at())


GIVEN = ("perform", "none", True)


def test_closing_to_standard_grades_what_nobody_tapped_and_one_undo_takes_it_back(cast: Cast) -> None:
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"circuit.1.landing.level": "practice", "circuit.1.approach.help": "prompted"})
    record_entries(cast, lesson, **{"circuit.1.closed": "to_standard"})
    parts = flown_parts()
    assert parts["landing"] == ("practice", "none", False)  # a level tapped before stays
    assert parts["approach"] == ("perform", "prompted", True)
    assert parts["takeoff"] == GIVEN
    assert Circuit.objects.get().closed
    assert Tap.objects.count() == 3
    undo(cast, lesson)
    assert flown_parts() == {"landing": ("practice", "none", False), "approach": ("", "prompted", False)}
    assert not Circuit.objects.get().closed


def test_one_number_is_closed_once(cast: Cast) -> None:
    lesson = begin_lesson(cast)
    for value in ("to_standard", "to_standard", "on"):
        record_entries(cast, lesson, **{"circuit.1.closed": value})
    assert (Tap.objects.count(), Circuit.objects.count()) == (1, 1)


def test_an_empty_circuit_is_not_closed_as_tapped(cast: Cast) -> None:
    lesson = begin_lesson(cast)
    with pytest.raises(Refusal, match="Not closed: nothing is tapped in circuit 1"):
        record_entries(cast, lesson, **{"circuit.1.takeoff.help": "none", "circuit.1.closed": "on"})
    assert not Circuit.objects.exists()


def test_a_fault_without_its_level_refuses_the_closing_key_and_not_the_other(cast: Cast) -> None:
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"circuit.1.landing.fault.bounced": "on"})
    with pytest.raises(Refusal, match="Landing has a fault: tap its level first"):
        record_entries(cast, lesson, **{"circuit.1.closed": "to_standard"})
    record_entries(cast, lesson, **{"circuit.1.closed": "on"})
    assert flown_parts() == {"landing": ("", "none", False)}


@pytest.mark.parametrize("order", [("bounce", "around"), ("around", "bounce")])
def test_a_bounce_and_a_go_around_are_both_kept_in_either_order(cast: Cast, order: tuple[str, ...]) -> None:
    lesson = begin_lesson(cast)
    entries = {
        "bounce": {"circuit.1.landing.fault.bounced": "on", "circuit.1.landing.level": "practice"},
        "around": {"circuit.1.ending": "go_around"},
    }
    for name in order:
        record_entries(cast, lesson, **entries[name])
    record_entries(cast, lesson, **{"circuit.1.closed": "to_standard", "circuit.2.closed": "to_standard"})
    parts = flown_parts()
    assert (parts["landing"], parts["go_around"]) == (("practice", "none", False), GIVEN)
    assert Attempt.objects.get(circuit__number=1, part="landing").faults_seen.count() == 1
    # It began in the air.
    assert "takeoff" not in flown_parts(2)
    assert flown_parts(2)["landing"] == GIVEN
    assert circuit_counts(lesson) == (1, 1)


def test_a_go_around_from_the_approach_has_no_landing(cast: Cast) -> None:
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"circuit.1.ending": "go_around", "circuit.1.closed": "to_standard"})
    assert set(flown_parts()) >= {"takeoff", "approach", "go_around"}
    assert "landing" not in flown_parts()


def test_took_control_writes_ending_and_help_in_one_entry(cast: Cast) -> None:
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"circuit.1.approach.help": "prompted"})
    record_entries(cast, lesson, **{"circuit.1.took_control": "landing"})
    assert flown_parts()["landing"] == ("", "took_control", False)
    record_entries(cast, lesson, **{"circuit.1.took_control": "approach"})
    assert flown_parts() == {"approach": ("", "took_control", False), "landing": ("", "none", False)}
    record_entries(cast, lesson, **{"circuit.1.closed": "to_standard"})
    parts = flown_parts()
    # Before it to standard, from it on the instructor flew.
    assert (parts["takeoff"], parts["approach"], parts["landing"]) == (
        GIVEN,
        ("", "took_control", False),
        ("", "none", False),
    )
    undo(cast, lesson)
    undo(cast, lesson)
    assert flown_parts()["landing"] == ("", "took_control", False)
    assert flown_parts()["approach"] == ("", "prompted", False)
    undo(cast, lesson)
    assert (Circuit.objects.get().ending, flown_parts()["landing"][1]) == ("full_stop", "none")


def test_another_ending_clears_the_control_that_was_taken_and_undo_brings_it_back(cast: Cast) -> None:
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"circuit.1.took_control": "landing"})
    record_entries(cast, lesson, **{"circuit.1.ending": "touch_and_go"})
    assert (Circuit.objects.get().ending, flown_parts()["landing"][1]) == ("touch_and_go", "none")
    undo(cast, lesson)
    assert (Circuit.objects.get().ending, flown_parts()["landing"][1]) == ("took_control", "took_control")


def test_control_taken_in_a_circuit_that_ended_with_a_go_around_is_taken_back_as_it_was(cast: Cast) -> None:
    """A go-around is an ending and a part: read as the part, an undo would take control in the go-around."""
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"circuit.1.landing.level": "practice", "circuit.1.ending": "go_around"})
    before = flown_parts()
    record_entries(cast, lesson, **{"circuit.1.took_control": "landing"})
    undo(cast, lesson)
    assert Circuit.objects.get().ending == "go_around"
    assert flown_parts() == before


def test_took_control_without_a_part_is_refused_and_an_older_tablet_understood(cast: Cast) -> None:
    lesson = begin_lesson(cast)
    with pytest.raises(Refusal, match="the part in which"):
        record_entries(cast, lesson, **{"circuit.1.ending": "took_control"})
    record_entries(cast, lesson, **{"circuit.1.landing.help": "took_control", "circuit.1.ending": "took_control"})
    assert Circuit.objects.get().ending == "took_control"


@pytest.mark.parametrize(
    "entries",
    [
        {"circuit.1.landing.help": "prompted"},
        {"circuit.1.took_control": "landing"},
        {"circuit.1.shown": "on"},
        {"circuit.1.landing.help": "took_control"},
    ],
)
def test_solo_nobody_helps_takes_control_or_shows(cast: Cast, entries: dict[str, str]) -> None:
    lesson = begin_lesson(cast, 17)
    with pytest.raises(Refusal, match="solo"):
        record_entries(cast, lesson, **entries)
    record_entries(cast, lesson, **{"circuit.1.closed": "to_standard"})
    assert flown_parts()["landing"] == GIVEN


def test_a_level_tapped_over_a_given_one_is_the_instructors_until_it_is_undone(cast: Cast) -> None:
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"circuit.1.closed": "to_standard"})
    record_entries(cast, lesson, **{"circuit.1.landing.level": "explain"})
    assert flown_parts()["landing"] == ("explain", "none", False)
    undo(cast, lesson)
    assert flown_parts()["landing"] == GIVEN
    undo(cast, lesson)
    assert not Circuit.objects.exists()


def test_the_kind_of_landing_stays_until_another_is_tapped(cast: Cast) -> None:
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"circuit.1.closed": "to_standard", "circuit.2.landing_kind": "wheel"})
    record_entries(cast, lesson, **{"circuit.2.closed": "to_standard", "circuit.3.closed": "to_standard"})
    kinds = list(Circuit.objects.order_by("number").values_list("landing_kind", flat=True))
    assert kinds == ["three_point", "wheel", "wheel"]


def test_an_undone_kind_leaves_no_circuit(cast: Cast) -> None:
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"circuit.1.landing_kind": "wheel"})
    undo(cast, lesson)
    assert not Circuit.objects.exists()


def test_a_shown_circuit_counts_for_nothing(cast: Cast) -> None:
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0", "circuit.1.shown": "on"})
    record_entries(cast, lesson, **{"circuit.1.closed": "to_standard", "circuit.2.closed": "to_standard"})
    assert flown_parts(1) == {}
    sign_lesson(cast, lesson)
    assert (lesson.takeoffs, lesson.landings) == (1, 1)


@pytest.mark.parametrize(
    ("endings", "shown", "counts"),
    [
        (["full_stop"], [False], (1, 1)),
        (["go_around", "full_stop"], [False, False], (1, 1)),
        # The instructor took off, went around, and the student landed.
        (["go_around", "full_stop"], [True, False], (0, 1)),
        (["full_stop", "go_around", "touch_and_go"], [False, False, True], (2, 1)),
        (["full_stop", "full_stop"], [], (2, 2)),
    ],
)
def test_takeoffs_and_landings(endings: list[str], shown: list[bool], counts: tuple[int, int]) -> None:
    assert counts_from_endings(endings, shown) == counts


def test_a_correction_copies_what_is_said_of_a_circuit(cast: Cast) -> None:
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0", "circuit.1.landing_kind": "wheel"})
    record_entries(cast, lesson, **{"circuit.1.landing.kept": "gust", "circuit.1.closed": "to_standard"})
    record_entries(cast, lesson, **{"circuit.2.shown": "on", "circuit.2.closed": "on"})
    sign_lesson(cast, lesson)
    version = corrections.begin_correction(lesson=lesson, reason="A remark", by=cast.bert, at=cast.at())
    rows = list(version.circuits.order_by("number").values_list("landing_kind", "shown"))
    assert rows == [("wheel", False), ("wheel", True)]
    copy = Attempt.objects.get(lesson=version, part="landing")
    assert (copy.kept, copy.by_closing) == ("gust", True)
