"""The page of the standard: what the rules let through, a draft beside it, and whom it would change."""

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from bs4 import BeautifulSoup
from django.test import Client

from grading.actions.standard_draft import school_requirements
from grading.models import Standard
from grading.pages.standard import alarm_words, build_lets_through, headline, rule_words, sub_headline
from grading.reading import standard_comparison
from grading.reading.lesson_length import LessonLength
from grading.rules.readiness.json_format import standard_from_json
from grading.rules.readiness.success_rules import Row, Share
from school.models import JournalEntry
from tests.cast import Cast
from tests.factories import (
    add_students,
    begin_lesson,
    fly_lesson,
    record_circuit,
    record_entries,
    sign_lesson,
)
from tests.shared_state import shared_state

HTMX = {"HTTP_HX-Request": "true"}
PAGE_QUERIES, COMPARE_QUERIES = 10, 23


@shared_state
def flown(cast: Cast) -> Cast:
    """Dora has four good circuits over two lessons: enough for three in a row, too few for nine of ten."""
    fly_lesson(cast, circuits=2, days_ago=2)
    fly_lesson(cast, circuits=2, days_ago=1)
    return cast


def base_standard() -> Standard:
    return Standard.objects.filter(rule_set="us").earliest("pk")


def form_inputs(**typed: str) -> dict[str, str]:
    """Return what a browser sends of the untouched form, with what was typed; double underscores are dashes."""
    sent = {"reason": "Agreed with the instructors."}
    for row, numbers in school_requirements(base_standard().content):
        sent[f"{row['key']}-asked"] = "on"
        sent |= {f"{row['key']}-{name}": str(value) for name, value in numbers}
        if row["check"] == "most_of_last":
            sent |= {f"{row['key']}-form": row["check"], f"{row['key']}-needed": "3"}
    return sent | {name.replace("__", "-"): value for name, value in typed.items()}


ROW_OF_THREE = {f"{part}_to_standard__form": "in_a_row" for part in ("takeoffs", "approaches", "landings")}


def words_of(html: str) -> str:
    return re.sub(r"\s+", " ", BeautifulSoup(html, "html.parser").get_text())


def test_the_rule_in_force_is_shown_with_what_it_lets_through(flown: Cast, client: Client) -> None:
    client.force_login(flown.amelia)
    html = client.get("/standard/").text
    words = words_of(html)
    assert "Of 100 students who land to standard only half of the time, 4 are shown as met on landings" in words
    assert "at 4 circuits a lesson, because fewer than 12 signed lessons" in words
    assert "at least 9 of the last 10 to standard, over at least 2 lessons, the newest to standard" in words
    assert "Nothing has changed. Change a number above" in words
    tables = BeautifulSoup(html, "html.parser").select("table.chances")
    assert [table.caption.get_text() for table in tables if table.caption] == [
        "Each of these parts by itself",
        "All parts met at the same lesson’s end",
    ]
    # By the states: 4, 42 and 98 of a hundred within 30 circuits for one part, in lessons of four.
    assert [row.find_all("td")[1].get_text() for row in tables[0].select("tbody tr")] == ["4", "42", "98"]
    assert len(BeautifulSoup(html, "html.parser").select(".on-wide svg, .on-narrow svg")) == 2


def test_a_draft_is_told_beside_the_standard_with_and_without_a_script(flown: Cast, client: Client) -> None:
    client.force_login(flown.amelia)
    sent = form_inputs(**ROW_OF_THREE, act="look")
    page, fragment = client.post("/standard/", sent), client.post("/standard/", sent, **HTMX)
    expected = (
        "The draft lets through more students who land to standard only half of the time: 17 in 100 instead of 4."
    )
    for reply in (page, fragment):
        assert reply.status_code == 200
        assert expected in words_of(reply.text)
        assert "3 in a row to standard, over at least 2 lessons" in words_of(reply.text)
    assert 'value="in_a_row" checked' in re.sub(r"\s+", " ", page.text)
    swapped = BeautifulSoup(fragment.text, "html.parser")
    assert [part["id"] for part in swapped.select("[hx-swap-oob]")] == ["headline", "lets-through", "changes"]
    assert not swapped.select("input")  # the fields stay, with the focus in them
    assert Standard.objects.filter(rule_set="us").count() == 1


def test_parts_with_rules_of_their_own_have_tables_of_their_own(flown: Cast, client: Client) -> None:
    client.force_login(flown.amelia)
    sent = form_inputs(landings_to_standard__form="in_a_row", landings_to_standard__needed="5", act="look")
    words = words_of(client.post("/standard/", sent).text)
    assert re.search(r"Takeoff, [a-z, ]*approach, each by itself", words)
    assert "Landing, each by itself" in words
    assert "5 in a row to standard, over at least 2 lessons" in words


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"landings_to_standard__good": "11"}, "11 of the last 10 cannot be reached; ask for at most 10."),
        ({"landings_to_standard__good": "5"}, "5 of the last 10 is not more than half; ask for at least 6."),
        ({"landings_to_standard__lessons": "x"}, "“x” is not a whole number."),
        ({"landings_to_standard__form": "other"}, "“other” is no form of this requirement."),
        ({**ROW_OF_THREE, "takeoffs_to_standard__lessons": "4"}, "3 attempts cannot be spread over 4 lessons"),
    ],
)
@pytest.mark.parametrize("act", ["look", "compare", "publish"])
def test_what_cannot_be_is_refused_in_a_sentence_and_kept(
    flown: Cast, client: Client, typed: dict[str, str], sentence: str, act: str
) -> None:
    client.force_login(flown.amelia)
    tomorrow = str(flown.today + timedelta(days=1))
    reply = client.post("/standard/", form_inputs(**typed, act=act, valid_from=tomorrow, no_take_over__circuits="77"))
    assert reply.status_code == (422 if act == "publish" else 200)
    assert sentence in words_of(reply.text)
    assert 'value="77"' in reply.text
    assert Standard.objects.filter(rule_set="us").count() == 1


def test_who_would_change_is_named_before_anything_is_published(flown: Cast, client: Client) -> None:
    client.force_login(flown.amelia)
    sent = form_inputs(**ROW_OF_THREE, act="compare", valid_from="2031-02-03")
    for reply in (client.post("/standard/", sent), client.post("/standard/", sent, **HTMX)):
        words = words_of(reply.text)
        assert "No verdict of today would change for 2 students." in words
        assert "1 of the others: a requirement would change, the verdict would not" in words
        assert "Dora Example" in words
        assert "3 landings in a row to standard" in words
        assert "met: 4 in a row" in words
        assert "Emil Example" not in words
    assert 'value="2031-02-03"' in client.post("/standard/", sent).text
    assert Standard.objects.filter(rule_set="us").count() == 1
    published = client.post("/standard/", sent | {"act": "publish", "valid_from": str(flown.today + timedelta(days=1))})
    assert published.status_code == 302
    titles = [row["title"] for row in Standard.objects.latest("pk").content["requirements"]]
    assert "3 landings in a row to standard" in titles


def test_an_untouched_draft_changes_nobody_and_is_not_published(flown: Cast, client: Client) -> None:
    client.force_login(flown.amelia)
    assert "Nothing has changed, so no verdict would." in words_of(
        client.post("/standard/", form_inputs(act="compare")).text
    )
    reply = client.post("/standard/", form_inputs(act="publish", valid_from=str(flown.today + timedelta(days=1))))
    assert reply.status_code == 422
    assert "Nothing differs from the standard in force." in reply.text


def test_whose_numbers_from_a_track_no_longer_count_is_named(cast: Cast, client: Client) -> None:
    numbers = {
        f"{part}.measure.{gate}": f"{value} from track"
        for part, gate, value in (
            ("approach", "final.speed", "70 kt ±2"),
            ("approach", "final.height", "180 ft ±5"),
            ("landing", "touchdown.distance", "600 ft ±50"),
        )
    }
    lesson = begin_lesson(cast, days_ago=2)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0"})
    for number in range(1, 11):
        record_circuit(cast, lesson, number, **numbers)
    sign_lesson(cast, lesson, 2)
    client.force_login(cast.amelia)
    page = BeautifulSoup(client.get("/standard/").text, "html.parser")
    (choice,) = page.select("select[name=numbers_inside-from_tracks]")
    assert [(row["value"], row.get_text()) for row in choice.find_all("option")] == [
        ("1", "count"), ("0", "do not count")
    ]  # fmt: skip
    assert "only where its whole uncertainty lies inside" in words_of(str(page))
    sent = form_inputs(numbers_inside__from_tracks="0", act="compare")
    words = words_of(client.post("/standard/", sent).text)
    assert "1 of the others: a requirement would change, the verdict would not" in words
    assert "met: final speed 10 of the last 10 inside" in words
    assert "final speed 0 of 10 noted" in words
    again = BeautifulSoup(client.post("/standard/", sent).text, "html.parser")
    assert [row["value"] for row in again.select("select[name=numbers_inside-from_tracks] [selected]")] == ["0"]
    sent |= {"act": "publish", "valid_from": str(cast.today + timedelta(days=1))}
    assert client.post("/standard/", sent).status_code == 302
    newest = Standard.objects.filter(rule_set="us").latest("valid_from")
    (row,) = (row for row in newest.content["requirements"] if row["key"] == "numbers_inside")
    assert row["values"]["from_tracks"] == 0
    client.force_login(cast.bert)
    assert "Numbers from a flight track: do not count" in words_of(client.get("/standard/").text)


def test_a_large_school_is_compared_part_by_part(flown: Cast, client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(standard_comparison, "STUDENTS_AT_ONCE", 1)
    client.force_login(flown.amelia)
    first = words_of(client.post("/standard/", form_inputs(**ROW_OF_THREE, act="compare")).text)
    assert "These are the students 1 to 1 of 2 in training, by name." in first
    assert "See the students after 1" in first
    second = words_of(client.post("/standard/", form_inputs(**ROW_OF_THREE, act="compare-1")).text)
    assert "These are the students 2 to 2 of 2" in second
    assert "See the students after" not in second


def test_only_the_chief_looks_at_drafts_and_the_staff_reads(flown: Cast, client: Client) -> None:
    client.force_login(flown.bert)
    page = client.get("/standard/").text
    assert "9 of the last 10 landings to standard" in page
    assert "See what would change" not in page
    assert client.post("/standard/", form_inputs(act="compare")).status_code == 403


@pytest.mark.parametrize("more", [0, 8])
def test_the_page_and_the_comparison_ask_as_often_for_many_students(
    flown: Cast, client: Client, django_assert_num_queries: Callable[..., Any], more: int
) -> None:
    add_students(flown, more)
    client.force_login(flown.amelia)
    client.get("/standard/")
    with django_assert_num_queries(PAGE_QUERIES):
        client.get("/standard/")
    with django_assert_num_queries(COMPARE_QUERIES):
        client.post("/standard/", form_inputs(**ROW_OF_THREE, act="compare"))


def test_the_page_says_how_often_the_notice_of_slipping_comes_for_nothing(flown: Cast, client: Client) -> None:
    client.force_login(flown.amelia)
    words = words_of(client.get("/standard/").text)
    assert alarm_words(standard_from_json(base_standard().content)) in words
    assert "With 33 % failures in one part it is shown after about 9 attempts." in words
    assert "It stays until 5 in a row are to standard." in words


def test_the_sentences_follow_the_rules_and_the_lesson(flown: Cast) -> None:
    spec = standard_from_json(base_standard().content)
    usual = LessonLength(3, 40)
    shown = build_lets_through(spec, usual)
    assert "at the school’s usual lesson of 3 circuits." in sub_headline(usual, shown)
    assert "9 times in 10 are shown as met after 12 circuits." in sub_headline(usual, shown)
    assert headline(shown, shown).startswith("The draft lets through as many students")
    three = tuple(row for row in spec.requirements if row.values.get("part") != ("downwind",))
    told = alarm_words(replace(spec, requirements=three))
    assert "in each of 3 parts, “slipped back” is shown for nothing about once in 29 circuits." in told
    assert rule_words(Row(3, 1)) == "3 in a row to standard, over at least 1 lesson"
    assert rule_words(Share(8, 9, 2)).startswith("at least 8 of the last 9 to standard, over at least 2 lessons")


def test_a_standard_is_published_for_a_reason_that_the_journal_keeps(flown: Cast, client: Client) -> None:
    client.force_login(flown.amelia)
    sent = form_inputs(**ROW_OF_THREE, act="publish", valid_from=str(flown.today + timedelta(days=1)))
    refused = client.post("/standard/", sent | {"reason": "  "})
    assert refused.status_code == 422
    assert "Write why the standard changes" in refused.text
    assert client.post("/standard/", sent).status_code == 302
    entry = JournalEntry.objects.get(what="standard published")
    assert entry.after["reason"] == "Agreed with the instructors."
