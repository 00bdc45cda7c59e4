"""A student's own page: what comes next belongs to the unit they are in."""

from bs4 import BeautifulSoup
from django.test import Client

from grading.pages.own_progress import own_progress_context
from grading.pages.unit_ahead import UnitItem
from lessons.rules.scale import Level
from school import actions as school_actions
from tests.cast import Cast
from tests.factories import begin_lesson, fly_lesson, record_circuit, record_entries, sign_lesson
from tests.ready_student import fly_unit, make_ready


def items_by_title(cast: Cast) -> dict[str, UnitItem]:
    return {item.title: item for item in own_progress_context(cast.enrolment, cast.today)["unit"].items}


def test_a_beginner_is_told_of_the_first_unit_and_of_nothing_later(cast: Cast, client: Client) -> None:
    context = own_progress_context(cast.enrolment, cast.today)
    assert context["unit"].number == 1
    assert context["unit"].items
    assert not any(item.reached or item.last for item in context["unit"].items)
    assert context["steps"] == []
    client.force_login(cast.dora)
    page = client.get("/me/").text
    assert "Next steps" not in page
    # The whole list stays one tap away.
    assert page.index("Before first solo") < page.index("Go-around shown without help")


def test_a_lapsed_paper_is_said_to_a_beginner_too(cast: Cast) -> None:
    old = cast.at(8, 2000)
    school_actions.record_paper(
        person=cast.dora, kind="medical", medical_class="3", issued=old.date(), by=cast.frida, at=old
    )
    steps = own_progress_context(cast.enrolment, cast.today)["steps"]
    assert [step.outcome.key for step, _ in steps] == ["medical"]


def test_the_unit_shows_the_last_grade_beside_the_level_it_asks_for(cast: Cast) -> None:
    for number in range(1, 7):
        fly_unit(cast, number, 60 - number)
    assert own_progress_context(cast.enrolment, cast.today)["unit"].number == 7
    graded = [row.manoeuvre for row in cast.units[7].graded.select_related("manoeuvre")]
    lesson = begin_lesson(cast, 7, 9)
    levels = {f"manoeuvre.{row.code}.level": "perform" for row in graded}
    levels[f"manoeuvre.{graded[0].code}.level"] = "describe"
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0"}, **levels)
    sign_lesson(cast, lesson, 9)
    items = items_by_title(cast)
    below = items[graded[0].title]
    assert (below.reached, below.last.given, below.last.lesson) == (False, Level.DESCRIBE.value, lesson)
    assert all(item.reached for title, item in items.items() if title != graded[0].title)
    unit = own_progress_context(cast.enrolment, cast.today)["unit"]
    assert unit.words == f"1 of the {len(graded)} it grades is still below the level it asks for."


def test_the_parts_of_a_circuit_come_once_the_course_has_taught_them(cast: Cast) -> None:
    for number in range(1, 7):
        fly_unit(cast, number, 60 - number)
    assert own_progress_context(cast.enrolment, cast.today)["steps"] == []
    fly_unit(cast, 7, 50)
    fly_lesson(cast, circuits=2, days_ago=3, level="practice")
    steps = [step for step, _ in own_progress_context(cast.enrolment, cast.today)["steps"]]
    taught = {graded.manoeuvre.code for unit in range(1, 9) for graded in cast.units[unit].graded.all()}
    assert [step.outcome.group for step in steps] == ["standard"] * 3
    assert all(set(step.manoeuvres) <= taught for step in steps)


def test_what_only_the_school_can_give_is_no_step_of_the_student(cast: Cast, client: Client) -> None:
    make_ready(cast, but="knowledge_test")
    context = own_progress_context(cast.enrolment, cast.today)
    assert [outcome.key for outcome in context["row"].verdict.unmet] == ["knowledge_test"]
    assert context["steps"] == []
    client.force_login(cast.dora)
    page = client.get("/me/").text
    assert f"{len(context['met'])} of {len(context['met']) + 1} requirements are met." in " ".join(page.split())


def test_documents_say_the_days_they_still_have(cast: Cast) -> None:
    make_ready(cast)
    documents = {
        outcome.key: (outcome, days) for outcome, days in own_progress_context(cast.enrolment, cast.today)["documents"]
    }
    medical, days = documents["medical"]
    assert days == (medical.until - cast.today).days > 0
    assert documents["english"][1] is None


def test_a_lesson_to_sign_is_the_main_key(cast: Cast, client: Client) -> None:
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0"})
    record_circuit(cast, lesson, 1)
    sign_lesson(cast, lesson)
    client.force_login(cast.dora)
    page = " ".join(client.get("/me/").text.split())
    assert f'class="btn main" href="/lessons/{lesson.uid}/#signatures"' in page
    assert page.index("Read and sign lesson 1") < page.index("Your circuits")


def test_the_marks_are_explained_where_they_are(cast: Cast, client: Client) -> None:
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0"})
    record_circuit(cast, lesson, 1, **{"landing.fault.floated": "on", "landing.level": "practice"})
    sign_lesson(cast, lesson)
    client.force_login(cast.dora)
    page = BeautifulSoup(client.get("/me/").content, "html.parser")
    explained = {row.h2.get_text().split(",")[0]: row.select_one(".what") for row in page.select("main section")}
    words = {
        "Unit 1": "Perform",
        "Open faults": "closes by itself",
        "Your circuits": "Go-around",
        "Your documents": "Expired",
        "Before first solo": "Not known",
    }
    for title, word in words.items():
        assert explained[title] is not None, title
        assert word in explained[title].get_text()
    debrief = BeautifulSoup(client.get(f"/lessons/{lesson.uid}/debrief/").content, "html.parser")
    assert "took control" in debrief.select_one(".what").get_text()  # type: ignore[union-attr]
