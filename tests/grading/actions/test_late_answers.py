"""Two tablets in one lesson: the older tap never replaces the newer one by itself, and the instructor is asked."""

import uuid
from datetime import UTC, datetime, timedelta

import pytest
from django.test import Client

from grading.actions import device_events, late_answers, recording
from grading.actions.device_events import EventResult, IncomingEvent
from grading.models import Attempt, DeviceEvent, Tap
from grading.reading.late_entries import open_questions
from lessons.models import Lesson
from school.errors import Refusal
from tests.cast import Cast
from tests.factories import begin_lesson, record_circuit, sign_lesson

LANDING = "circuit.1.landing.level"
FIRST, SECOND = uuid.UUID(int=1), uuid.UUID(int=2)
CLOCK = datetime(2031, 5, 1, 9, tzinfo=UTC)  # of a device that is years wrong
MINUTE = timedelta(minutes=1)


def send(
    cast: Cast, lesson: Lesson, *taps: tuple[str, str, timedelta], device: uuid.UUID, seen: int = 0, kind: str = "entry"
) -> list[EventResult]:
    """Send taps of (field, value, age); each device has a clock of its own."""
    sent = CLOCK if device == FIRST else CLOCK - timedelta(days=3000)
    start = DeviceEvent.objects.filter(device=device).count()
    events = [
        IncomingEvent(
            uid=uuid.uuid4(),
            kind=kind,
            sequence=start + number,
            device=device,
            device_time=sent - age,
            sent_time=sent,
            field=field,
            value=value,
            seen=seen,
        )
        for number, (field, value, age) in enumerate(taps, 1)
    ]
    return device_events.apply_events(lesson_uid=lesson.uid, events=events, by=cast.bert, at=datetime.now(UTC))


def outcomes(results: list[EventResult]) -> list[str]:
    return [result.event.outcome for result in results]


def landing_level() -> str:
    level: str = Attempt.objects.get(part="landing").level
    return level


def test_the_older_tap_waits_for_an_answer_and_the_newer_one_stands(cast: Cast) -> None:
    lesson = begin_lesson(cast)
    send(cast, lesson, (LANDING, "perform", MINUTE), device=SECOND)
    (result,) = send(cast, lesson, (LANDING, "practice", 20 * MINUTE), device=FIRST)
    assert result.event.outcome == "late"
    assert "“perform”, entered by Bert Example" in result.event.said
    assert landing_level() == "perform"
    (question,) = open_questions(lesson)
    assert (question.entry, question.value, question.standing_value) == (
        "Circuit 1 landing level",
        "practice",
        "perform",
    )


def test_the_newer_tap_replaces_an_older_one_though_it_arrives_later(cast: Cast) -> None:
    lesson = begin_lesson(cast)
    send(cast, lesson, (LANDING, "perform", 20 * MINUTE), device=SECOND)
    assert outcomes(send(cast, lesson, (LANDING, "practice", MINUTE), device=FIRST)) == ["applied"]
    assert landing_level() == "practice"
    assert open_questions(lesson) == []


def test_what_a_device_had_seen_or_made_itself_is_replaced_without_asking(cast: Cast) -> None:
    lesson = begin_lesson(cast)
    send(cast, lesson, (LANDING, "perform", MINUTE), device=SECOND)
    seen = Tap.objects.latest("pk").pk
    assert outcomes(send(cast, lesson, (LANDING, "practice", 20 * MINUTE), device=FIRST, seen=seen)) == ["applied"]
    mine = send(cast, lesson, (LANDING, "explain", 5 * MINUTE), (LANDING, "practice", 9 * MINUTE), device=FIRST)
    assert outcomes(mine) == ["applied", "applied"]


def test_what_both_say_or_closes_a_circuit_asks_nothing(cast: Cast) -> None:
    lesson = begin_lesson(cast)
    both = [(LANDING, "perform"), ("circuit.1.closed", "to_standard")]
    send(cast, lesson, *[(field, value, MINUTE) for field, value in both], device=SECOND)
    late = [(LANDING, "perform", 20 * MINUTE), ("circuit.1.closed", "on", 19 * MINUTE)]
    assert outcomes(send(cast, lesson, *late, device=FIRST)) == ["applied", "applied"]
    assert open_questions(lesson) == []


def test_a_clock_that_went_back_between_taps_proves_nothing_newer(cast: Cast) -> None:
    lesson = begin_lesson(cast)
    send(cast, lesson, (LANDING, "perform", 20 * MINUTE), device=SECOND)
    took = [("lesson.remarks", "Long.", timedelta(0)), (LANDING, "practice", MINUTE)]
    assert outcomes(send(cast, lesson, *took, device=FIRST)) == ["applied", "late"]
    assert landing_level() == "perform"


def test_an_ending_and_control_taken_are_one_entry(cast: Cast) -> None:
    lesson = begin_lesson(cast)
    send(cast, lesson, ("circuit.1.took_control", "landing", MINUTE), device=SECOND)
    assert outcomes(send(cast, lesson, ("circuit.1.ending", "full_stop", 20 * MINUTE), device=FIRST)) == ["late"]
    assert lesson.circuits.get().ending == "took_control"


@pytest.mark.parametrize(("take", "level"), [(True, "practice"), (False, "perform")])
def test_the_answer_decides_and_both_entries_stay_in_the_account(cast: Cast, take: bool, level: str) -> None:
    lesson = begin_lesson(cast)
    send(cast, lesson, (LANDING, "perform", MINUTE), device=SECOND)
    (late,) = send(cast, lesson, (LANDING, "practice", 20 * MINUTE), device=FIRST)
    event = late.event.uid
    late_answers.answer_late_entry(lesson=lesson, event_uid=event, take_late=take, by=cast.bert, at=datetime.now(UTC))
    assert landing_level() == level
    assert open_questions(lesson) == []
    assert [(row.value, row.outcome) for row in DeviceEvent.objects.order_by("pk")] == [
        ("perform", "applied"),
        ("practice", "late"),
        (level, "applied"),
    ]
    with pytest.raises(Refusal, match="answered already"):
        late_answers.answer_late_entry(
            lesson=lesson, event_uid=event, take_late=True, by=cast.bert, at=datetime.now(UTC)
        )


def test_a_question_ends_by_a_later_entry_or_by_undo_on_its_own_tablet(cast: Cast) -> None:
    lesson = begin_lesson(cast)
    send(cast, lesson, (LANDING, "perform", MINUTE), ("lesson.remarks", "Long.", MINUTE), device=SECOND)
    send(cast, lesson, (LANDING, "practice", 20 * MINUTE), ("lesson.remarks", "Short.", 19 * MINUTE), device=FIRST)
    assert len(open_questions(lesson)) == 2
    recording.apply_tap(lesson=lesson, field="lesson.remarks", value="Good.", by=cast.bert, at=datetime.now(UTC))
    assert [question.entry for question in open_questions(lesson)] == ["Circuit 1 landing level"]
    send(cast, lesson, (LANDING, "", timedelta(0)), device=FIRST, kind="undo", seen=10**9)
    assert open_questions(lesson) == []


def test_a_lesson_with_an_open_question_is_not_signed(cast: Cast) -> None:
    lesson = begin_lesson(cast)
    send(cast, lesson, ("lesson.dual_minutes", "1.0", MINUTE), device=SECOND)
    record_circuit(cast, lesson, 1)
    late = send(cast, lesson, ("lesson.dual_minutes", "2.0", 20 * MINUTE), device=FIRST)
    with pytest.raises(Refusal, match="Choose which entry is right: Dual"):
        sign_lesson(cast, lesson)
    late_answers.answer_late_entry(
        lesson=lesson, event_uid=late[0].event.uid, take_late=False, by=cast.bert, at=datetime.now(UTC)
    )
    sign_lesson(cast, lesson)
    lesson.refresh_from_db()
    assert lesson.is_signed


def test_the_page_asks_and_takes_the_answer_of_a_plain_form(cast: Cast, client: Client) -> None:
    lesson = begin_lesson(cast)
    client.force_login(cast.bert)
    send(cast, lesson, (LANDING, "perform", MINUTE), device=SECOND)
    (late,) = send(cast, lesson, (LANDING, "practice", 20 * MINUTE), device=FIRST)
    address = f"/lessons/{lesson.uid}/entries/late/"
    assert "on the other tablet" in client.get(f"/lessons/{lesson.uid}/").text
    assert client.post(address, {"event": "x", "keep": "late"}).status_code == 422
    assert client.post(address, {"event": str(uuid.uuid4()), "keep": "late"}).status_code == 422
    sent = {"event": str(late.event.uid), "keep": "late"}
    assert client.post(address, sent).status_code == 302
    assert landing_level() == "practice"
    assert "on the other tablet" not in client.get(f"/lessons/{lesson.uid}/").text
