"""Criteria, units, scales, wind and the next unit, through the actions and pages. The project's own rules."""

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client

from grading.actions import recording
from grading.models import Attempt, CriterionSeen, Grade, Measure, Tap
from grading.pages.brief import describe_wind, runway_lines, wind_cautions
from grading.pages.pads import PadMaker
from grading.reading.course_progress import courses_by_enrolment
from grading.reading.grade_lines import (
    grade_lines_for,
    load_attempts,
    load_grading_context,
    measured_deviation,
    target_in_wind,
)
from grading.simulation.demo.demo_school import FIXTURES
from lessons import actions as lesson_actions
from lessons.conditions import lesson_report, lesson_wind
from lessons.loading import load_aircraft_type, publish_syllabus, syllabus_form
from lessons.models import Enrolment, Lesson, Syllabus
from lessons.rules.wind import Wind
from lessons.syllabus_file import parse_syllabus, to_content, to_json, validate_content
from school.errors import Refusal
from school.models import Aircraft, Role, Runway, School
from tests.cast import Cast
from tests.factories import add_person, begin_lesson, fly_lesson, record_circuit, record_entries, sign_lesson
from tests.page_requests import send_entry


def grade_line(lesson: Lesson, code: str) -> Any:
    return next(row for row in grade_lines_for(lesson) if row.manoeuvre.code == code)


# Criteria


def test_a_criterion_not_done_caps_and_is_said(cast: Cast) -> None:
    lesson = begin_lesson(cast, 14)
    record_entries(
        cast, lesson, **{"circuit.1.landing.level": "perform", "circuit.1.landing.criterion.held": "not_done"}
    )
    assert grade_line(lesson, "landing").explanation == "Practice: not done: held off until it will fly no more."
    record_entries(cast, lesson, **{"circuit.1.landing.criterion.held": "done"})
    assert grade_line(lesson, "landing").explanation == "Perform: as tapped."
    recording.undo_tap(lesson=lesson, by=cast.bert, at=cast.at())
    assert CriterionSeen.objects.get().done is False
    with pytest.raises(Refusal, match="not an entry"):
        record_entries(cast, lesson, **{"circuit.1.landing.criterion.held": "maybe"})


def test_a_criterion_is_offered_from_its_unit_on(cast: Cast, client: Client) -> None:
    """“Flies off in the right attitude” counts from unit 9."""
    client.force_login(cast.bert)
    for unit, offered in ((8, False), (9, True)):
        page = client.get(f"/lessons/{begin_lesson(cast, unit).uid}/").text
        assert ("criterion.lift-off-attitude" in page) is offered


def test_a_criterion_counts_from_its_unit_on_and_is_kept_before(cast: Cast) -> None:
    """As readiness counts it: what a tablet sends all the same is not asked for in unit 8."""
    for unit, proposed in ((8, "perform"), (9, "practice")):
        lesson = begin_lesson(cast, unit)
        entries = {"level": "perform", "criterion.lift-off-attitude": "not_done"}
        record_entries(cast, lesson, **{f"circuit.1.takeoff.{name}": value for name, value in entries.items()})
        assert grade_line(lesson, "takeoff").proposed.code == proposed
    assert CriterionSeen.objects.count() == 2


def test_a_number_counts_from_its_unit_on_and_is_kept_before(cast: Cast) -> None:
    """The height of the round-out counts from unit 10."""
    for unit, proposed in ((8, "perform"), (10, "practice")):
        lesson = begin_lesson(cast, unit)
        record_entries(
            cast, lesson, **{"circuit.1.landing.level": "perform", "circuit.1.landing.measure.round-out.height": "60"}
        )
        assert grade_line(lesson, "landing").proposed.code == proposed
    assert Measure.objects.count() == 2


def test_taking_control_lowers_the_grade_without_a_level_too(cast: Cast) -> None:
    lesson = begin_lesson(cast, 14)
    record_circuit(cast, lesson, 1)
    record_entries(cast, lesson, **{"circuit.2.landing.help": "took_control"})
    found = grade_line(lesson, "landing")
    assert found.proposed.code == "explain"
    assert "no level was tapped" in found.explanation


# Units


@pytest.fixture
def metric(cast: Cast) -> Cast:
    School.objects.update(speed_unit="km/h", length_unit="m")
    return cast


def test_a_metric_school_notes_kilometres_and_metres_and_the_grade_is_the_same(metric: Cast, client: Client) -> None:
    lesson = begin_lesson(metric, 14)
    client.force_login(metric.bert)
    page = client.get(f"/lessons/{lesson.uid}/").text
    assert "125.9 km/h +18.5 −9.3" in page  # 68 kt +10 −5, times 1.852
    assert "54.9 m +12.2 −9.1" in page  # 180 ft +40 −30, times 0.3048
    field = "circuit.1.approach.measure.final.speed"
    for typed, outside in (("144.4", False), ("144.5", True)):  # 78 kt are 144.456 km/h
        record_entries(metric, lesson, **{"circuit.1.approach.level": "perform", field: typed})
        assert (grade_line(lesson, "approach").proposed.code == "practice") is outside
    measure = Measure.objects.select_related("target__gate").get()
    assert (measure.value, measure.unit, measure.target.unit) == (Decimal("144.5"), "km/h", "kt")
    assert measured_deviation(measure, load_grading_context(lesson)).words.startswith("speed on final 18.6 km/h fast")


def test_a_number_keeps_its_unit_when_the_school_changes_its_own(cast: Cast) -> None:
    lesson = begin_lesson(cast, 14)
    field = "circuit.1.approach.measure.final.height"
    record_entries(cast, lesson, **{field: "180"})
    School.objects.update(length_unit="m")
    record_entries(cast, lesson, **{field: "60"})
    assert list(Tap.objects.values_list("before", "after")) == [("", "180 ft"), ("180 ft", "60 m")]
    recording.undo_tap(lesson=lesson, by=cast.bert, at=cast.at())
    measure = Measure.objects.get()
    assert (measure.value, measure.unit) == (180, "ft")
    with pytest.raises(Refusal, match="not a unit of height"):
        record_entries(cast, lesson, **{field: "60 kt"})


def test_a_plain_form_sent_again_changes_nothing(cast: Cast) -> None:
    lesson = begin_lesson(cast, 14)
    field = "circuit.1.approach.measure.final.speed"
    for _ in range(2):
        record_entries(cast, lesson, **{field: "70", "lesson.dual_minutes": "0.9"})
    assert Tap.objects.count() == 2


def test_another_type_is_refused_while_numbers_of_the_first_are_noted(cast: Cast) -> None:

    other = Aircraft.objects.create(
        registration="QQ-XXN", type=load_aircraft_type(FIXTURES / "aircraft/nosewheel.json")
    )
    lesson = begin_lesson(cast, 14)
    record_entries(cast, lesson, **{"circuit.1.approach.measure.final.speed": "70"})
    with pytest.raises(Refusal, match="empty them first"):
        record_entries(cast, lesson, **{"lesson.aircraft": str(other.pk)})
    record_entries(cast, lesson, **{"circuit.1.approach.measure.final.speed": "", "lesson.aircraft": str(other.pk)})
    lesson.refresh_from_db()
    assert lesson.aircraft == other


# Scales


def lesson_on_scale(cast: Cast, code: str) -> Lesson:
    """A lesson in an issue of the syllabus that is graded on another scale."""

    form = parse_syllabus(to_json(syllabus_form(cast.enrolment.syllabus)).replace('"learner-centred"', f'"{code}"'))
    content = to_content(form) | {"issue": form.issue + 1}

    checked = validate_content(content)
    assert not isinstance(checked, list)
    syllabus: Syllabus = publish_syllabus(checked, published_on=cast.today)
    Enrolment.objects.filter(pk=cast.enrolment.pk).update(syllabus=syllabus)
    unit = syllabus.stages.get(number=2).units.get(number=14)
    cast.units[14] = unit
    return begin_lesson(cast, 14, enrolment=Enrolment.objects.get(pk=cast.enrolment.pk))


def test_a_lesson_graded_on_five_steps(cast: Cast, client: Client) -> None:
    lesson = lesson_on_scale(cast, "five-steps")
    client.force_login(cast.bert)
    page = client.get(f"/lessons/{lesson.uid}/").text
    assert 'name="circuit.1.landing.level" value="4"' in page
    assert "expected 4" in page
    with pytest.raises(Refusal, match="not an entry"):
        record_entries(cast, lesson, **{"circuit.1.landing.level": "perform"})
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0"})
    for part in ("takeoff", "downwind", "approach", "landing"):
        record_entries(cast, lesson, **{f"circuit.1.{part}.level": "5", f"circuit.2.{part}.level": "4"})
    sign_lesson(cast, lesson)
    grade = Grade.objects.get(lesson=lesson, manoeuvre__code="landing")
    assert (grade.given, grade.given_step, grade.proposed_step, grade.changed) == ("perform", "4", "4", False)
    assert Attempt.objects.filter(level="perform", step="5").count() == 4
    shown = client.get(f"/lessons/{lesson.uid}/").text
    assert "<span>5</span>" in shown
    assert "4: as tapped (the lower of the last two)." in shown


# Wind


def test_a_gust_that_is_not_reported_is_said_as_such(cast: Cast, client: Client) -> None:
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"lesson.wind_direction": "180", "lesson.wind_speed_kt": "8"})
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0"})
    record_circuit(cast, lesson, 1)
    client.force_login(cast.bert)
    assert "180° magnetic, 8 kt, no gust reported" in client.get(f"/lessons/{lesson.uid}/").text
    sign_lesson(cast, lesson)
    assert "180° magnetic, 8 kt, no gust reported" in client.get(f"/lessons/{lesson.uid}/").text
    assert describe_wind(lesson, Wind(None, 3)) == "Wind variable, 3 kt, no gust reported"
    assert describe_wind(lesson, Wind(None, 0)) == "Wind calm"


def test_a_stored_report_that_cannot_be_read_stops_no_page(cast: Cast, client: Client) -> None:
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0"})
    record_circuit(cast, lesson, 1)
    Lesson.objects.filter(pk=lesson.pk).update(weather_report="ZZZX WIND OF EARLIER DAYS")
    stored = Lesson.objects.for_pages().get()
    assert (lesson_report(stored), lesson_wind(stored)) == (None, None)
    client.force_login(cast.bert)
    sentence = "The stored report cannot be read: ZZZX WIND OF EARLIER DAYS."
    assert sentence in client.get(f"/lessons/{lesson.uid}/").text
    with pytest.raises(Refusal, match="by hand"):
        record_entries(cast, lesson, **{"lesson.weather_report": "ZZZX WIND OF EARLIER DAYS"})
    sign_lesson(cast, lesson)
    assert sentence in client.get(f"/lessons/{lesson.uid}/").text
    assert Lesson.objects.get().wind_speed_kt is None


def test_a_pasted_report_gives_the_wind_until_it_is_entered_by_hand(cast: Cast, client: Client) -> None:
    Runway.objects.filter(pk=cast.runway.pk).update(heading_magnetic=290)
    lesson = begin_lesson(cast, 14)
    lesson.runway.aerodrome.variation_deg = Decimal(-3)  # type: ignore[union-attr]
    lesson.runway.aerodrome.save()  # type: ignore[union-attr]
    text = f"ZZZX {cast.today:%d}1150Z 29012G22KT 9999 FEW030 12/05 Q1013"
    record_entries(cast, lesson, **{"lesson.weather_report": text})
    lesson = Lesson.objects.for_pages().get()
    assert lesson_wind(lesson) == Wind(293, 12, 22)
    assert describe_wind(lesson, lesson_wind(lesson)) == "Wind 293° magnetic (290° true), 12 kt, gusting 22 kt"
    target = next(row for row in targets_of(lesson) if row.quantity == "speed" and row.gate == "on final")
    assert target.value == 73  # 68 kt and half of 10 kt
    record_entries(cast, lesson, **{"lesson.wind_direction": "100", "lesson.wind_speed_kt": "5"})
    assert lesson_wind(Lesson.objects.for_pages().get()) == Wind(100, 5)
    record_entries(cast, lesson, **{"lesson.wind_reference": "true"})
    assert lesson_wind(Lesson.objects.for_pages().get()) == Wind(103, 5)
    with pytest.raises(Refusal, match="cannot be read as a METAR"):
        record_entries(cast, lesson, **{"lesson.weather_report": "windy"})


def targets_of(lesson: Lesson) -> list[Any]:

    grading_context = load_grading_context(lesson)
    return [target_in_wind(row, grading_context) for row in PadMaker(lesson, grading_context).targets]


def test_signing_keeps_the_wind_of_the_report_as_numbers(cast: Cast) -> None:
    lesson = begin_lesson(cast, 2)
    text = f"ZZZX {cast.today:%d}1150Z 29012G22KT 9999"
    record_entries(cast, lesson, **{"lesson.weather_report": text, "lesson.dual_minutes": "1.0"})
    for code in ("taxiing", "effects_of_controls"):
        record_entries(cast, lesson, **{f"manoeuvre.{code}.level": "practice"})
    sign_lesson(cast, lesson)
    assert (lesson.wind_direction, lesson.wind_reference, lesson.wind_gust_kt) == (290, "true", 22)


@pytest.mark.parametrize(
    ("wind", "said"),
    [
        (Wind(270, 10, 25), "exceeds the 12 kt demonstrated"),
        (Wind(None, 8), "direction not known or variable: up to 8 kt"),
        (Wind(360, 5), "Tailwind of up to 5 kt on runway 18"),
        (Wind(180, 13, None, (90, 180)), "exceeds the 12 kt demonstrated"),  # it swings across the runway
    ],
)
def test_every_caution_of_the_wind_is_said(cast: Cast, wind: Wind, said: str) -> None:
    lesson = Lesson.objects.for_pages().get(pk=begin_lesson(cast).pk)
    assert said in " ".join(wind_cautions(lesson, wind, []))


def test_the_limits_of_a_release_are_cautioned_too(cast: Cast) -> None:
    lesson = Lesson.objects.for_pages().get(pk=begin_lesson(cast).pk)

    class Limits:
        max_wind_kt, max_crosswind_kt = 10, 4

    said = wind_cautions(lesson, Wind(220, 11), [Limits()])  # type: ignore[list-item]
    assert said == [
        "Crosswind including gusts exceeds the release limit of 4 kt.",
        "Wind including gusts exceeds the release limit of 10 kt.",
    ]


def test_the_runway_with_the_most_headwind_is_marked(cast: Cast) -> None:
    home = cast.runway.aerodrome
    Runway.objects.create(aerodrome=home, designator="36", heading_magnetic=360, length_ft=3000)
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"lesson.wind_direction": "30", "lesson.wind_speed_kt": "10"})
    rows = runway_lines(Lesson.objects.for_pages().get())
    assert [(row.runway.designator, row.best, row.chosen) for row in rows] == [("18", False, True), ("36", True, False)]


# The instructor's limit


def long_day(cast: Cast, begins: list[tuple[int, int]]) -> list[Lesson]:
    lessons = []
    for hour, minutes in begins:
        lesson = begin_lesson(cast, 2)
        at = cast.at(0) + timedelta(hours=hour)
        Lesson.objects.filter(pk=lesson.pk).update(
            off_blocks=at, on_blocks=at + timedelta(minutes=minutes), dual_minutes=minutes
        )
        lessons.append(lesson)
    return lessons


def test_more_than_eight_hours_are_warned_of_and_listed_for_the_chief(cast: Cast, client: Client) -> None:
    last = long_day(cast, [(6, 180), (10, 180), (14, 120)])[-1]
    client.force_login(cast.bert)
    page = f"/lessons/{last.uid}/"
    assert "61.195(a)" not in client.get(page).text  # eight hours exactly
    name = "lesson.dual_minutes"
    assert "8.0 h of flight training in the 24 hours from" in send_entry(client, last, name, "2:01")["html"]
    assert "8.0 h of flight training" in client.get(page).text
    client.force_login(cast.amelia)
    assert "<b>Bert Example</b>: 8.0 h in the 24 hours" in client.get("/students/").text
    client.force_login(cast.bert)
    assert "Flight training in 24 hours" not in client.get("/students/").text


# The next unit


def course(cast: Cast) -> Any:
    enrolment = Enrolment.objects.for_pages().get(pk=cast.enrolment.pk)
    return courses_by_enrolment([enrolment], cast.today)[enrolment.pk]


def test_a_unit_is_complete_when_its_levels_are_reached(cast: Cast) -> None:
    standing = {row.unit.number: row for row in course(cast).unit_progress}
    assert not standing[8].complete
    fly_lesson(cast, days_ago=3, level="describe")
    standing = {row.unit.number: row for row in course(cast).unit_progress}
    assert standing[8].flown
    assert [(gap.manoeuvre.code, gap.reached) for gap in standing[8].missing] == [
        ("takeoff", "describe"),
        ("downwind", "describe"),
        ("approach", "describe"),
        ("landing", "describe"),
    ]
    fly_lesson(cast, days_ago=2, level="practice")
    assert {row.unit.number for row in course(cast).unit_progress if row.complete} == {8}
    fly_lesson(cast, days_ago=1, level="describe")
    assert {row.unit.number for row in course(cast).unit_progress if row.complete} == {8}  # reached stays reached


def test_the_next_unit_is_the_first_that_is_not_complete(cast: Cast) -> None:
    assert course(cast).current_unit.number == 1
    lesson = begin_lesson(cast, 1)
    record_entries(cast, lesson, **{"lesson.ground_minutes": "1.0", "manoeuvre.flight_preparation.level": "describe"})
    sign_lesson(cast, lesson)
    assert (course(cast).current_unit.number, course(cast).position) == (2, 2)


def test_a_stage_check_is_flown_with_another_instructor(cast: Cast) -> None:
    with pytest.raises(Refusal, match="an instructor other than Bert"):
        begin_lesson(cast, 16)
    assert begin_lesson(cast, 16, instructor=cast.cleo).instructor == cast.cleo


def test_a_manoeuvre_of_tailwheel_types_is_not_asked_of_others(cast: Cast) -> None:

    nose = load_aircraft_type(FIXTURES / "aircraft/nosewheel.json")
    lesson = begin_lesson(cast, 12)
    assert "wheel_landing" in {row.manoeuvre.code for row in grade_lines_for(lesson)}
    student = add_person("Greta", "T-7", Role.STUDENT, at=cast.at(8, 100))
    enrolment = lesson_actions.enrol(
        student=student, syllabus=cast.enrolment.syllabus, aircraft_type=nose, instructor=cast.bert,
        on=cast.today, by=cast.frida, at=cast.at(8),
    )  # fmt: skip
    other = begin_lesson(cast, 12, enrolment=enrolment)
    Lesson.objects.filter(pk=other.pk).update(aircraft=Aircraft.objects.create(registration="QQ-XXM", type=nose))
    lesson = Lesson.objects.for_pages().get(pk=other.pk)
    assert "wheel_landing" not in {row.manoeuvre.code for row in grade_lines_for(lesson, load_attempts(lesson))}


def test_a_written_test_has_a_mark_and_its_wrong_answers_are_reviewed_later(cast: Cast, client: Client) -> None:
    client.force_login(cast.bert)
    page = f"/students/{cast.enrolment.uid}/"
    sent = {"title": "Air law", "unit": cast.units[1].pk, "taken_on": cast.today, "questions": 40, "wrong": 1}
    assert client.post(page + "written-test/", sent).status_code == 302
    text = client.get(page).text
    assert "97 %, 1 of 40 wrong" in text
    assert "Wrong answers not reviewed yet" in text
    test = cast.enrolment.knowledge_tests.get()
    assert client.post(f"{page}written-test/{test.pk}/reviewed/").status_code == 302
    assert "Wrong answers reviewed" in client.get(page).text
    assert "not taken" in text  # a test without topics is not the pre-solo one
