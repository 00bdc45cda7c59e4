"""What a form takes at its edges, and what it answers one step beyond: a sentence, and nothing written."""

from datetime import date
from typing import Any

import pytest
from bs4 import BeautifulSoup
from django.core.exceptions import ValidationError
from django.test import Client

from grading.forms.training import ReleaseForm
from lessons import actions
from lessons.fields import EARLIEST_DAY, LATEST_DAY, DayField
from lessons.models import Lesson
from school.errors import Refusal
from school.models import JournalEntry, Paper, Person
from school.reasons import MAX_LENGTH
from tests.cast import Cast
from tests.factories import begin_lesson, fly_lesson


def test_days_from_1900_to_2100() -> None:
    field = DayField()
    for day in (EARLIEST_DAY, LATEST_DAY, date(2024, 2, 29)):
        assert field.clean(day.isoformat()) == day
    for typed in ("1899-12-31", "2101-01-01", "0001-01-01", "9999-12-31", "2023-02-29", "NaN"):
        with pytest.raises(ValidationError):
            field.clean(typed)


@pytest.mark.parametrize("typed", ["2023-02-29", "9999-12-31", "0001-01-01", "", "tomorrow"])
def test_a_standard_from_no_day_is_refused_in_a_sentence(cast: Cast, client: Client, typed: str) -> None:
    client.force_login(cast.amelia)
    page = BeautifulSoup(client.get("/standard/").text, "html.parser")
    form = page.select_one("form:has(input[name=valid_from])")
    assert form is not None
    values = {str(found["name"]): str(found.get("value", "on")) for found in form.select("input[name]")}
    reply = client.post("/standard/", values | {"valid_from": typed})
    assert reply.status_code == 422
    assert 'role="alert"' in reply.text


@pytest.mark.parametrize("on", ["0001-01-01", "1899-12-31", "2023-02-29"])
def test_a_student_as_of_a_day_outside_is_shown_as_of_today(cast: Cast, client: Client, on: str) -> None:
    client.force_login(cast.amelia)
    assert client.get(f"/students/{cast.enrolment.uid}/?on={on}").status_code == 200


def test_limits_of_a_release_fit_their_columns(cast: Cast) -> None:
    form = ReleaseForm(
        {"min_ceiling_ft": str(2**31)}, enrolment=cast.enrolment, on=cast.today, trained_on=None, last=None
    )
    assert "min_ceiling_ft" in form.errors
    form = ReleaseForm({"min_ceiling_ft": "60000"}, enrolment=cast.enrolment, on=cast.today, trained_on=None, last=None)
    assert "min_ceiling_ft" not in form.errors


def test_a_reason_that_is_too_long_is_refused_and_stands_in_its_field(cast: Cast, client: Client) -> None:
    """The columns hold 300 characters of why a lesson is corrected, 200 of why a paper is void."""
    lesson = fly_lesson(cast)
    paper = Paper.objects.create(
        person=cast.dora, kind="english", issued=cast.today, recorded_at=cast.at(), recorded_by=cast.frida
    )
    for who, page, most in (
        (cast.bert, f"/lessons/{lesson.uid}/correct/", 300), (cast.frida, f"/records/documents/{paper.pk}/void/", 200),
    ):  # fmt: skip
        client.force_login(who)
        before = JournalEntry.objects.count()
        typed = "é" * (most + 1)
        reply = client.post(page, {"reason": typed})
        assert reply.status_code == 422
        assert typed in reply.text
        assert f"{most} are the most" in reply.text
        assert JournalEntry.objects.count() == before
        assert client.post(page, {"reason": "é" * most}).status_code == 302


def test_a_remark_of_a_student_is_bounded(cast: Cast, client: Client) -> None:
    lesson = fly_lesson(cast)
    client.force_login(cast.dora)
    reply = client.post(f"/lessons/{lesson.uid}/acknowledge/", {"remark": "x" * (MAX_LENGTH + 1), "act": "refused"})
    assert reply.status_code == 422
    assert "shorten it" in reply.text


def test_a_plain_form_of_a_lesson_that_is_refused_keeps_all_that_was_typed(cast: Cast, client: Client) -> None:
    """Nothing of it is written, so everything stands in its field to be sent again."""
    lesson = begin_lesson(cast)
    client.force_login(cast.bert)
    typed: dict[str, Any] = {
        "lesson.off_blocks": "25:00", "lesson.dual_minutes": "1:10", "lesson.remarks": "A long story\nof 🛩️ a lesson",
    }  # fmt: skip
    reply = client.post(f"/lessons/{lesson.uid}/entries/", typed)
    assert reply.status_code == 422
    page = BeautifulSoup(reply.text, "html.parser")
    remarks = page.select_one("#l-remarks")
    assert remarks is not None
    assert remarks.text.strip() == typed["lesson.remarks"]
    for name in ("lesson.off_blocks", "lesson.dual_minutes"):
        field = page.select_one(f'[name="{name}"]')
        assert field is not None
        assert field["value"] == typed[name]
    assert Lesson.objects.get(pk=lesson.pk).remarks == ""

    speed = "circuit.1.approach.measure.final.speed"
    pad = {"circuit": "1", "circuit.1.landing.level": "perform", speed: "fast"}
    reply = client.post(f"/lessons/{lesson.uid}/entries/", pad)
    assert reply.status_code == 422
    page = BeautifulSoup(reply.text, "html.parser")
    assert page.select_one('[name="circuit.1.landing.level"][value="perform"][checked]')
    assert page.select_one(f'[name="{speed}"][value="fast"]')
    assert not Lesson.objects.get(pk=lesson.pk).circuits.exists()


def test_a_lamp_of_the_page_goes_back_to_a_path_only(client: Client, db: None) -> None:
    for typed in ("O’Brien 👩🏽‍✈️", "grading:home", "//elsewhere.example", "https://elsewhere.example", "\ufffd"):
        reply = client.post("/display/", {"light": "night", "next": typed})
        assert (reply.status_code, reply.headers["Location"]) == (302, "/")


def test_a_student_is_added_and_enrolled_or_neither(
    cast: Cast, client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuses(**asked: Any) -> None:
        raise Refusal("That issue was withdrawn meanwhile.")

    monkeypatch.setattr(actions, "enrol", refuses)
    client.force_login(cast.frida)
    new = {
        "given_name": "Zoë", "family_name": "محمد", "reference": "T-77", "username": "zoe", "born": "2000-02-29",
        "syllabus": cast.enrolment.syllabus_id, "aircraft_type": cast.type.pk, "instructor": cast.bert.pk,
        "on": cast.today.isoformat(),
    }  # fmt: skip
    reply = client.post("/records/enrol/", new)
    assert reply.status_code == 422
    assert "withdrawn meanwhile" in reply.text
    assert 'value="محمد"' in reply.text  # what was typed still stands there
    assert not Person.objects.filter(reference="T-77").exists()


def test_what_cannot_be_done_any_more_is_said_in_a_page(cast: Cast, client: Client) -> None:
    """Two windows: one discards, the other still has the keys of the lesson."""
    lesson = begin_lesson(cast)
    client.force_login(cast.bert)
    assert client.post(f"/lessons/{lesson.uid}/discard/", {"reason": "Rain"}).status_code == 302
    assert client.post(f"/lessons/{lesson.uid}/discard/", {"reason": "Rain"}).status_code == 404
