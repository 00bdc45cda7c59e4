"""The administrator's list of everybody enrolled: by name, page by page, whatever became of them."""

import re
from datetime import timedelta

import pytest
from django.test import Client

from grading.actions import training
from grading.pages import records
from tests.cast import Cast
from tests.factories import begin_lesson


@pytest.fixture
def page(cast: Cast, client: Client) -> Client:
    client.force_login(cast.frida)
    return client


def listed_names(text: str) -> list[str]:
    listed = re.search(r'<div id="students">.*?</div>', text, re.DOTALL)
    assert listed
    return re.findall(r"<b>(.*?)</b></a>", listed[0])


def test_those_in_training_stand_there_and_those_who_ended_when_asked(cast: Cast, page: Client) -> None:
    assert listed_names(page.get("/records/").text) == ["Dora Example", "Emil Example"]
    training.end_training(enrolment=cast.enrolment, on=cast.today, end="completed", by=cast.frida, at=cast.at())
    assert listed_names(page.get("/records/").text) == ["Emil Example"]
    assert listed_names(page.get("/records/?show=ended").text) == ["Dora Example"]
    assert listed_names(page.get("/records/?show=all").text) == ["Dora Example", "Emil Example"]
    assert listed_names(page.get("/records/?show=nonsense").text) == ["Emil Example"]


def test_a_name_or_a_number_is_looked_for(cast: Cast, page: Client) -> None:
    assert listed_names(page.get("/records/?q=dora+exam").text) == ["Dora Example"]
    assert listed_names(page.get(f"/records/?q={cast.emil.reference}").text) == ["Emil Example"]
    assert "No student matches" in page.get("/records/?q=zzz").text
    assert "Nobody is enrolled yet" not in page.get("/records/?q=zzz&show=all").text


def test_pages_follow_each_other_and_keep_what_was_asked(page: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(records, "STUDENTS_PER_PAGE", 1)
    first = page.get("/records/?q=example&show=all").text
    assert listed_names(first) == ["Dora Example"]
    assert "1 to 1 of 2" in first
    assert "Previous page" not in first
    assert 'href="?q=example&amp;show=all&amp;page=2">Next page' in first
    second = page.get("/records/?q=example&show=all&page=2").text
    assert listed_names(second) == ["Emil Example"]
    assert 'href="?q=example&amp;show=all&amp;page=1">Previous page' in second
    assert listed_names(page.get("/records/?page=99").text) == ["Emil Example"]  # the last there is
    assert listed_names(page.get("/records/?page=x").text) == ["Dora Example"]


def test_the_lessons_that_wait_longest_stand_first(cast: Cast, page: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(records, "MAX_UNSIGNED_SHOWN", 2)
    for days in (1, 9, 5):
        begin_lesson(cast, days_ago=days)
    text = page.get("/records/").text
    assert "3 lessons, the oldest first" in text
    assert "The first 2 are shown" in text
    days = [f"{cast.today - timedelta(days=ago):%-d %b %Y}" for ago in (9, 5, 1)]
    waiting = text[text.index("Not signed yet") :]
    assert waiting.index(days[0]) < waiting.index(days[1])
    assert days[2] not in waiting
