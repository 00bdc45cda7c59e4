"""A day of the law is a day of the school's own zone; whatever is asked of a past day answers as it did on that day."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.db import DatabaseError, IntegrityError, transaction
from django.test import Client

from grading.actions import decisions, endorsements, signing, training
from grading.actions.load_standards import FIXTURES
from grading.actions.school import change_school
from grading.models import Release, Standard
from grading.pages.brief import wind_cautions
from grading.reading import facts, retention_terms
from grading.reading.course_progress import courses_by_enrolment
from grading.reading.fact_mapping import was_in_force
from grading.reading.inspection_facts import collect_findings
from grading.reading.student_summary import summarise_students
from grading.rules.readiness.json_format import verdict_to_json
from lessons.loading import load_aircraft_type
from lessons.models import Enrolment, Lesson
from lessons.rules.wind import Wind
from school import actions as school_actions
from school.days import day_of
from school.errors import Refusal
from school.models import JournalEntry, School
from tests.cast import SECRET, Cast
from tests.database_guards import guards_off
from tests.factories import begin_lesson, fly_lesson, record_circuit, record_entries
from tests.ready_student import make_ready, sign_release

HONOLULU, TONGATAPU = "Pacific/Honolulu", "Pacific/Tongatapu"
ZONES = pytest.mark.parametrize("zone", [HONOLULU, TONGATAPU, "Pacific/Auckland"])


def move_school(cast: Cast, zone: str) -> ZoneInfo:
    change_school(changes={"time_zone": zone}, by=cast.frida, at=cast.at(1, 150))
    return ZoneInfo(zone)


def at_clock(zone: ZoneInfo, day: date, hour: int, minute: int = 0) -> datetime:
    """A moment by the clock of the school, in UTC as the program gets it."""
    return datetime(day.year, day.month, day.day, hour, minute, tzinfo=zone).astimezone(UTC)


def last_new_year(cast: Cast) -> date:
    """31 December of the year before, with the enrolments long before it."""
    with guards_off():
        Enrolment.objects.update(enrolled_on=date(cast.today.year - 2, 1, 1))
        cast.bert.papers.update(issued=date(cast.today.year - 2, 1, 1))
    cast.enrolment.refresh_from_db()
    return date(cast.today.year - 1, 12, 31)


def write_lesson(cast: Cast, on: date, at: datetime) -> Lesson:
    lesson = begin_lesson(cast, 8, (cast.today - on).days)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0"})
    record_circuit(cast, lesson, 1)
    return lesson


def sign(lesson: Lesson, at: datetime) -> None:
    signing.sign_lesson(lesson=lesson, secret=SECRET, by=lesson.instructor, at=at)


@ZONES
def test_a_lesson_signed_on_the_last_evening_of_the_year_counts_in_that_year(cast: Cast, zone: str) -> None:
    here, eve = move_school(cast, zone), last_new_year(cast)
    evening = at_clock(here, eve, 23, 30)
    sign(write_lesson(cast, eve, evening), evening)
    flown = lambda on: facts.facts_for(cast.enrolment, on).lessons  # noqa: E731 - asked of two days
    assert [row.signed for row in flown(eve)] == [eve]
    assert flown(eve - timedelta(days=1)) == ()
    course = lambda on: courses_by_enrolment([cast.enrolment], on)[cast.enrolment.pk]  # noqa: E731
    done = [any(row.flown for row in course(day).unit_progress) for day in (eve - timedelta(days=1), eve)]
    assert done == [False, True]


@ZONES
def test_a_lesson_signed_after_midnight_is_not_known_the_evening_before(cast: Cast, zone: str) -> None:
    here, eve = move_school(cast, zone), last_new_year(cast)
    late = at_clock(here, eve + timedelta(days=1), 0, 10)
    sign(write_lesson(cast, eve, late), late)
    assert facts.facts_for(cast.enrolment, eve).lessons == ()
    assert len(facts.facts_for(cast.enrolment, eve + timedelta(days=1)).lessons) == 1


@ZONES
def test_a_release_withdrawn_after_midnight_held_until_midnight(cast: Cast, zone: str) -> None:
    make_ready(cast)
    here = move_school(cast, zone)
    decided = day_of(cast.at(15), here)
    release = sign_release(cast, valid_from=decided, valid_until=decided + timedelta(days=20))
    after = decided + timedelta(days=3)
    decisions.withdraw_release(release=release, reason="Wind", by=cast.bert, at=at_clock(here, after, 0, 10))
    release.refresh_from_db()
    for day in (after - timedelta(days=1), after):
        by_sql = Release.objects.in_force(day).filter(pk=release.pk).exists()
        assert by_sql == was_in_force(release, day, here) == (day < after)


@ZONES
@pytest.mark.parametrize(("hour", "minute", "valid"), [(0, 0, True), (23, 59, True), (24, 0, False)])
def test_a_document_is_valid_to_the_last_minute_of_its_last_day(
    cast: Cast, zone: str, hour: int, minute: int, valid: bool
) -> None:
    """14 CFR 61.23(d): to the end of the last day of the month; the day is the school's."""
    make_ready(cast, but="medical")
    here = move_school(cast, zone)
    last = day_of(cast.at(12), here)
    school_actions.record_paper(
        person=cast.dora, kind="medical", medical_class="3", issued=cast.today - timedelta(days=60), expires=last,
        by=cast.frida, at=cast.at(8, 50),
    )  # fmt: skip
    moment = at_clock(here, last, 0) + timedelta(hours=hour, minutes=minute)
    verdict = summarise_students([cast.enrolment], day_of(moment, here))[0].verdict
    [medical] = [row for row in verdict.requirements if row.key == "medical"]
    assert medical.state.counts is valid


@pytest.mark.parametrize("zone", [HONOLULU, TONGATAPU])
def test_pages_propose_and_show_the_day_of_the_school(cast: Cast, client: Client, zone: str) -> None:
    here = move_school(cast, zone)
    client.force_login(cast.bert)
    today = {day_of(datetime.now(UTC), here)}
    form = client.get(f"/lessons/begin/{cast.enrolment.uid}/")
    pack = client.get("/tablet/offline/")
    today.add(day_of(datetime.now(UTC), here))  # midnight may have passed between
    assert form.context["form"].initial["on"] in today
    assert pack.json()["zone"] == zone
    board = client.get("/students/").text
    assert {HONOLULU: " HST", TONGATAPU: " UTC+13:00"}[zone] in board


@pytest.mark.parametrize("zone", [HONOLULU, TONGATAPU])
def test_a_standard_begins_at_the_midnight_of_the_school(cast: Cast, zone: str) -> None:
    here = move_school(cast, zone)
    first = Standard.objects.get(rule_set="us")
    begins = cast.today + timedelta(days=2)
    Standard.objects.create(
        key="us-later", rule_set="us", valid_from=begins, content=first.content | {"key": "us-later"}
    )
    keys = [
        facts.standard_in_force(School.objects.get(), day_of(moment, here)).key
        for moment in (at_clock(here, begins, 0) - timedelta(minutes=1), at_clock(here, begins, 0))
    ]
    assert keys == [first.key, "us-later"]


@ZONES
def test_block_times_in_utc_belong_to_the_day_at_the_school(cast: Cast, zone: str) -> None:
    """Nine in the morning at the school, typed in UTC, is the lesson's own day there."""
    here = move_school(cast, zone)
    lesson = begin_lesson(cast, 8, 4)
    nine = at_clock(here, lesson.on, 9)
    record_entries(
        cast, lesson, **{"lesson.off_blocks": f"{nine:%H:%M}", "lesson.on_blocks": f"{nine + timedelta(hours=1):%H:%M}"}
    )
    lesson.refresh_from_db()
    assert (lesson.off_blocks, lesson.on_blocks) == (nine, nine + timedelta(hours=1))


@ZONES
def test_a_weather_report_of_the_day_at_the_school_is_no_old_one(cast: Cast, zone: str) -> None:
    """A METAR names its day in UTC: nine in the morning in Auckland is the day before."""
    here = move_school(cast, zone)
    lesson = begin_lesson(cast, 8, 4)
    nine = at_clock(here, lesson.on, 9)
    said = {}
    for days in (0, 3):
        lesson.weather_report = f"ZZZX {nine - timedelta(days=days):%d%H%M}Z 18008KT 9999 FEW035 14/08 Q1018"
        said[days] = any(
            "not from the day of this lesson" in words for words in wind_cautions(lesson, Wind(180, 8), [])
        )
    assert said == {0: False, 3: True}


@ZONES
def test_the_term_of_a_record_counts_from_the_day_of_the_school_in_both_answers(cast: Cast, zone: str) -> None:
    make_ready(cast)
    here = move_school(cast, zone)
    release = sign_release(cast, valid_from=day_of(cast.at(15), here))
    with guards_off():
        Enrolment.objects.filter(pk=cast.enrolment.pk).update(
            ended_on=cast.today - timedelta(days=190), end="completed", enrolled_on=cast.today - timedelta(days=199)
        )
        School.objects.update(retention_years=5)
        release.decided_at = at_clock(here, date(cast.today.year + 4, 12, 31), 23, 30)
        Release.objects.filter(pk=release.pk).update(decided_at=release.decided_at)
    enrolment = Enrolment.objects.get(pk=cast.enrolment.pk)
    [kept] = retention_terms.load_retention([enrolment], 5)
    assert kept.until == date(cast.today.year + 7, 12, 31)
    assert kept.until == Enrolment.objects.extra(select={"kept": "kept_until(id)"}).get(pk=enrolment.pk).kept


def test_a_lesson_without_block_times_is_late_only_after_the_day_at_the_school(cast: Cast) -> None:
    """At 14:00 of the next day in Honolulu the UTC day after is a day old already."""
    here = move_school(cast, HONOLULU)
    on = cast.today - timedelta(days=30)
    hours = facts.standard_in_force(School.objects.get(), cast.today).policy.hours_to_sign
    in_time = at_clock(here, on + timedelta(days=1), 0) + timedelta(hours=hours)
    sign(write_lesson(cast, on, in_time), in_time)
    late = [row.kind for row in collect_findings([cast.enrolment], cast.at(12), whole_school=True)]
    assert "signed_late" not in late


# What was known on a past day ------------------------------------------------------------------------------------


def verdict_of(cast: Cast, on: date) -> dict[str, Any]:
    enrolment = Enrolment.objects.for_pages().get(pk=cast.enrolment.pk)
    return verdict_to_json(summarise_students([enrolment], on)[0].verdict)


def test_another_rule_set_from_today_leaves_yesterday_as_it_was(ready_cast: Cast) -> None:
    cast, yesterday = ready_cast, ready_cast.today - timedelta(days=1)
    before, today = verdict_of(cast, yesterday), verdict_of(cast, cast.today)
    change_school(changes={"rule_set": "eu"}, by=cast.amelia, at=cast.at(0))
    assert verdict_of(cast, yesterday) == before
    assert verdict_of(cast, cast.today)["rule_set"] == "eu" != today["rule_set"]


def test_two_changes_of_the_rule_set_leave_each_day_its_own(cast: Cast) -> None:
    change_school(changes={"rule_set": "eu"}, by=cast.amelia, at=cast.at(12, 20))
    change_school(changes={"rule_set": "us", "chief_countersigns": False}, by=cast.amelia, at=cast.at(12, 10))
    change_school(changes={"chief_countersigns": True}, by=cast.amelia, at=cast.at(12, 5))
    rules = [verdict_of(cast, cast.today - timedelta(days=days))["rule_set"] for days in (21, 20, 11, 10, 6, 0)]
    assert rules == ["us", "eu", "eu", "us", "us", "us"]


def test_a_change_of_rules_counts_on_the_day_of_the_school(cast: Cast) -> None:
    here = move_school(cast, TONGATAPU)
    day = cast.today - timedelta(days=3)
    change_school(changes={"rule_set": "eu"}, by=cast.amelia, at=at_clock(here, day, 0, 5))
    assert [verdict_of(cast, day - timedelta(days=days))["rule_set"] for days in (1, 0)] == ["us", "eu"]


def test_the_rule_set_of_a_day_is_one_query(cast: Cast, django_assert_num_queries: Any) -> None:
    school = School.objects.get()
    with django_assert_num_queries(1):
        facts.standard_in_force(school, cast.today)


def test_the_type_of_an_enrolment_never_changes(cast: Cast) -> None:
    """So the type of a past day is that of today: another type is another enrolment."""
    other = load_aircraft_type(FIXTURES / "aircraft/nosewheel.json")
    with pytest.raises(DatabaseError, match="the record is final"), transaction.atomic():
        Enrolment.objects.filter(pk=cast.enrolment.pk).update(aircraft_type=other)


def record_test(cast: Cast, at: datetime) -> None:
    training.record_written_test(
        enrolment=cast.enrolment, aircraft_type=cast.type, taken_on=cast.today - timedelta(days=20), questions=30,
        wrong=1, topics=["rules", "aerodrome", "make_and_model"], reviewed_on=cast.today - timedelta(days=20),
        given_by=cast.bert, by=cast.bert, at=at,
    )  # fmt: skip


def endorse(cast: Cast, at: datetime) -> None:
    endorsements.endorse_for_tailwheel(
        enrolment=cast.enrolment, text="Proficient.", on=cast.today - timedelta(days=20), secret=SECRET, by=cast.bert,
        at=at,
    )  # fmt: skip


def set_aside(cast: Cast, at: datetime) -> None:
    decisions.set_aside_requirement(
        enrolment=cast.enrolment, requirement="second_instructor", reason="Small school", by=cast.amelia, at=at
    )


@pytest.mark.parametrize("zone", ["UTC", HONOLULU, TONGATAPU])
@pytest.mark.parametrize("write", [record_test, endorse, set_aside])
def test_what_is_recorded_later_was_not_known_on_an_earlier_day(
    cast: Cast, zone: str, write: Callable[[Cast, datetime], None]
) -> None:
    fly_lesson(cast, days_ago=21)
    here = ZoneInfo(zone) if zone == "UTC" else move_school(cast, zone)
    recorded = cast.today - timedelta(days=5)
    days = [recorded - timedelta(days=1), recorded]
    before = [verdict_of(cast, day) for day in days]
    write(cast, at_clock(here, recorded, 0, 10))
    after = [verdict_of(cast, day) for day in days]
    assert after[0] == before[0]
    assert after[1] != before[1]


@pytest.fixture
def ready_cast(cast: Cast) -> Cast:
    make_ready(cast)
    return cast


# A day that is still to come ---------------------------------------------------------------------------------------


@ZONES
def test_a_lesson_of_a_day_to_come_is_not_signed(cast: Cast, zone: str) -> None:
    here = move_school(cast, zone)
    lesson = write_lesson(cast, cast.today - timedelta(days=3), cast.at())
    with pytest.raises(Refusal, match="sign it on that day"):
        sign(lesson, at_clock(here, lesson.on, 0) - timedelta(minutes=1))
    sign(lesson, at_clock(here, lesson.on, 0))


def test_the_database_refuses_a_signature_days_before_the_lesson(cast: Cast) -> None:
    """The furthest zone is 14 hours ahead of UTC (IANA: Pacific/Kiritimati), so a day of tolerance is enough."""
    lesson = write_lesson(cast, cast.today - timedelta(days=3), cast.at())
    rows = Lesson.objects.filter(pk=lesson.pk)
    with pytest.raises(IntegrityError, match="lesson_signed_not_before_its_day"), transaction.atomic():
        rows.update(signed_at=cast.at(23, 5), signed_by=cast.bert)
    with transaction.atomic():
        rows.update(signed_at=cast.at(23, 4), signed_by=cast.bert)  # within the tolerance of a day
        transaction.set_rollback(True)  # without a seal it would be refused at the end


def test_a_lesson_of_a_day_to_come_is_begun_with_a_sentence(cast: Cast, client: Client) -> None:
    client.force_login(cast.bert)
    form = {"enrolment": cast.enrolment.pk, "unit": cast.units[8].pk, "aircraft": cast.aircraft.pk}
    address = f"/lessons/begin/{cast.enrolment.uid}/"
    ahead = client.post(address, form | {"on": str(cast.today + timedelta(days=3))}, follow=True)
    assert "which is still to come: sign it on that day" in ahead.text
    now = client.post(address, form | {"on": str(cast.today - timedelta(days=1))}, follow=True)
    assert "still to come" not in now.text


# The setting -------------------------------------------------------------------------------------------------------


def test_the_zone_is_changed_on_the_page_and_written_in_the_journal(cast: Cast, client: Client) -> None:
    client.force_login(cast.frida)
    page = client.get("/settings/")
    assert "Every day is a day of this zone" in page.text
    kept = {name: field.initial for name, field in page.context["form"].fields.items()} | page.context["form"].initial
    kept |= {"time_zone": HONOLULU, "aerodrome": School.objects.get().aerodrome_id}
    assert client.post("/settings/", kept).status_code == 302
    assert School.objects.get().time_zone == HONOLULU
    entry = JournalEntry.objects.filter(what="settings changed").latest("pk")
    assert (entry.before, entry.after) == ({"time_zone": "UTC"}, {"time_zone": HONOLULU})


@pytest.mark.parametrize("name", ["", "Mars/Olympus", "utc; DROP TABLE", "Etc/GMT+10", "../../etc/passwd"])
def test_what_is_no_zone_is_refused(cast: Cast, name: str) -> None:
    with pytest.raises(Refusal, match="is not a known time zone"):
        change_school(changes={"time_zone": name}, by=cast.frida, at=cast.at())
    assert School.objects.get().time_zone == "UTC"
