"""Many sign at once: one chain, nothing lost, nobody waits for ever."""

from collections.abc import Callable, Iterator
from datetime import timedelta
from functools import partial
from itertools import islice
from typing import Any

from grading.actions import decisions, sheets, signing
from grading.evidence.audit.check import audit_records
from grading.evidence.chain import first_broken_link, iterate_chain
from grading.models import Seal, Signature
from lessons.models import Lesson
from school.models import JournalEntry
from tests.cast import SECRET, Cast
from tests.concurrency import run_concurrently
from tests.factories import begin_lesson, fly_lesson, record_circuit, record_entries
from tests.ready_student import make_limits, make_ready

CONNECTIONS, LESSONS = 20, 80  # four rounds of each connection


def unsigned_lessons(cast: Cast) -> Iterator[Lesson]:
    """Of two students, by turns."""
    for place in range(LESSONS):
        enrolment = (cast.enrolment, cast.other_enrolment)[place % 2]
        lesson = begin_lesson(cast, 8, place // 4, enrolment=enrolment)
        record_entries(cast, lesson, **{"lesson.dual_minutes": "0.5"})
        record_circuit(cast, lesson, 1)
        yield lesson


def test_eighty_lessons_over_twenty_connections(transactional_cast: Cast) -> None:
    cast = transactional_cast
    lessons = list(unsigned_lessons(cast))
    done = run_concurrently(
        lambda lesson: signing.sign_lesson(lesson=lesson, secret=SECRET, by=cast.bert, at=cast.at()),
        lessons, CONNECTIONS,
    )  # fmt: skip
    assert [sentence for sentence in done if isinstance(sentence, str)] == []
    assert list(Seal.objects.order_by("number").values_list("number", flat=True)) == list(range(1, LESSONS + 1))
    assert first_broken_link(iterate_chain()) is None
    assert {seal.subject for seal in iterate_chain()} == {lesson.uid for lesson in lessons}
    assert JournalEntry.objects.filter(what="lesson signed").count() == LESSONS
    assert audit_records().findings == []


def test_two_windows_sign_the_same_lesson_and_one_signature_stands(transactional_cast: Cast) -> None:
    cast = transactional_cast
    for lesson in islice(unsigned_lessons(cast), 5):
        done = run_concurrently(
            lambda found: signing.sign_lesson(lesson=found, secret=SECRET, by=cast.bert, at=cast.at()), [lesson] * 4, 4
        )
        assert sorted(isinstance(one, Signature) for one in done) == [False, False, False, True]
        assert all("signed meanwhile" in one for one in done if isinstance(one, str))
        assert Signature.objects.filter(lesson=lesson).count() == 1
        assert Seal.objects.filter(subject=lesson.uid).count() == 1
    assert audit_records().findings == []


def test_whoever_seals_about_one_student_waits_in_one_order(transactional_cast: Cast) -> None:
    """A release, signatures, sheets and set-asides at once: each locks the student, then the chain."""
    cast = transactional_cast
    make_ready(cast, but="second_instructor")
    own = [fly_lesson(cast, days_ago=day) for day in (1, 1, 0, 0)]
    waiting = [begin_lesson(cast, 8) for _ in range(4)]
    for lesson in waiting:
        record_entries(cast, lesson, **{"lesson.dual_minutes": "0.5"})
        record_circuit(cast, lesson, 1)
    now = cast.at(16)
    released = {
        "enrolment": cast.enrolment, "limits": make_limits(cast), "secret": SECRET, "endorsed_by": cast.bert,
        "reason": "Seen by me",
    }  # fmt: skip
    acts: list[Callable[[], Any]] = []
    for place in range(4):
        day = cast.today + timedelta(days=place)
        acts += [
            lambda place=place: signing.sign_lesson(lesson=waiting[place], secret=SECRET, by=cast.bert, at=now),
            lambda place=place: signing.acknowledge_lesson(lesson=own[place], secret=SECRET, by=cast.dora, at=now),
            partial(decisions.sign_release, **released, valid_from=day, valid_until=day, by=cast.amelia, at=now),
            lambda: sheets.print_progress_sheet(
                enrolment=cast.enrolment, on=cast.today, paper="A4", by=cast.frida, at=now
            ),
            lambda: decisions.set_aside_requirement(
                enrolment=cast.enrolment, requirement="second_instructor", reason="Seen", by=cast.amelia, at=now
            ),
        ]
    done = run_concurrently(lambda act: act(), acts, len(acts))
    assert [one for one in done if isinstance(one, str) and "is not open" not in one] == []
    assert sum(isinstance(one, str) for one in done) == 3  # the requirement is set aside once
    assert first_broken_link(iterate_chain()) is None
    assert audit_records().findings == []
