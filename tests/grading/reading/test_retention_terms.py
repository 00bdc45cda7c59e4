"""How long a record is kept: the longest of the rules, in Python as in SQL; the list; a person's own data.

Years after the end of training: 14 CFR 141.101(d), one; ORA.ATO.120, three; DTO.GEN.220, three after the last session;
14 CFR 61.189(c), three after an endorsement; 49 CFR part 1552, five.
"""

import json
import uuid
from collections.abc import Callable
from datetime import date, timedelta

import pytest
from django.db import connection
from django.test import Client
from hypothesis import given
from hypothesis import strategies as st

from grading.actions import erasure as erasing
from grading.exchange.personal_data import collect_personal_data
from grading.models import ReceivedRecord, Release, Seal
from grading.reading.retention_terms import load_retention, retention_terms, years_later
from lessons.models import EarlierTraining, Endorsement, Enrolment
from school import actions as school_actions
from school.models import JournalEntry, Role, School
from tests.cast import SECRET, Cast
from tests.database_guards import guards_off
from tests.factories import add_person, fly_lesson
from tests.grading.ended_training import (
    ENDED_DAYS_AGO,
    change_dates,
    create_ended_enrolment,
    create_endorsement_list,
    create_full_training,
)

DAYS = st.dates(date(1980, 1, 1), date(2100, 12, 31))


@pytest.mark.parametrize(
    ("day", "years", "until"),
    [
        (date(2021, 6, 15), 5, date(2026, 6, 15)),
        (date(2020, 2, 29), 4, date(2024, 2, 29)),
        (date(2020, 2, 29), 5, date(2025, 3, 1)),  # never 28 February: that would be a day too short
        (date(2020, 2, 28), 5, date(2025, 2, 28)),
        (date(2019, 3, 1), 5, date(2024, 3, 1)),
        (date(2096, 2, 29), 4, date(2100, 3, 1)),  # 2100 is no leap year
    ],
)
def test_calendar_years(day: date, years: int, until: date) -> None:
    assert years_later(day, years) == until


@given(DAYS, st.integers(1, 99))
def test_never_shorter_than_the_years(day: date, years: int) -> None:
    until = years_later(day, years)
    assert (until.year - day.year, until >= day.replace(year=until.year, day=min(day.day, 28))) == (years, True)
    assert years_later(day + timedelta(days=1), years) >= until


@pytest.mark.django_db
def test_the_years_are_the_same_in_sql() -> None:
    days = [date(2019, 12, 31) + timedelta(days=n) for n in range(0, 800)]
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT d, y, years_later(d, y) FROM unnest(%s::date[]) d, unnest(%s::int[]) y", [days, [1, 3, 5, 80]]
        )
        rows = cursor.fetchall()
    assert len(rows) == 3200
    assert [row for row in rows if years_later(row[0], row[1]) != row[2]] == []


def test_the_longest_comes_first() -> None:
    ended = date(2020, 1, 10)
    terms = retention_terms(
        ended_on=ended, school_years=5, last_lesson=date(2020, 1, 9), last_endorsement=date(2019, 1, 1)
    )
    assert [(term.source, term.until) for term in terms] == [
        ("never under 49 CFR part 1552", date(2025, 1, 10)),
        ("ORA.ATO.120", date(2023, 1, 10)),
        ("DTO.GEN.220", date(2023, 1, 9)),
        ("14 CFR 61.189(c)", date(2022, 1, 1)),
        ("14 CFR 141.101(d)", date(2021, 1, 10)),
    ]
    later = retention_terms(ended_on=ended, school_years=5, last_lesson=None, last_endorsement=date(2024, 1, 1))
    assert (later[0].source, later[0].until) == ("14 CFR 61.189(c)", date(2027, 1, 1))


@pytest.mark.parametrize("case", ["end", "years", "endorsement", "release", "lesson", "open"])
def test_kept_until_the_same_day_in_python_and_sql(cast: Cast, case: str) -> None:
    enrolment = create_full_training(cast)
    recent = cast.today - timedelta(days=40)
    if case == "years":
        School.objects.update(retention_years=30)
    elif case == "endorsement":
        with guards_off():
            Endorsement.objects.filter(enrolment=enrolment).update(given_on=recent)
    elif case == "release":
        release = Release.objects.get(enrolment=enrolment)
        release.pk, release.uid, release.decided_at = None, uuid.uuid4(), cast.at(23, 40)
        release.save(force_insert=True)
    elif case == "lesson":
        change_dates(enrolment, ended_on=cast.today)
        cast.enrolment.refresh_from_db()
        fly_lesson(cast, days_ago=40)
        change_dates(enrolment, ended_on=cast.today - timedelta(days=ENDED_DAYS_AGO))
    elif case == "open":
        change_dates(enrolment, ended_on=None, end="")
    enrolment.refresh_from_db()
    (keeping,) = load_retention([enrolment], School.objects.get().retention_years)
    with connection.cursor() as cursor:
        cursor.execute("SELECT kept_until(%s)", [enrolment.pk])
        assert cursor.fetchone() == (keeping.until,)
    ended = cast.today - timedelta(days=ENDED_DAYS_AGO)
    wanted = {"end": years_later(ended, 5), "years": years_later(ended, 30), "open": None}
    assert keeping.until == wanted.get(case, years_later(recent, 3))
    if keeping.until:
        assert not keeping.due(keeping.until)
        assert keeping.due(keeping.until + timedelta(days=1))
        assert keeping.erasable_from == keeping.until + timedelta(days=1)
    else:
        assert not keeping.due(date.max)


def test_the_list_sorts_and_filters(cast: Cast, client: Client) -> None:
    create_ended_enrolment(cast, cast.other_enrolment)
    client.force_login(cast.frida)
    shown = {show: client.get("/records/retention/", {"show": show}).text for show in ("", "due", "not_yet", "no-such")}
    assert "1 record may be erased" in shown[""]
    assert shown[""].index("Emil") < shown[""].index("Dora")
    assert ("Emil" in shown["due"], "Dora" in shown["due"]) == (True, False)
    assert ("Emil" in shown["not_yet"], "Dora" in shown["not_yet"]) == (False, True)
    assert ("Emil" in shown["no-such"], "Dora" in shown["no-such"]) == (True, True)


@pytest.mark.parametrize("more", [0, 5])
def test_the_list_asks_no_more_for_more_students(
    cast: Cast, client: Client, django_assert_num_queries: Callable, more: int
) -> None:
    for number in range(more):
        student = add_person(f"Learner{number}", f"L-{number}", Role.STUDENT, at=cast.at())
        Enrolment.objects.create(
            student=student, syllabus=cast.enrolment.syllabus, aircraft_type=cast.type, instructor=cast.bert,
            enrolled_on=cast.today - timedelta(days=3000), ended_on=cast.today - timedelta(days=2500), end="completed",
        )  # fmt: skip
    client.force_login(cast.frida)
    client.get("/records/retention/")
    with django_assert_num_queries(11):
        assert client.get("/records/retention/").status_code == 200


def test_the_record_page_says_how_long_and_from_where(cast: Cast, client: Client) -> None:
    enrolment = create_full_training(cast)
    client.force_login(cast.frida)
    text = client.get(f"/records/{enrolment.uid}/").text
    for source in ("49 CFR part 1552", "14 CFR 141.101(d)", "14 CFR 61.189(c)", "ORA.ATO.120", "DTO.GEN.220"):
        assert source in text
    assert "Training has not ended" in client.get(f"/records/{cast.other_enrolment.uid}/").text


# What is stored about a person


def test_everything_stored_about_a_student_and_nothing_of_others(cast: Cast) -> None:
    create_full_training(cast)
    fly_lesson(cast, enrolment=cast.other_enrolment)
    create_endorsement_list(cast, cast.dora, cast.emil)
    told = collect_personal_data(cast.dora, cast.at(15))
    assert told["person"]["given_name"] == "Dora"
    assert "password" not in told["person"]
    assert [paper["number"] for paper in told["papers"]] == ["DORA-1"]
    (enrolment,) = told["enrolments"]
    stored = enrolment["stored"]
    assert {"lessons", "attempts", "taps", "signatures", "releases for solo", "written tests"} <= set(stored)
    assert stored["lessons"][0]["remarks"] == "Dora flared late"
    assert stored["lessons"][0]["instructor"] == "Bert Example"
    assert stored["numbers read at gates"][0]["value"] == "70.0"
    assert stored["printed sheets"][0]["pdf"] == "4 bytes"
    kinds = {"lesson", "acknowledgement", "release", "sheet", "endorsement", "discarded", "track"}
    assert {seal["kind"] for seal in enrolment["seals"]} == kinds
    assert {what: len(rows) for what, rows in told["from_elsewhere"].items()} == {
        "earlier_training": EarlierTraining.objects.filter(student=cast.dora).count(),
        "received_batches": 1,
        "received_records": ReceivedRecord.objects.filter(batch__student=cast.dora).count(),
    }
    assert all(told["from_elsewhere"].values())
    assert len(told["named_in_lists_of_instructors"]) == 1
    assert "enrolled" in {entry["what"] for entry in told["journal"]}
    whole = json.dumps(told)
    assert "Emil" not in whole
    assert cast.dora.password not in whole
    assert {row["what"]: row["until"] for row in told["kept"]}["journal"] == "without end"
    until = years_later(cast.enrolment.ended_on, 5).isoformat()
    assert told["kept"][0]["until"] == enrolment["kept_until"] == until


def test_a_person_takes_their_own_and_the_administrator_that_of_a_student(cast: Cast, client: Client) -> None:
    lesson = fly_lesson(cast)
    client.force_login(cast.dora)
    own = client.get("/me/data/")
    assert own.headers["Content-Type"] == "application/json"
    assert "attachment" in own.headers["Content-Disposition"]
    assert own.json()["enrolments"][0]["stored"]["lessons"][0]["uid"] == str(lesson.uid)
    assert client.post(f"/records/{cast.enrolment.uid}/data/").status_code == 403
    client.force_login(cast.frida)
    handed = client.post(f"/records/{cast.enrolment.uid}/data/").json()
    assert handed["person"] == own.json()["person"]
    assert JournalEntry.objects.get(what="personal data handed out").about_id == cast.dora.pk
    client.force_login(cast.bert)
    staff = client.get("/me/data/").json()
    assert staff["enrolments"] == []
    assert "Dora" not in json.dumps(staff)


def test_data_of_one_student_takes_a_fixed_number_of_queries(
    cast: Cast, django_assert_max_num_queries: Callable
) -> None:
    for day in range(3):
        fly_lesson(cast, circuits=2, days_ago=day)
    assert Seal.objects.count() == 3
    with django_assert_max_num_queries(75):
        collect_personal_data(cast.dora, cast.at())


def test_an_export_after_an_erasure_tells_what_is_kept(cast: Cast) -> None:
    asked = erasing.propose_erasure(enrolment=create_full_training(cast), reason="Over", by=cast.frida, at=cast.at(9))
    erasing.confirm_erasure(erasure=asked, secret=SECRET, by=cast.amelia, at=cast.at(10))
    cast.dora.refresh_from_db()
    told = collect_personal_data(cast.dora, cast.at())
    assert (told["person"]["family_name"], told["papers"], told["enrolments"]) == ("T-4", [], [])
    assert [row["reason"] for row in told["erasures"]] == ["Over"]


def test_a_paper_of_staff_is_theirs_to_take(cast: Cast) -> None:
    school_actions.record_paper(person=cast.cleo, kind="english", issued=cast.today, by=cast.frida, at=cast.at())
    assert len(collect_personal_data(cast.cleo, cast.at())["papers"]) == 2
