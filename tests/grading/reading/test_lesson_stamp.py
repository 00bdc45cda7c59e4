"""A page kept under the stamp of its lesson is never an old one: each part of the stamp is needed, and none is missing.

The project's own rule.
"""

import re
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta
from typing import Any

import pytest
from django.db import connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext

from grading.models import Attempt, CriterionSeen, DeviceEvent, FaultSeen, Grade, Measure, Release, Tap
from grading.reading.lesson_stamp import FROM, SETTING, WORK, LessonStamp, read_lesson_stamp
from grading.views import lesson as lesson_view
from lessons.models import Circuit, Criterion, Endorsement, Fault, GateSet, GateTarget, Lesson
from school.fragment_cache import fragments
from school.models import Aerodrome, Aircraft, AircraftPaper, AircraftType, Obstacle, Person, Runway, School
from tests.cast import Cast
from tests.factories import begin_lesson, record_circuit, record_entries

# New in every answer, whatever it shows.
TOKENS = re.compile(r'csrfmiddlewaretoken" value="\w+"|"X-CSRFToken": "\w+"|nonce="[^"]+"|\d\d:\d\d UTC|\d\d:\d\d:\d\d')
TABLES = re.compile(r'(?:FROM|JOIN) "?(\w+)"?')
# Of a published issue, whose rows the database lets nobody change.
PUBLISHED = {
    *("lessons_syllabus", "lessons_stage", "lessons_unit", "lessons_unitmanoeuvre", "lessons_manoeuvre"),
    *("lessons_criterion", "lessons_fault", "lessons_fault_manoeuvres", "lessons_gradescale"),
    *("lessons_gate", "lessons_gatetarget"),
}
# Who asks, and the stored verdict, which has a stamp of its own.
BESIDE_THE_STAMP = {"django_session", "grading_storedverdict"}


class Writing:
    """A lesson that Bert is writing, with one circuit in which everything was noted, and its page."""

    def __init__(self, cast: Cast) -> None:
        self.cast, self.client = cast, Client()
        self.client.force_login(cast.bert)
        self.lesson = begin_lesson(cast, 14)
        Lesson.objects.filter(pk=self.lesson.pk).update(
            wind_direction=200, wind_speed_kt=10, wind_reference="true", dual_minutes=60,
            off_blocks=cast.at(8), on_blocks=cast.at(9),
        )  # fmt: skip
        self.lesson.refresh_from_db()
        record_circuit(cast, self.lesson, 1, **{"approach.measure.final.speed": "70"})

    def look(self) -> str:
        reply = self.client.get(f"/lessons/{self.lesson.uid}/")
        assert reply.status_code == 200
        return " ".join(TOKENS.sub("", reply.text).split())

    def look_anew(self) -> str:
        fragments.clear()
        return self.look()

    @property
    def landing(self) -> Attempt:
        return Attempt.objects.get(lesson=self.lesson, part="landing")

    def update(self, **values: Any) -> None:
        Lesson.objects.filter(pk=self.lesson.pk).update(**values)


def give_release(writing: Writing) -> None:
    cast = writing.cast
    Release.objects.create(
        enrolment=cast.enrolment, kind="day", aircraft_type=cast.type, aerodrome=cast.runway.aerodrome, runways="18",
        max_wind_kt=12, max_crosswind_kt=6, min_visibility_sm=5, min_ceiling_ft=2000, valid_from=cast.today,
        valid_until=cast.today + timedelta(days=9), verdict={}, endorsed_by=cast.bert, training_on=cast.today,
        decided_at=cast.at(8), decided_by=cast.amelia,
    )  # fmt: skip


def fly_solo(writing: Writing) -> None:
    writing.update(unit=writing.cast.units[17])
    writing.lesson.refresh_from_db()


def endorse(writing: Writing) -> None:
    cast = writing.cast
    Endorsement.objects.create(
        enrolment=cast.enrolment, kind="pre_solo_training", aircraft_type=cast.type, given_on=cast.today,
        given_by=cast.bert, recorded_at=cast.at(8), recorded_by=cast.bert, paragraph="61.87(n)", text="Trained.",
        certificate_number="C-2",
    )  # fmt: skip


def brief_on_the_ground(writing: Writing) -> None:
    """Before this lesson the first unit was taught twice, and the second of them is not signed yet."""
    cast, first = writing.cast, writing.lesson
    for _ in range(2):
        taught = begin_lesson(cast, 1)
        Lesson.objects.filter(pk=taught.pk).update(next_time=f"Asked in lesson {taught.number}.")
    sign(writing, number=first.number + 1)
    writing.lesson = begin_lesson(cast, 14)


def sign(writing: Writing, number: int) -> None:
    taught = Lesson.objects.filter(enrolment=writing.cast.enrolment, number=number)
    taught.update(signed_at=writing.cast.at(10), signed_by=writing.cast.bert)


def fly_with_emil(writing: Writing, minutes: int = 60, **more: Any) -> Lesson:
    cast = writing.cast
    near = begin_lesson(cast, 14, enrolment=cast.other_enrolment)
    Lesson.objects.filter(pk=near.pk).update(
        off_blocks=cast.at(10), on_blocks=cast.at(19), dual_minutes=minutes, **more
    )
    return near


def fly_longer_with_emil(writing: Writing) -> None:
    Lesson.objects.filter(enrolment=writing.cast.other_enrolment).update(dual_minutes=500)


def fly_long_with_emil(writing: Writing) -> None:
    fly_with_emil(writing, 500, signed_at=writing.cast.at(20), signed_by=writing.cast.bert)


def correct_long_flight(writing: Writing) -> None:
    """While the correction is written it stands for what it corrects."""
    cast = writing.cast
    near = Lesson.objects.get(enrolment=cast.other_enrolment)
    Lesson.objects.create(
        enrolment=cast.other_enrolment, number=near.number, version=2, supersedes=near, correction_reason="Mistyped.",
        unit=cast.units[14], on=cast.today, instructor=cast.bert, begun_at=cast.at(21), begun_by=cast.bert,
    )  # fmt: skip


def see_fault(writing: Writing) -> None:
    FaultSeen.objects.create(attempt=writing.landing, fault=Fault.objects.filter(manoeuvres__code="landing")[0])


def see_criterion(writing: Writing) -> None:
    counting = Criterion.objects.filter(manoeuvre__code="landing", kind="observed")
    CriterionSeen.objects.create(attempt=writing.landing, criterion=counting[0], done=False)


def measure_touchdown(writing: Writing) -> None:
    target = GateTarget.objects.filter(gate__code="touchdown", gate__gate_set__aircraft_type=writing.cast.type)[0]
    Measure.objects.create(attempt=writing.landing, target=target, value=900)


def give_grade(writing: Writing) -> None:
    of_unit = writing.landing.manoeuvre
    Grade.objects.create(lesson=writing.lesson, manoeuvre=of_unit, explanation="Seen.", given="describe")


def tap(writing: Writing) -> None:
    cast = writing.cast
    Tap.objects.create(lesson=writing.lesson, at=cast.at(11), person=cast.bert, field="lesson.remarks", after="Calm.")


def send_late(writing: Writing) -> None:
    DeviceEvent.objects.create(
        uid=uuid.uuid4(), lesson=writing.lesson, person=writing.cast.bert, device=uuid.uuid4(), sequence=1,
        kind="entry", field="circuit.1.landing.level", value="practice", outcome="late", at=writing.cast.at(20),
    )  # fmt: skip


def nothing(writing: Writing) -> None:
    """Nothing has to be there before."""


Act = Callable[[Writing], Any]
# By part of the stamp: what is there before, and what changes its rows and those of no other part.
CHANGES: dict[str, tuple[Act, Act]] = {
    "lesson": (nothing, lambda at: at.update(remarks="Seen.")),
    "people": (nothing, lambda at: Person.objects.filter(pk=at.cast.dora.pk).update(family_name="Renamed")),
    "aircraft": (nothing, lambda at: Aircraft.objects.create(registration="QQ-XXB", type=at.cast.type)),
    "types": (nothing, lambda at: AircraftType.objects.update(name="Renamed type")),
    "aerodromes": (nothing, lambda at: Aerodrome.objects.update(variation_deg="9.0")),
    "runways": (nothing, lambda at: Runway.objects.update(designator="17")),
    "aircraft documents": (
        nothing,
        lambda at: AircraftPaper.objects.create(
            aircraft=at.cast.aircraft,
            kind="insurance",
            issued=at.cast.today,
            expires=at.cast.today,
            recorded_at=at.cast.at(),
            recorded_by=at.cast.frida,
        ),
    ),
    "obstacles": (
        nothing,
        lambda at: Obstacle.objects.create(
            runway=at.cast.runway, name="Poplars", before_ft=900, side_ft=20, height_ft=60
        ),
    ),
    "school": (nothing, lambda at: School.objects.update(speed_unit="km/h")),
    "gates": (
        nothing,
        lambda at: GateSet.objects.create(
            aircraft_type=at.cast.type, issue=9, valid_from=at.cast.today, published=True
        ),
    ),
    "releases": (nothing, give_release),
    "endorsements": (fly_solo, endorse),
    "lessons before": (brief_on_the_ground, lambda at: sign(at, at.lesson.number - 1)),
    "lessons near": (fly_with_emil, fly_longer_with_emil),
    "corrections near": (fly_long_with_emil, correct_long_flight),
    "circuits": (nothing, lambda at: Circuit.objects.update(shown=True)),
    "attempts": (nothing, lambda at: Attempt.objects.filter(part="landing").update(level="explain")),
    "faults": (nothing, see_fault),
    "criteria": (nothing, see_criterion),
    "measures": (nothing, measure_touchdown),
    "grades": (nothing, give_grade),
    "last tap": (nothing, tap),
    "late entries": (nothing, send_late),
}

# What is read of a part by itself, and its value before the change.
READ_ALONE = {"circuits": ("circuits", True), "last tap": ("last_tap", 0), "late entries": ("has_late_entries", False)}


def test_each_part_of_the_stamp_has_its_change() -> None:
    # What the page shows of an enrolment never changes; it is in the stamp for the day when something else is shown.
    assert {*SETTING, *WORK} - {*CHANGES} == {"enrolment"}
    assert {*CHANGES} < {*SETTING, *WORK}


@pytest.mark.parametrize("part", CHANGES)
def test_a_change_shows_at_once(cast: Cast, part: str) -> None:
    with undone():
        prepare, change = CHANGES[part]
        writing = Writing(cast)
        prepare(writing)
        before = writing.look_anew()
        assert writing.look() == before
        change(writing)
        seen = writing.look()
        assert seen != before
        assert seen == writing.look_anew()


@pytest.mark.parametrize("part", CHANGES)
def test_without_its_part_of_the_stamp_the_change_would_not_show(
    cast: Cast, part: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """So no part is there in vain, and the test above goes red with any of them taken out."""
    monkeypatch.delitem(SETTING if part in SETTING else WORK, part)
    if part in READ_ALONE:
        monkeypatch.setattr(LessonStamp, *READ_ALONE[part])
    with undone():
        prepare, change = CHANGES[part]
        writing = Writing(cast)
        prepare(writing)
        before = writing.look_anew()
        change(writing)
        assert without_head(writing.look()) == without_head(before)


@contextmanager
def undone() -> Iterator[None]:
    """Undo it all: some changes are of a kind that nobody could commit, as a signature without a seal."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def without_head(text: str) -> str:
    """Leave what is read at each look: the title, and the head with the name and the number of the last tap."""
    return text[text.index('<div class="sheet">') :]


def test_the_page_rests_on_nothing_that_is_not_in_the_stamp(cast: Cast) -> None:
    """Whatever tables a section reads when it is drawn are in the stamp, or of a published issue."""
    for unit in (14, 17, 1):
        writing = Writing(cast)
        writing.update(unit=cast.units[unit])
        give_release(writing)
        writing.look()  # derives the verdict and draws what is kept under its name
        Lesson.objects.filter(pk=writing.lesson.pk).update(remarks="All is drawn anew.")
        with CaptureQueriesContext(connection) as queries:
            writing.look()
        read = {table for query in queries for table in TABLES.findall(query["sql"])}
        stamped = set(TABLES.findall(" ".join([*SETTING.values(), *WORK.values(), FROM])))
        assert {"grading_attempt", "school_aircraft"} <= read
        assert read - stamped <= PUBLISHED | BESIDE_THE_STAMP


def test_a_page_drawn_while_the_wind_changed_is_not_found_again(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    """10 kt, 12 while the page is drawn, and 10 again: a stamp of values would find the page that says 12."""
    writing, real = Writing(cast), lesson_view.get_readable_lesson
    old = writing.look_anew()
    fragments.clear()

    def blow(*given: Any) -> Lesson:
        record_entries(cast, writing.lesson, **{"lesson.wind_speed_kt": "12"})
        return real(*given)

    monkeypatch.setattr(lesson_view, "get_readable_lesson", blow)
    writing.look()
    monkeypatch.setattr(lesson_view, "get_readable_lesson", real)
    assert "), 12 kt" in writing.look()
    record_entries(cast, writing.lesson, **{"lesson.wind_speed_kt": "10"})
    again = writing.look()
    assert "), 10 kt" in again
    assert "), 12 kt" not in without_head(again)
    assert again == writing.look_anew()
    assert "), 10 kt" in old


def test_nobody_else_has_a_stamp(cast: Cast) -> None:
    lesson = begin_lesson(cast, 14)
    assert read_lesson_stamp(lesson.uid, cast.bert.pk)
    assert read_lesson_stamp(lesson.uid, cast.cleo.pk) is None
    assert read_lesson_stamp(uuid.uuid4(), cast.bert.pk) is None


def test_a_second_look_makes_six_queries(cast: Cast, django_assert_num_queries: Any) -> None:
    writing = Writing(cast)
    for number in range(2, 8):
        record_circuit(cast, writing.lesson, number)
    writing.look()
    with django_assert_num_queries(6):
        writing.look()
