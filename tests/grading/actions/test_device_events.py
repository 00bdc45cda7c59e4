"""What a tablet sends is taken once, in order, by the school's clock; what cannot be taken is kept with the reason."""

import json
import uuid
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from bs4 import BeautifulSoup
from django.db import DatabaseError, connection, transaction
from django.test import Client

from grading.actions import recording
from grading.models import DeviceEvent, Tap
from lessons.models import Circuit, Lesson, Syllabus
from school.errors import Refusal
from tests.cast import Cast
from tests.factories import begin_lesson, fly_lesson, record_circuit, record_entries, sign_lesson

DEVICE = str(uuid.UUID(int=7))
LANDING = "circuit.1.landing.level"


def entry_event(field: str, value: str, seq: int = 1, **more: Any) -> dict[str, Any]:
    return {"id": str(uuid.uuid4()), "kind": "entry", "seq": seq, "field": field, "value": value, **more}


def begin_event(cast: Cast, on: str, unit: int = 8) -> dict[str, Any]:
    start = {"enrolment": str(cast.enrolment.uid), "unit": cast.units[unit].pk, "on": on, "aircraft": cast.aircraft.pk}
    return {"id": str(uuid.uuid4()), "kind": "begin", "seq": 1, **start}


@pytest.fixture
def bert(cast: Cast, client: Client) -> Client:
    client.force_login(cast.bert)
    return client


def send_batch(client: Client, cast: Cast, lesson: Any, *events: dict[str, Any], status: int = 200, **more: Any) -> Any:
    body = {"person": cast.bert.pk, "device": DEVICE, "events": list(events), **more}
    reply = client.post(f"/lessons/{lesson}/entries/batch/", json.dumps(body), content_type="application/json")
    assert reply.status_code == status
    return reply.json()


def outcomes(answer: dict[str, Any]) -> list[str]:
    return [result["outcome"] for result in answer["results"]]


def test_events_are_taken_once_in_their_order(cast: Cast, bert: Client) -> None:
    lesson = begin_lesson(cast)
    events = [
        entry_event(LANDING, "practice", 1),
        entry_event(LANDING, "perform", 2),
        entry_event("circuit.1.closed", "on", 3),
    ]
    assert outcomes(send_batch(bert, cast, lesson.uid, *events)) == ["applied"] * 3
    again = send_batch(bert, cast, lesson.uid, *events, entry_event("circuit.2.landing.level", "explain", 4))
    assert outcomes(again) == ["known", "known", "known", "applied"]
    assert list(Tap.objects.order_by("id").values_list("after", flat=True)) == ["practice", "perform", "on", "explain"]


def test_an_event_that_changed_nothing_is_not_applied_later(cast: Cast, bert: Client) -> None:
    """Its answer was lost, and the field changed on another device meanwhile: sent again, it must not undo that."""
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{LANDING: "perform"})
    same = entry_event(LANDING, "perform")
    send_batch(bert, cast, lesson.uid, same)
    record_entries(cast, lesson, **{LANDING: "practice"})
    assert outcomes(send_batch(bert, cast, lesson.uid, same)) == ["known"]
    assert Tap.objects.order_by("id").last().after == "practice"


def test_one_refusal_does_not_hold_up_those_behind_it(cast: Cast, bert: Client) -> None:
    lesson = begin_lesson(cast)
    answer = send_batch(
        bert,
        cast,
        lesson.uid,
        entry_event("lesson.off_blocks", "29:99", 1),
        entry_event("circuit.9.landing.level", "perform", 2),
        entry_event("no-such-field", "x" * 9000, 3),
        entry_event("lesson.remarks", "half \ud83d and \x00", 4),
        entry_event(LANDING, "perform", 5),
    )
    assert outcomes(answer) == ["refused", "refused", "refused", "applied", "applied"]
    assert "is not a time" in answer["results"][0]["said"]
    assert DeviceEvent.objects.filter(outcome="refused").count() == 3
    assert outcomes(send_batch(bert, cast, lesson.uid, entry_event("x" * 500, "1", 6))) == ["refused"]


def test_undo_names_the_tap_it_takes_back(cast: Cast, bert: Client) -> None:
    lesson = begin_lesson(cast)
    first, second = entry_event(LANDING, "perform", 1), entry_event("circuit.1.takeoff.level", "explain", 2)
    back = {"id": str(uuid.uuid4()), "kind": "undo", "seq": 3, "of": first["id"], "field": LANDING, "value": ""}
    assert outcomes(send_batch(bert, cast, lesson.uid, first, second, back)) == ["applied"] * 3
    assert outcomes(send_batch(bert, cast, lesson.uid, back)) == ["known"]
    undone = Tap.objects.get(undoes__isnull=False)
    assert (str(undone.undoes.uid), undone.after, Tap.objects.count()) == (first["id"], "", 3)


def test_undo_does_not_take_back_what_another_device_changed_since(cast: Cast, bert: Client) -> None:
    lesson = begin_lesson(cast)
    mine = entry_event(LANDING, "perform", 1)
    send_batch(bert, cast, lesson.uid, mine)
    record_entries(cast, lesson, **{LANDING: "practice"})
    back = {"id": str(uuid.uuid4()), "kind": "undo", "seq": 2, "of": mine["id"], "field": LANDING, "value": ""}
    answer = send_batch(bert, cast, lesson.uid, back)
    assert outcomes(answer) == ["refused"]
    assert "changed afterwards by Bert Example" in answer["results"][0]["said"]
    assert answer["results"][0]["other"]["value"] == "practice"


def test_another_device_is_told_what_changed_and_by_whom(cast: Cast, bert: Client) -> None:
    lesson = begin_lesson(cast)
    first = send_batch(bert, cast, lesson.uid, entry_event(LANDING, "practice", 1), show="changed", circuit=1)
    record_entries(cast, lesson, **{LANDING: "perform", "lesson.remarks": "Long."})
    answer = send_batch(
        bert,
        cast,
        lesson.uid,
        entry_event(LANDING, "explain", 2, at=1_000),
        since=first["since"],
        sent=1_000,
        show="changed",
        circuit=1,
    )
    assert [(row["field"], row["value"], row["by"]) for row in answer["changes"]] == [
        (LANDING, "perform", "Bert Example"),
        ("lesson.remarks", "Long.", "Bert Example"),
    ]
    assert answer["results"][0]["other"]["value"] == "perform"
    page = BeautifulSoup(answer["html"], "html.parser")
    assert page.find(id="l-remarks").text == "Long."
    assert send_batch(bert, cast, lesson.uid, since=answer["since"])["changes"] == []


def test_a_lesson_signed_meanwhile_takes_nothing_and_keeps_what_came(cast: Cast, bert: Client) -> None:
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0"})
    record_circuit(cast, lesson, 1)
    sign_lesson(cast, lesson)
    late = entry_event("lesson.remarks", "Long landing.")
    answer = send_batch(bert, cast, lesson.uid, late, show="changed")
    assert (answer["state"], answer["html"], outcomes(answer)) == ("signed", "", ["refused"])
    assert "signed meanwhile and is final" in answer["results"][0]["said"]
    lesson.refresh_from_db()
    kept = DeviceEvent.objects.get()
    assert (lesson.remarks, kept.value, kept.lesson) == ("", "Long landing.", lesson)


def test_a_lesson_is_begun_once_by_its_first_event(cast: Cast, bert: Client) -> None:
    uid, start = uuid.uuid4(), begin_event(cast, str(cast.today))
    for _ in range(2):
        send_batch(bert, cast, uid, start, entry_event(LANDING, "perform", 2))
    lesson = Lesson.objects.get(uid=uid)
    assert (lesson.number, lesson.instructor, lesson.on, Tap.objects.count()) == (1, cast.bert, cast.today, 1)


def test_a_lesson_that_was_discarded_is_not_begun_again(cast: Cast, bert: Client) -> None:
    uid, start = uuid.uuid4(), begin_event(cast, str(cast.today))
    send_batch(bert, cast, uid, start)
    bert.post(f"/lessons/{uid}/discard/", {"reason": "Rain"})
    answer = send_batch(bert, cast, uid, start, entry_event(LANDING, "perform", 2))
    assert (answer["state"], outcomes(answer)) == ("gone", ["known", "refused"])
    assert not Lesson.objects.filter(uid=uid).exists()


def test_an_entry_that_comes_before_its_beginning_waits_and_is_applied_after_it(cast: Cast, bert: Client) -> None:
    uid, start = uuid.uuid4(), begin_event(cast, str(cast.today))
    early = [entry_event(LANDING, "practice", 2), entry_event(LANDING, "perform", 3)]
    answer = send_batch(bert, cast, uid, *early)
    assert (answer["state"], outcomes(answer)) == ("waits", ["waits", "waits"])
    assert "has not reached the school yet" in answer["results"][0]["said"]
    assert not DeviceEvent.objects.exists()
    # In whatever order the tablet's storage gives them back.
    answer = send_batch(bert, cast, uid, early[1], early[0], start)
    assert (answer["state"], outcomes(answer)) == ("writing", ["applied"] * 3)
    assert list(Tap.objects.order_by("pk").values_list("after", flat=True)) == ["practice", "perform"]


def test_an_entry_of_a_lesson_begun_at_the_school_and_discarded_does_not_wait(cast: Cast, bert: Client) -> None:
    lesson = begin_lesson(cast)
    bert.post(f"/lessons/{lesson.uid}/discard/", {"reason": "Rain"})
    answer = send_batch(bert, cast, lesson.uid, entry_event(LANDING, "perform", 2))
    assert (answer["state"], outcomes(answer)) == ("gone", ["refused"])


def test_a_unit_changed_meanwhile_keeps_the_taps_with_the_reason(cast: Cast, bert: Client) -> None:
    """The student was moved to another syllabus while the tablet was away."""
    uid, start = uuid.uuid4(), begin_event(cast, str(cast.today))
    cast.enrolment.syllabus = Syllabus.objects.create(
        code="other", issue=1, title="Another", scale=cast.enrolment.syllabus.scale
    )
    cast.enrolment.save()
    answer = send_batch(bert, cast, uid, start, entry_event(LANDING, "perform", 2))
    assert outcomes(answer) == ["refused", "refused"]
    assert "is not in the syllabus of Dora Example" in answer["results"][0]["said"]
    assert list(DeviceEvent.objects.order_by("id").values_list("value", flat=True)) == ["", "perform"]


def test_the_clock_of_the_school_rules(cast: Cast, bert: Client) -> None:
    uid, wrong = uuid.uuid4(), datetime(2031, 3, 1, tzinfo=UTC)
    start = begin_event(cast, "2031-03-01") | {"at": int(wrong.timestamp() * 1000)}
    before = datetime.now(UTC)
    answer = send_batch(bert, cast, uid, start, entry_event(LANDING, "perform", 2, at=10**18))
    assert "The clock of the tablet said 1 Mar 2031" in answer["results"][0]["said"]
    first, second = DeviceEvent.objects.order_by("id")
    assert (first.device_time, second.device_time) == (wrong, None)
    assert Lesson.objects.get().on - before.date() <= timedelta(days=1)
    assert before <= Tap.objects.get().at <= datetime.now(UTC)


def test_somebody_else_on_the_tablet_sends_nothing_of_another(cast: Cast, client: Client) -> None:
    lesson = begin_lesson(cast)
    client.force_login(cast.cleo)
    send_batch(client, cast, lesson.uid, entry_event(LANDING, "perform"), status=409)
    assert not DeviceEvent.objects.exists()
    body = {"person": cast.cleo.pk, "device": DEVICE, "events": [entry_event(LANDING, "perform")]}
    answer = client.post(
        f"/lessons/{lesson.uid}/entries/batch/", json.dumps(body), content_type="application/json"
    ).json()
    assert (answer["state"], outcomes(answer)) == ("gone", ["refused"])
    assert "Only the instructor who gives this lesson" in answer["results"][0]["said"]
    client.force_login(cast.frida)
    body |= {"person": cast.frida.pk, "events": [begin_event(cast, str(cast.today))]}
    reply = client.post(f"/lessons/{uuid.uuid4()}/entries/batch/", json.dumps(body), content_type="application/json")
    assert (reply.status_code, "Only an instructor" in reply.json()["sentence"]) == (403, True)
    assert not DeviceEvent.objects.filter(person=cast.frida).exists()


def test_what_a_former_instructor_still_holds_is_kept_as_refused(cast: Cast, bert: Client) -> None:
    lesson = begin_lesson(cast)
    cast.bert.roles = ["student"]
    cast.bert.save()
    answer = send_batch(bert, cast, lesson.uid, entry_event(LANDING, "perform"))
    assert outcomes(answer) == ["refused"]
    assert DeviceEvent.objects.get().value == "perform"


def test_the_id_of_somebody_elses_event_tells_nothing_and_writes_nothing(cast: Cast, bert: Client) -> None:
    lesson, other = begin_lesson(cast), begin_lesson(cast, instructor=cast.cleo)
    first = entry_event("lesson.remarks", "What Bert wrote.")
    send_batch(bert, cast, lesson.uid, first)
    cleo = Client()
    cleo.force_login(cast.cleo)
    body = {"person": cast.cleo.pk, "device": DEVICE, "events": [first | {"value": "x"}]}
    reply = cleo.post(f"/lessons/{other.uid}/entries/batch/", json.dumps(body), content_type="application/json")
    (result,) = reply.json()["results"]
    assert "An entry of somebody else has this id" in result["said"]
    assert "What Bert wrote" not in reply.text
    assert Tap.objects.count() == DeviceEvent.objects.count() == 1
    tap = Tap.objects.get()
    with pytest.raises(Refusal, match="has the id of an entry in another lesson"), transaction.atomic():
        recording.apply_tap(lesson=other, field="lesson.remarks", value="x", by=cast.cleo, at=cast.at(), uid=tap.uid)
    assert Tap.objects.get() == tap


@pytest.mark.parametrize("body", ["", "{", '{"person": "x"}', '{"person": 1, "device": "no", "events": []}'])
def test_what_cannot_be_read_is_said(cast: Cast, bert: Client, body: str) -> None:
    reply = bert.post(f"/lessons/{uuid.uuid4()}/entries/batch/", body, content_type="application/json")
    assert (reply.status_code, "could not read" in reply.json()["sentence"]) == (400, True)


def test_too_many_events_at_once_are_refused_together(cast: Cast, bert: Client) -> None:
    lesson = begin_lesson(cast)
    send_batch(bert, cast, lesson.uid, *[entry_event(LANDING, "perform", n) for n in range(51)], status=400)
    assert not DeviceEvent.objects.exists()


def execute_as_app(sql: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute("SET LOCAL ROLE record_app")
        cursor.execute(sql)


def test_the_application_cannot_change_what_a_tablet_sent(cast: Cast, bert: Client) -> None:
    lesson = begin_lesson(cast)
    send_batch(
        bert,
        cast,
        lesson.uid,
        entry_event("lesson.dual_minutes", "1.0"),
        *[
            entry_event(f"circuit.1.{p}.level", "perform", n)
            for n, p in enumerate(("takeoff", "downwind", "approach", "landing"), 2)
        ],
        entry_event("circuit.1.closed", "on", 6),
    )
    sign_lesson(cast, lesson)
    for sql in (
        "UPDATE grading_deviceevent SET value = 'x'",
        "DELETE FROM grading_deviceevent",
        "TRUNCATE grading_deviceevent",
    ):
        with pytest.raises(DatabaseError, match=r"final|denied"), transaction.atomic():
            execute_as_app(sql)


def test_a_blank_page_leaves_nothing_behind(cast: Cast, bert: Client) -> None:
    kept = bert.get("/tablet/offline/").json()
    assert [student["name"] for student in kept["students"]] == ["Dora Example", "Emil Example"]
    for unit in kept["students"][0]["units"]:
        page = bert.get(unit["url"])
        assert page.status_code == 200
        assert str(uuid.UUID(int=0)) in page.text
    assert not Lesson.objects.exists()
    begun = begin_lesson(cast)
    assert bert.get("/tablet/offline/").json()["lessons"][0]["url"] == f"/lessons/{begun.uid}/"


@pytest.mark.parametrize("lessons", [1, 3])
def test_what_is_kept_asks_as_many_queries_for_many_lessons(
    cast: Cast, bert: Client, django_assert_num_queries: Any, lessons: int
) -> None:
    for day in range(lessons):
        begin_lesson(cast, days_ago=day)
        fly_lesson(cast, days_ago=day)
    bert.get("/tablet/offline/")
    # One reads the school, for its zone, one the releases, one what expires of aircraft.
    with django_assert_num_queries(12):
        assert len(bert.get("/tablet/offline/").json()["lessons"]) >= lessons


@pytest.mark.parametrize("lessons", [1, 3])
def test_a_tap_asks_as_many_queries_in_a_long_lesson(
    cast: Cast, bert: Client, django_assert_num_queries: Any, lessons: int
) -> None:
    lesson = begin_lesson(cast)
    for number in range(1, lessons + 1):
        record_circuit(cast, lesson, number)
    field = f"circuit.{lessons + 1}.landing.level"
    shown = {"show": "changed", "circuit": lessons + 1}
    since = send_batch(bert, cast, lesson.uid, entry_event(field, "practice"), since=0, **shown)["since"]
    with django_assert_num_queries(23):
        send_batch(bert, cast, lesson.uid, entry_event(field, "perform", 2), since=since, **shown)


def test_the_frame_of_the_application_is_served_whole(client: Client, cast: Cast) -> None:
    worker = client.get("/service-worker.js")
    assert (worker["Content-Type"], worker["Service-Worker-Allowed"]) == ("text/javascript; charset=utf-8", "/")
    assert worker["Cache-Control"] == "no-cache"
    shell = json.loads(worker.text.split(";\n", 1)[0].removeprefix("const SHELL = "))
    imported = {"app.js", "store.js", "sender.js", "taps.js", "circuits.js", "notes.js", "keep.js", "tablet.js"}
    assert imported <= {name.rsplit("/", 1)[1] for name in shell["files"]}
    manifest = client.get("/manifest.webmanifest").json()
    assert (manifest["start_url"], manifest["display"]) == ("/", "standalone")
    assert {icon["sizes"] for icon in manifest["icons"]} == {"192x192", "512x512"}
    page = client.get("/tablet/")
    assert 'data-person=""' in page.text


def test_circuits_are_noted_for_the_tablet_by_the_names_of_their_inputs(cast: Cast, bert: Client) -> None:
    lesson = begin_lesson(cast)
    entries = {LANDING: "practice", "circuit.1.landing.fault.bounced": "on", "circuit.1.landing.criterion.held": "done"}
    entries |= {"circuit.1.approach.measure.final.speed": "81", "circuit.1.closed": "on"}
    record_entries(cast, lesson, **entries)
    page = BeautifulSoup(bert.get(f"/lessons/{lesson.uid}/").content, "html.parser")
    noted = json.loads(page.find(id="pad")["data-noted"])
    circuit = Circuit.objects.get()
    assert noted == entries | {"circuit.1.ending": circuit.ending, "circuit.1.landing_kind": circuit.landing_kind}
