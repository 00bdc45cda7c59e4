"""Days, midnights and clocks that jump. Moments are kept in UTC and records ordered by number, never by a clock.

The school of the cast keeps the days of UTC; other zones are tried in tests/grading/reading/test_school_days.py. Block
times are typed in UTC, so summer time changes none of them; the days on which Europe and the United States change their
clocks are tried all the same (Directive 2000/84/EC, article 2: last Sunday of March and October at 01:00 UTC;
15 U.S.C. 260a: second Sunday of March, first Sunday of November; both from memory).
"""

import json
import uuid
from datetime import UTC, date, datetime, timedelta

import pytest
from django.test import Client

from grading.actions import recording, signing
from grading.evidence.audit.check import audit_records
from grading.models import DeviceEvent, Seal
from lessons import actions
from lessons.models import Enrolment, Lesson
from school.models import JournalEntry
from tests.cast import SECRET, Cast
from tests.database_guards import guards_off
from tests.factories import begin_lesson, record_circuit, record_entries, sign_lesson


def test_a_lesson_over_midnight_utc_ends_on_the_next_day(cast: Cast) -> None:
    lesson = begin_lesson(cast)
    record_entries(
        cast, lesson, **{"lesson.off_blocks": "23:30", "lesson.on_blocks": "00:25", "lesson.dual_minutes": "0:55"}
    )
    record_circuit(cast, lesson, 1)
    sign_lesson(cast, lesson)
    assert lesson.off_blocks is not None
    assert lesson.on_blocks is not None
    assert (lesson.on_blocks - lesson.off_blocks) == timedelta(minutes=55)
    assert (lesson.off_blocks.date(), lesson.on_blocks.date()) == (lesson.on, lesson.on + timedelta(days=1))
    assert audit_records().findings == []


@pytest.mark.parametrize(
    "on", [date(2026, 3, 29), date(2026, 10, 25), date(2027, 3, 14), date(2026, 11, 1), date(2028, 2, 29)]
)
def test_days_on_which_clocks_change_have_24_hours_here(cast: Cast, on: date) -> None:
    at = datetime(on.year, on.month, on.day, 12, tzinfo=UTC)
    with guards_off():
        Enrolment.objects.filter(pk=cast.enrolment.pk).update(enrolled_on=on - timedelta(days=30))
    cast.enrolment.refresh_from_db()
    lesson = actions.begin_lesson(
        enrolment=cast.enrolment, unit=cast.units[8], on=on, instructor=cast.bert, by=cast.bert, at=at,
        aircraft=cast.aircraft,
    )  # fmt: skip
    entries = {"lesson.off_blocks": "00:30", "lesson.on_blocks": "03:30"}
    recording.record_entries(lesson=lesson, entries=entries, by=cast.bert, at=at)
    lesson.refresh_from_db()
    assert lesson.off_blocks is not None
    assert lesson.on_blocks is not None
    assert lesson.on_blocks - lesson.off_blocks == timedelta(hours=3)


def test_a_server_clock_that_jumps_back_stops_nothing(cast: Cast) -> None:
    """The second lesson is signed three hours before the first, by the clock: number and chain know better.

    Within a day: a signature before the day of the lesson is a contradiction, which the database refuses.
    """
    lessons = []
    for _ in range(2):
        lesson = begin_lesson(cast)
        record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0"})
        record_circuit(cast, lesson, 1)
        lessons.append(lesson)
    for lesson, at in zip(lessons, (cast.at(15), cast.at(12)), strict=True):
        signing.sign_lesson(lesson=lesson, secret=SECRET, by=cast.bert, at=at)
    seals = list(Seal.objects.filter(kind=Seal.Kind.LESSON).order_by("number"))
    assert [seal.subject for seal in seals] == [lesson.uid for lesson in lessons]
    assert seals[0].sealed_at > seals[1].sealed_at
    assert audit_records().findings == []
    entries = JournalEntry.objects.filter(what="lesson signed").order_by("pk")
    assert [entry.subject_id for entry in entries] == [lesson.pk for lesson in lessons]


@pytest.mark.parametrize("days", [-4000, -3, 0, 3, 4000])
def test_a_tablet_whose_clock_is_wrong_is_taken_by_the_clock_of_the_school(
    cast: Cast, client: Client, days: int
) -> None:
    client.force_login(cast.bert)
    lesson, now = uuid.uuid4(), datetime.now(UTC)
    wrong = now + timedelta(days=days)
    start = {"enrolment": str(cast.enrolment.uid), "unit": cast.units[8].pk, "aircraft": cast.aircraft.pk}
    events = [
        {"id": str(uuid.uuid4()), "kind": "begin", "seq": 1, "on": str(wrong.date()), **start},
        {"id": str(uuid.uuid4()), "kind": "entry", "seq": 2, "field": "lesson.remarks", "value": "Seen"},
    ]
    body = {"person": cast.bert.pk, "device": str(uuid.uuid4()), "events": [
        event | {"at": int(wrong.timestamp() * 1000)} for event in events
    ]}  # fmt: skip
    answer = client.post(f"/lessons/{lesson}/entries/batch/", json.dumps(body), content_type="application/json").json()
    kept = DeviceEvent.objects.order_by("pk")
    assert all(abs(row.at - now) < timedelta(minutes=5) for row in kept)
    if days == -4000:  # before the student was enrolled: refused with the reason, and the tablet is told
        assert "was enrolled on" in answer["results"][0]["said"]
        return
    assert [row["outcome"] for row in answer["results"]] == ["applied", "applied"]
    assert Lesson.objects.get(uid=lesson).on == min(wrong, now).date()
