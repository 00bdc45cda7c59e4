"""Build a student who is ready for first solo, and the release that the chief instructor signs for one."""

from datetime import timedelta
from decimal import Decimal
from typing import Any

from grading.actions import decisions, endorsements, training
from grading.actions.release_rules import ReleaseLimits
from grading.models import Release
from school import actions as school_actions
from tests.cast import SECRET, Cast
from tests.cast_rows import build_once
from tests.factories import begin_lesson, record_circuit, record_entries, sign_lesson

# Two lessons of five landings and a go-around each: ten of everything that the standard looks at.
CIRCUITS_A_LESSON = 6
# Inside at each gate that the standard names, in the wind of these lessons.
ON_TARGET = {
    "approach.measure.final.speed": "70",
    "approach.measure.final.height": "190",
    "landing.measure.touchdown.distance": "600",
}


@build_once
def make_ready(cast: Cast, but: str = "") -> None:
    """Everything the standard asks for, except one requirement."""
    at = cast.at(8, 100)
    for kind, class_ in (("student_certificate", ""), ("english", ""), ("medical", "3")):
        if kind != but:
            school_actions.record_paper(
                person=cast.dora, kind=kind, medical_class=class_, issued=at.date(), by=cast.frida, at=at
            )
    if but != "knowledge_test":
        training.record_written_test(
            enrolment=cast.enrolment, aircraft_type=cast.type, taken_on=at.date(), questions=30, wrong=1,
            topics=["rules", "aerodrome", "make_and_model"], reviewed_on=at.date(), given_by=cast.bert,
            by=cast.bert, at=at,
        )  # fmt: skip
    for number in range(1, 8):
        fly_unit(cast, number, 60 - number)
    endorse_for_the_type(cast, days_ago=51)
    endorsements.endorse_for_solo(
        enrolment=cast.enrolment, text="Trained.", on=cast.today - timedelta(days=50), secret=SECRET, by=cast.bert,
        at=cast.at(12, 50),
    )  # fmt: skip
    for day in (3, 2):
        lesson = begin_lesson(cast, 14, day)
        record_entries(
            cast, lesson, **{"lesson.dual_minutes": "1.0", "lesson.wind_direction": "200", "lesson.wind_speed_kt": "8"}
        )
        for number in range(1, CIRCUITS_A_LESSON):
            record_circuit(cast, lesson, number, **ON_TARGET)
        around = f"circuit.{CIRCUITS_A_LESSON}"
        entries = {"ending": "go_around", "go_around.level": "perform", "closed": "on"}
        record_entries(cast, lesson, **{f"{around}.{name}": value for name, value in entries.items()})
        alone = (
            "engine_failure_after_takeoff", "circuit_emergencies", "slip", "ground_reference", "departure",
            "joining", "crosswind_takeoff", "crosswind_landing", "malfunctions",
        )  # fmt: skip
        record_entries(cast, lesson, **{f"manoeuvre.{code}.level": "perform" for code in alone})
        sign_lesson(cast, lesson, day)
    if but != "second_instructor":
        check = begin_lesson(cast, 16, 1, instructor=cast.cleo)
        record_entries(
            cast, check, **{"lesson.dual_minutes": "1.0", "manoeuvre.engine_failure_after_takeoff.level": "perform"}
        )
        record_circuit(cast, check, 1, **ON_TARGET)
        sign_lesson(cast, check, 1)


def endorse_for_the_type(cast: Cast, days_ago: int) -> None:
    """Tailwheel, complex and more than 200 horsepower, as the first type of the cast is."""
    on, at = cast.today - timedelta(days=days_ago), cast.at(8, days_ago)
    for act in (
        endorsements.endorse_for_tailwheel,
        endorsements.endorse_for_complex,
        endorsements.endorse_for_high_performance,
    ):
        act(enrolment=cast.enrolment, text="Proficient.", on=on, secret=SECRET, by=cast.bert, at=at)


def fly_unit(cast: Cast, unit: int, days_ago: int) -> None:
    lesson = begin_lesson(cast, unit, days_ago)
    ground = unit == 1
    hours = {"lesson.ground_minutes": "1.0"} if ground else {"lesson.dual_minutes": "1.0"}
    graded = cast.units[unit].graded.select_related("manoeuvre")
    record_entries(cast, lesson, **hours, **{f"manoeuvre.{row.manoeuvre.code}.level": "perform" for row in graded})
    sign_lesson(cast, lesson, days_ago)


def make_limits(cast: Cast, crosswind: int = 5) -> ReleaseLimits:
    return ReleaseLimits(cast.runway.aerodrome, "18", 12, crosswind, Decimal(5), 2000)


def sign_release(cast: Cast, **changed: Any) -> Release:
    asked: dict[str, Any] = {
        "enrolment": cast.enrolment,
        "limits": make_limits(cast),
        "valid_from": cast.today,
        "valid_until": cast.today + timedelta(days=30),
        "endorsed_by": cast.bert,
        "reason": "",
        "secret": SECRET,
        "by": cast.amelia,
        "at": cast.at(15),
    }
    return decisions.sign_release(**{**asked, **changed})
