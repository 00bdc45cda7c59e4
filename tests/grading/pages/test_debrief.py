"""The debrief of a signed lesson: its sentence, its faults with their numbers, both views, and what changed."""

from collections.abc import Callable
from typing import Any

import pytest
from bs4 import BeautifulSoup
from django.db import transaction
from django.test import Client

from grading.actions import corrections, signing
from grading.models import OwnView, Standard
from grading.reading.lesson_stamp import DEBRIEF
from lessons.models import Lesson
from school.fragment_cache import fragments
from school.models import Aerodrome, Person, Runway, School
from tests.cast import SECRET, Cast
from tests.factories import begin_lesson, fly_lesson, record_circuit, record_entries, sign_lesson

LONG = {"landing.measure.touchdown.distance": "1500", "landing.fault.floated": "on", "landing.level": "practice"}
OWN = {
    "line": "It felt stable.",
    "level.takeoff": "perform",
    "level.downwind": "perform",
    "level.approach": "practice",
    "level.landing": "practice",
}


def fly(cast: Cast, *circuits: dict[str, str], days_ago: int = 0, **entries: str) -> Lesson:
    lesson = begin_lesson(cast, 8, days_ago)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0"}, **entries)
    for number, more in enumerate(circuits, 1):
        record_circuit(cast, lesson, number, **more)
    return sign_lesson(cast, lesson, days_ago)


def read(client: Client, person: Any, lesson: Lesson) -> BeautifulSoup:
    client.force_login(person)
    reply = client.get(f"/lessons/{lesson.uid}/debrief/")
    assert reply.status_code == 200
    return BeautifulSoup(reply.text, "html.parser")


def words_of(page: Any) -> str:
    return " ".join(page.get_text(" ").split())


def headline(page: Any) -> str:
    return words_of(page.h1)


def test_the_sentence_says_what_was_good_and_the_one_thing_to_do_better(cast: Cast, client: Client) -> None:
    page = read(client, cast.bert, fly(cast, {}, LONG))
    assert headline(page) == (
        "2 circuits: both takeoffs, both downwind legs and both approaches to standard without help; to do better:"
        " floated."
    )
    # Its cure is the line under it.
    assert words_of(page.select_one("p.lead")).startswith("Throttle shut, hold it just off and wait")


def test_a_fault_has_its_cause_its_cure_its_circuits_and_the_number_that_points_to_it(
    cast: Cast, client: Client
) -> None:
    lesson = fly(cast, {}, LONG, {"landing.fault.ballooned": "on"})
    page = read(client, cast.bert, lesson)
    floated, ballooned = page.select("article.debrief-fault")
    assert [words_of(row.h3) for row in (floated, ballooned)] == ["Floated", "Ballooned"]
    assert [row["href"] for row in floated.select("p a")] == [f"/lessons/{lesson.uid}/circuits/2/"]
    assert "Cause Too fast over the threshold" in words_of(floated)
    assert "Cure Throttle shut" in words_of(floated)
    assert words_of(floated.select_one(".pointing")) == (
        "Circuit 2: distance at the touchdown 1,000 ft past the target, outside, more than twice the tolerance"
    )
    assert "Floated, circuit 2: distance at the touchdown 1,000 ft past the target" in floated.figure.svg["aria-label"]
    # No number points to it, so that nothing is drawn.
    assert ballooned.figure is None


def test_a_number_that_points_to_a_fault_nobody_noted_is_told_apart(cast: Cast, client: Client) -> None:
    page = read(client, cast.bert, fly(cast, {"approach.measure.final.speed": "79"}))
    faults, hints = page.select("section")[:2]
    assert "No fault was noted." in words_of(faults)
    assert words_of(hints.h2) == "Numbers that point to a fault"
    assert words_of(hints.h3) == "Fast on final"
    assert hints.figure is not None
    # Without a fault noted the number itself is the thing to do better.
    assert headline(page).endswith("; to do better: speed on final, outside in 1 of 1.")


def test_what_was_good_and_what_was_asked_for(cast: Cast, client: Client) -> None:
    number = {"approach.measure.final.height": "185"}
    words = words_of(read(client, cast.bert, fly(cast, number, number, LONG, **{"lesson.next_time": "Power off."})))
    assert "3 of 3 takeoffs to standard without help" in words
    assert "2 of 3 landings to standard without help" in words
    assert "2 of 3 numbers within tolerance" in words
    assert "Within tolerance each time: height on final, 2 times." in words
    assert "For the next lesson Power off." in words


def test_what_changed_since_the_lesson_before(cast: Cast, client: Client) -> None:
    fly(cast, {"landing.fault.ballooned": "on", "landing.level": "practice"}, days_ago=5)
    middle = fly(cast, {}, {}, {}, LONG, days_ago=3)
    fly(cast, {"landing.fault.bounced": "on"}, days_ago=1)
    words = words_of(read(client, cast.dora, middle))
    assert "Since lesson 1 Ballooned is cleared Floated is open: 3 attempts in a row without it close it" in words
    assert "Takeoff to standard: 5 of 5 so far, 1 of 1 so far before" in words
    assert "Landing to standard: 3 of 5 so far, 0 of 1 so far before" in words
    # What came later is no part of it.
    assert "Bounced" not in words
    assert "After this first lesson" in words_of(read(client, cast.dora, Lesson.objects.get(number=1)))


def test_the_student_writes_first_and_then_sees_both(cast: Cast, client: Client) -> None:
    lesson = fly(cast, {}, LONG)
    page = read(client, cast.dora, lesson)
    assert headline(page) == "How did lesson 1 go for you?"
    folded = page.main.details
    assert not folded.has_attr("open")
    assert words_of(folded.summary) == "Show the instructor\u2019s levels without writing mine"
    folded.extract()
    assert "Bert Example wrote" not in words_of(page.main)
    assert "to standard" not in words_of(page.main)
    assert "Floated" not in words_of(page.main)
    # The instructor's own page says that nothing was written.
    assert "Dora Example has not written their own view yet." in words_of(read(client, cast.bert, lesson))
    client.force_login(cast.dora)
    reply = client.post(f"/lessons/{lesson.uid}/debrief/own-view/", OWN)
    assert reply["location"] == f"/lessons/{lesson.uid}/debrief/"
    for person, heading in ((cast.dora, "You"), (cast.bert, "Dora Example")):
        page = read(client, person, lesson)
        assert page.main.form is None
        assert page.select_one("main details:not(.what)") is None
        table = page.select_one("table.two-views")
        assert words_of(table.thead) == f"Part {heading} Bert Example"
        rows = [words_of(row) for row in table.select("tbody tr")]
        assert rows[2:] == ["Approach Practice Perform", "Landing Practice Practice"]
        assert [words_of(row.th) for row in table.select("tr.apart")] == ["Approach"]
        assert "Approach: 1 level apart." in words_of(page.main)
        assert f"{heading} wrote: \u201cIt felt stable.\u201d" in words_of(page.main)


def test_what_was_refused_is_shown_as_typed(cast: Cast, client: Client) -> None:
    lesson = fly(cast, {})
    client.force_login(cast.dora)
    typed = {name: value for name, value in OWN.items() if name != "level.landing"}
    reply = client.post(f"/lessons/{lesson.uid}/debrief/own-view/", typed)
    assert reply.status_code == 422
    page = BeautifulSoup(reply.text, "html.parser")
    assert words_of(page.select_one(".errors")) == "Choose a level for: Landing."
    assert page.textarea.text.strip() == "It felt stable."
    assert [row["id"] for row in page.select("input[checked]")] == [
        "level-takeoff-perform", "level-downwind-perform", "level-approach-practice",
    ]  # fmt: skip
    assert not OwnView.objects.exists()


def test_what_was_written_stays_with_a_corrected_lesson(cast: Cast, client: Client) -> None:
    lesson = fly(cast, {})
    client.force_login(cast.dora)
    client.post(f"/lessons/{lesson.uid}/debrief/own-view/", OWN)
    version = corrections.begin_correction(lesson=lesson, reason="Typed wrongly.", by=cast.bert, at=cast.at(12))
    sign_lesson(cast, version)
    page = read(client, cast.dora, version)
    assert "You wrote: \u201cIt felt stable.\u201d" in words_of(page.main)
    assert page.main.form is None
    old = read(client, cast.dora, lesson)
    assert old.select_one(".notice a")["href"] == f"/lessons/{version.uid}/debrief/"


def test_a_lesson_without_circuits_is_told_by_its_grades(cast: Cast, client: Client) -> None:
    lesson = begin_lesson(cast, 2)
    graded = [row.manoeuvre.code for row in cast.units[2].graded.select_related("manoeuvre")]
    levels = {f"manoeuvre.{code}.level": "perform" for code in graded}
    levels[f"manoeuvre.{graded[0]}.level"] = "practice"
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0"}, **levels)
    sign_lesson(cast, lesson)
    many = len(graded)
    page = read(client, cast.bert, lesson)
    assert headline(page) == f"No circuits: {many - 1} of {many} manoeuvres to standard without help."
    # A line alone is asked for: there is no part to give oneself a level for.
    client.force_login(cast.dora)
    client.post(f"/lessons/{lesson.uid}/debrief/own-view/", {"line": "Fine."})
    assert OwnView.objects.get().levels == {}


def test_an_unsigned_lesson_has_no_debrief(cast: Cast, client: Client) -> None:
    lesson = begin_lesson(cast)
    for person in (cast.bert, cast.amelia, cast.dora):
        client.force_login(person)
        assert client.get(f"/lessons/{lesson.uid}/debrief/").status_code == 404
        assert client.post(f"/lessons/{lesson.uid}/debrief/own-view/", OWN).status_code == 404


def test_the_record_and_the_student_s_own_page_lead_there(cast: Cast, client: Client) -> None:
    fly_lesson(cast, days_ago=2)
    newest = fly_lesson(cast)
    client.force_login(cast.dora)
    for address in ("/me/", f"/lessons/{newest.uid}/"):
        assert f'href="/lessons/{newest.uid}/debrief/"' in client.get(address).text


def publish_standard(cast: Cast) -> None:
    """Nine clean attempts clear a fault."""
    old = Standard.objects.get(rule_set="us")
    asked = [
        row | ({"values": row["values"] | {"clean": 9}} if "clean" in row["values"] else {})
        for row in old.content["requirements"]
    ]
    content = old.content | {"key": "more", "requirements": asked}
    Standard.objects.create(key="more", rule_set="us", valid_from=cast.today, content=content)


# By part of the stamp: what changes its rows and those of no other part. What is missing is read and never shown.
CHANGES: dict[str, Callable[[Cast, Lesson], Any]] = {
    "signed": lambda cast, lesson: Lesson.objects.unsigned().update(signed_at=cast.at(12), signed_by=cast.bert),
    "people": lambda cast, lesson: Person.objects.filter(pk=cast.dora.pk).update(family_name="Renamed"),
    "aerodromes": lambda cast, lesson: Aerodrome.objects.update(variation_deg="9.0"),
    "school": lambda cast, lesson: School.objects.update(speed_unit="km/h"),
    "runway": lambda cast, lesson: Runway.objects.filter(pk=cast.runway.pk).update(designator="17"),
    "own view": lambda cast, lesson: OwnView.objects.create(
        lesson=lesson, line="It felt stable.", levels={"landing": "perform"}, written_at=cast.at(12)
    ),
    "signatures": lambda cast, lesson: signing.acknowledge_lesson(
        lesson=lesson, secret=SECRET, by=cast.dora, at=cast.at(12)
    ),
    "standards": lambda cast, lesson: publish_standard(cast),
}


@pytest.mark.parametrize("part", CHANGES)
def test_a_kept_debrief_hangs_on_each_part_of_its_stamp(
    cast: Cast, client: Client, part: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With the part a change shows at once; without it the old page would be found."""
    wind = {"wind_direction": "200", "wind_speed_kt": "10", "wind_reference": "true"}
    fast = {"approach.measure.final.speed": "90"}
    lesson = fly(cast, fast, LONG, **{f"lesson.{name}": value for name, value in wind.items()})
    before = begin_lesson(cast, 8, 1)
    record_circuit(cast, before, 1)

    def shown() -> str:
        return words_of(read(client, cast.dora, lesson).main)

    for stale in (True, False):
        with transaction.atomic():
            if stale:
                monkeypatch.delitem(DEBRIEF, part)
            fragments.clear()
            old = shown()
            CHANGES[part](cast, lesson)
            seen = shown()
            fragments.clear()
            assert shown() != old, "the change is to show"
            assert (seen == old) is stale
            transaction.set_rollback(True)
        monkeypatch.undo()


def test_a_second_look_makes_five_queries(
    cast: Cast, client: Client, django_assert_num_queries: Callable[..., Any]
) -> None:
    lesson = fly(cast, {}, LONG)
    read(client, cast.bert, lesson)
    with django_assert_num_queries(5):
        client.get(f"/lessons/{lesson.uid}/debrief/")


@pytest.mark.parametrize(("who", "queries"), [("bert", 25), ("dora", 26)])
@pytest.mark.parametrize("more", [0, 3])
def test_the_queries_of_the_first_look_do_not_grow_with_circuits_or_lessons(
    cast: Cast, client: Client, django_assert_num_queries: Callable[..., Any], who: str, queries: int, more: int
) -> None:
    for number in range(more):
        fly(cast, {}, LONG, days_ago=9 - number)
    lesson = fly(cast, *[LONG | {"approach.measure.final.speed": "79"}] * (1 + 2 * more))
    read(client, getattr(cast, who), lesson)
    fragments.clear()
    with django_assert_num_queries(queries):
        client.get(f"/lessons/{lesson.uid}/debrief/")
