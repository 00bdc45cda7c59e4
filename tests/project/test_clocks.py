"""Days, midnights and clocks that jump. Moments are kept in UTC and records ordered by number, never by a clock.

The school of the cast keeps the days of UTC; other zones are tried in tests/grading/reading/test_school_days.py. Block
times are typed in UTC, so summer time changes none of them; the days on which Europe and the United States change their
clocks are tried all the same (Directive 2000/84/EC, article 2: last Sunday of March and October at 01:00 UTC;
15 U.S.C. 260a: second Sunday of March, first Sunday of November; both from memory).
"""

import json
import uuid
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from django.test import Client

from grading.actions import recording, signing
from grading.evidence.audit.check import audit_records
from grading.models import DeviceEvent, Seal
from lessons import actions
from lessons.models import Enrolment, Lesson
from school.errors import Refusal
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


def written_lessons(cast: Cast) -> list[Lesson]:
    lessons = []
    for _ in range(2):
        lesson = begin_lesson(cast, 8, 9)
        record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0"})
        record_circuit(cast, lesson, 1)
        lessons.append(lesson)
    return lessons


def test_a_server_clock_that_jumped_back_seals_nothing(cast: Cast, settings: Any) -> None:
    settings.SEAL_WAITING_SECONDS = 300
    first, second = written_lessons(cast)
    signing.sign_lesson(lesson=first, secret=SECRET, by=cast.bert, at=cast.at(15, 3))
    with pytest.raises(Refusal, match="Have the clock checked"):
        signing.sign_lesson(lesson=second, secret=SECRET, by=cast.bert, at=cast.at(15, 6))
    second.refresh_from_db()
    assert second.signed_at is None
    assert Seal.objects.count() == 1
    # Who waited for the lock has read the clock a little earlier: that is no fault.
    waited = cast.at(15, 3) - timedelta(seconds=300)
    signing.sign_lesson(lesson=second, secret=SECRET, by=cast.bert, at=waited)
    assert audit_records().findings == []


def test_the_check_names_a_seal_dated_before_the_one_before_it(cast: Cast, settings: Any) -> None:
    """As an earlier version of the program, or a hand in the database, may have left it."""
    for lesson, days in zip(written_lessons(cast), (3, 6), strict=True):
        signing.sign_lesson(lesson=lesson, secret=SECRET, by=cast.bert, at=cast.at(15, days))
    assert audit_records().findings == []
    settings.SEAL_WAITING_SECONDS = 300
    sentences = [str(finding) for finding in audit_records().findings]
    assert sentences == ["seal 2: it is dated before an earlier seal of the chain"]


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
