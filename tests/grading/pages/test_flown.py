"""The page of a circuit as flown, that of all circuits of a lesson, and the ways that lead there."""

import re
from collections.abc import Callable
from typing import Any

import pytest
from bs4 import BeautifulSoup
from django.db import transaction
from django.test import Client

from grading.pages import flown
from grading.reading.flown import FlownLesson
from grading.reading.lesson_stamp import FLOWN
from lessons.models import GateSet, Lesson
from school.fragment_cache import fragments
from school.models import Aerodrome, Obstacle, Person, Runway, School
from tests.cast import Cast
from tests.factories import begin_lesson, record_circuit, record_entries, sign_lesson

FINAL_HEIGHT, FINAL_SPEED = "approach.measure.final.height", "approach.measure.final.speed"
ABEAM_HEIGHT, TOUCHDOWN = "downwind.measure.abeam.height", "landing.measure.touchdown.distance"
LOW_AND_LONG = {FINAL_HEIGHT: "113", FINAL_SPEED: "70", ABEAM_HEIGHT: "850", TOUCHDOWN: "900"}


def fly(cast: Cast, *circuits: dict[str, str], days_ago: int = 0, sign: bool = True) -> Lesson:
    lesson = begin_lesson(cast, 8, days_ago)
    record_entries(
        cast, lesson,
        **{"lesson.dual_minutes": "1.0", "lesson.wind_direction": "200", "lesson.wind_speed_kt": "10"},
    )  # fmt: skip
    for number, numbers in enumerate(circuits, 1):
        record_circuit(cast, lesson, number, **numbers)
    return sign_lesson(cast, lesson, days_ago) if sign else lesson


def text_of(client: Client, person: Any, address: str) -> str:
    client.force_login(person)
    reply = client.get(address)
    assert reply.status_code == 200
    return reply.text


def headline(text: str) -> str:
    (title,) = re.findall(r"<h1>(.*?)</h1>", text, re.DOTALL)
    return " ".join(title.split())


def test_the_sentence_names_the_worst_gates_in_the_order_flown_and_then_the_touchdown(
    cast: Cast, client: Client
) -> None:
    lesson = fly(cast, LOW_AND_LONG)
    text = text_of(client, cast.dora, f"/lessons/{lesson.uid}/circuits/1/")
    assert headline(text) == (
        "Circuit 1: 150 ft high abeam the point, 67 ft low on final; touchdown 900 ft past the aiming point, outside."
    )
    # The name of every figure is that sentence, and the table has the numbers.
    assert len(re.findall(r'aria-label="Circuit 1: 150 ft high', text)) == 6
    row = re.search(r"12 Final</th>\s*<td>height</td>\s*<td>(.*?)</td>\s*<td>(.*?)</td>", text)
    assert row
    assert row.groups() == ("180 ft +40 \u221230", "113 ft")
    assert "67 ft low, outside" in text


def test_what_nobody_noted_is_said_in_the_table_and_drawn_as_not_noted(cast: Cast, client: Client) -> None:
    lesson = fly(cast, {FINAL_HEIGHT: "180"})
    text = text_of(client, cast.bert, f"/lessons/{lesson.uid}/circuits/1/")
    assert "inside at every gate that was noted; the touchdown was not noted" in headline(text)
    assert text.count("<td>not noted</td>") == 24  # of the 25 numbers that the gates of the type ask for
    assert "Where the wheels met the ground" not in text


def test_the_circuits_before_it_are_those_of_the_student_in_signed_lessons(cast: Cast, client: Client) -> None:
    for day in (9, 8, 7):
        fly(cast, {FINAL_HEIGHT: "170"}, {}, {FINAL_HEIGHT: "175"}, days_ago=day)
    fly(cast, {FINAL_HEIGHT: "999"}, days_ago=6, sign=False)
    lesson = fly(cast, {FINAL_HEIGHT: "190"}, {FINAL_HEIGHT: "200"})
    earlier = FlownLesson(lesson).earlier(2)
    assert [(row.lesson, row.circuit) for row in earlier] == [(2, 1), (2, 3), (3, 1), (3, 3), (5, 1)]
    assert [row.values["final.height"] for row in earlier] == [170, 175, 170, 175, 190]


def test_a_number_counts_in_the_unit_that_the_school_reads(cast: Cast, client: Client) -> None:
    lesson = fly(cast, {FINAL_HEIGHT: "113"})
    School.objects.update(length_unit="m")
    text = text_of(client, cast.bert, f"/lessons/{lesson.uid}/circuits/1/")
    # 67 ft are 20.42 m; away from the target to a tenth.
    assert "20.5 m low on final" in headline(text)
    assert "34.4 m" in text


def test_all_circuits_of_a_lesson_over_each_other(cast: Cast, client: Client) -> None:
    lesson = fly(cast, {FINAL_HEIGHT: "100", TOUCHDOWN: "500"}, {FINAL_HEIGHT: "110"}, {FINAL_HEIGHT: "180"}, {})
    text = text_of(client, cast.dora, f"/lessons/{lesson.uid}/circuits/")
    assert headline(text) == "4 circuits: 2 of 4 numbers inside; most often outside: height on final, 2 of 3."
    for number in (1, 2, 3, 4):
        assert f'href="/lessons/{lesson.uid}/circuits/{number}/"' in text
    assert "Circuit 4: no number was noted before the touchdown; the touchdown was not noted." in text


def test_a_lesson_without_circuits_says_so(cast: Cast, client: Client) -> None:
    lesson = begin_lesson(cast)
    assert "No circuit was flown in this lesson." in text_of(client, cast.bert, f"/lessons/{lesson.uid}/circuits/")


def test_a_student_does_not_see_a_circuit_before_it_is_signed(cast: Cast, client: Client) -> None:
    lesson = fly(cast, LOW_AND_LONG, sign=False)
    client.force_login(cast.dora)
    assert client.get(f"/lessons/{lesson.uid}/circuits/1/").status_code == 404
    client.force_login(cast.cleo)
    assert client.get(f"/lessons/{lesson.uid}/circuits/1/").status_code == 200
    assert client.get(f"/lessons/{lesson.uid}/circuits/2/").status_code == 404


def test_a_lesson_that_is_being_written_is_drawn_anew(cast: Cast, client: Client) -> None:
    lesson = fly(cast, {FINAL_HEIGHT: "113"}, sign=False)
    address = f"/lessons/{lesson.uid}/circuits/1/"
    assert "67 ft low" in text_of(client, cast.bert, address)
    record_entries(cast, lesson, **{f"circuit.1.{FINAL_HEIGHT}": "180"})
    assert "67 ft low" not in text_of(client, cast.bert, address)


# By part of the stamp: what changes its rows and those of no other part.
CHANGES: dict[str, Callable[[Cast], Any]] = {
    "signed": lambda cast: Lesson.objects.unsigned().update(signed_at=cast.at(12), signed_by=cast.bert),
    "people": lambda cast: Person.objects.filter(pk=cast.dora.pk).update(family_name="Renamed"),
    "aerodromes": lambda cast: Aerodrome.objects.update(variation_deg="9.0"),
    "obstacles": lambda cast: Obstacle.objects.create(
        runway=cast.runway, name="Poplars", before_ft=900, side_ft=20, height_ft=60
    ),
    "school": lambda cast: School.objects.update(speed_unit="km/h"),
    "gates": lambda cast: GateSet.objects.create(
        aircraft_type=cast.type, issue=9, valid_from=cast.today, published=True
    ),
    "runway": lambda cast: Runway.objects.filter(pk=cast.runway.pk).update(designator="17"),
}


@pytest.mark.parametrize("part", FLOWN)
def test_a_kept_page_hangs_on_each_part_of_its_stamp(
    cast: Cast, client: Client, part: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With the part a change shows at once; without it the old page would be found."""
    lesson = begin_lesson(cast, 8)
    wind = {"wind_direction": "200", "wind_speed_kt": "10", "wind_reference": "true", "dual_minutes": "1.0"}
    record_entries(cast, lesson, **{f"lesson.{name}": value for name, value in wind.items()})
    record_circuit(cast, lesson, 1)
    sign_lesson(cast, lesson)
    fly(cast, LOW_AND_LONG, days_ago=1, sign=False)
    address = f"/lessons/{lesson.uid}/circuits/1/"

    def shown() -> str:
        text = text_of(client, cast.bert, address)
        return re.sub(r'nonce="[^"]+"|Token": "\w+"|Token" value="\w+"', "", text[text.index("<h1>") :])

    for stale in (True, False):
        with transaction.atomic():
            if stale:
                monkeypatch.delitem(FLOWN, part)
            fragments.clear()
            before = shown()
            CHANGES[part](cast)
            seen = shown()
            fragments.clear()
            assert shown() != before, "the change is to show"
            assert (seen == before) is stale
            transaction.set_rollback(True)
        monkeypatch.undo()


def test_a_correction_of_an_earlier_lesson_draws_the_later_one_anew(cast: Cast, client: Client) -> None:
    lesson = fly(cast, LOW_AND_LONG)
    before = flown.circuit_fragment(lesson, 1).value
    fly(cast, LOW_AND_LONG, days_ago=1)
    assert flown.circuit_fragment(lesson, 1).value != before


def test_a_kept_page_shows_what_has_changed_about_student_runway_and_units(cast: Cast, client: Client) -> None:
    lesson = fly(cast, LOW_AND_LONG)
    for address in (f"/lessons/{lesson.uid}/circuits/1/", f"/lessons/{lesson.uid}/circuits/"):
        for change, said in (
            (lambda: Person.objects.filter(pk=cast.dora.pk).update(family_name="Renamed"), "Dora Renamed"),
            (lambda: Runway.objects.filter(pk=cast.runway.pk).update(designator="19"), "Runway 19"),
            (lambda: School.objects.update(speed_unit="km/h"), "km/h"),
        ):
            before = text_of(client, cast.bert, address)
            assert said not in before
            change()
            assert said in text_of(client, cast.bert, address)
        Person.objects.filter(pk=cast.dora.pk).update(family_name="Example")
        Runway.objects.filter(pk=cast.runway.pk).update(designator="18")
        School.objects.update(speed_unit="kt")


def test_what_stands_before_the_runway_is_drawn_also_on_a_kept_page(cast: Cast, client: Client) -> None:
    lesson = fly(cast, LOW_AND_LONG)
    address = f"/lessons/{lesson.uid}/circuits/1/"
    assert "Poplars" not in text_of(client, cast.bert, address)
    # 900 ft before the threshold: 1,400 ft before the point aimed at, a sixth of 3,000 ft past it.
    Obstacle.objects.create(runway=cast.runway, name="Poplars", before_ft=900, side_ft=0, height_ft=60)
    assert "Poplars" in text_of(client, cast.bert, address)


def test_the_record_readiness_and_own_progress_lead_to_the_circuit(cast: Cast, client: Client) -> None:
    lesson = fly(cast, {**LOW_AND_LONG, "approach.level": "practice", "approach.fault.final-high": "on"})
    circuit = f'href="/lessons/{lesson.uid}/circuits/1/"'
    assert circuit in text_of(client, cast.dora, f"/lessons/{lesson.uid}/")
    readiness = text_of(client, cast.amelia, f"/students/{cast.enrolment.uid}/")
    reasons = readiness.partition("<h2>Open</h2>")[2].partition("<h2>The last")[0]
    assert circuit in reasons
    assert f'href="/lessons/{lesson.uid}/circuits/"' in text_of(client, cast.dora, "/me/")


@pytest.mark.parametrize("circuits", [1, 22])
def test_the_queries_of_the_first_look_do_not_grow_with_the_circuits(
    cast: Cast, client: Client, django_assert_num_queries: Callable[..., Any], circuits: int
) -> None:
    fly(cast, *[LOW_AND_LONG] * circuits, days_ago=2)
    lesson = fly(cast, *[LOW_AND_LONG] * circuits)
    for person, address, queries in (
        (cast.bert, f"/lessons/{lesson.uid}/circuits/1/", 14),
        (cast.bert, f"/lessons/{lesson.uid}/circuits/", 12),
    ):
        text_of(client, person, address)
        fragments.clear()
        with django_assert_num_queries(queries):
            assert client.get(address).status_code == 200


def test_a_number_that_does_not_count_yet_says_from_which_unit(cast: Cast, client: Client) -> None:
    """Unit 8 of the invented syllabus: the round-out counts from unit 10, the touchdown already."""
    lesson = fly(cast, LOW_AND_LONG | {"landing.measure.round-out.height": "20"})
    page = BeautifulSoup(text_of(client, cast.dora, f"/lessons/{lesson.uid}/circuits/1/"), "html.parser")
    rows = {row.th.text: row for row in page.select("table.flown-table tbody tr")}
    assert "counts from unit 10" in rows["13 The round-out"].text
    assert "counts from" not in rows["12 Final"].text
    later = page.select("table.flown-table td:-soup-contains('counts from unit')")
    assert len(later) == len(FlownLesson(lesson).counts_from(1)) > 0


def test_the_overlay_of_a_lesson_has_a_plan(cast: Cast, client: Client) -> None:
    lesson = fly(cast, {FINAL_HEIGHT: "100", TOUCHDOWN: "500"}, {FINAL_HEIGHT: "180"})
    text = text_of(client, cast.dora, f"/lessons/{lesson.uid}/circuits/")
    assert text.count(": 1 of 2</text>") == 2  # in the plan, and in that of a telephone
    assert "says in how many of those noted it was" in text
