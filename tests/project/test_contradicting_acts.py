"""Two acts that contradict each other, at one moment: one of the two orders comes about, never both, never neither.

Each pair begins at one barrier, on connections of their own, some times over.
"""

from typing import Any

from grading.actions import corrections, decisions, discarding, signing, training
from grading.models import Release, Signature
from lessons import moving, publishing
from lessons.models import Lesson
from school.models import JournalEntry
from tests.cast import SECRET, Cast
from tests.concurrency import REPEATS, Act, records_are_sound, refusals, run_together
from tests.factories import begin_lesson, fly_lesson, record_circuit, record_entries
from tests.ready_student import make_limits, make_ready


def lesson_to_sign(cast: Cast, **who: Any) -> Lesson:
    lesson = begin_lesson(cast, 8, **who)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "0.5"})
    record_circuit(cast, lesson, 1)
    return lesson


def signing_act(cast: Cast, lesson: Lesson) -> Act:
    return lambda: signing.sign_lesson(lesson=lesson, secret=SECRET, by=cast.bert, at=cast.at())


def release_act(cast: Cast) -> Act:
    asked = {
        "enrolment": cast.enrolment, "limits": make_limits(cast), "valid_from": cast.today, "secret": SECRET,
        "valid_until": cast.today, "endorsed_by": cast.bert, "reason": "Seen by me",
    }  # fmt: skip
    return lambda: decisions.sign_release(**asked, by=cast.amelia, at=cast.at(16))


def test_signing_against_discarding(transactional_cast: Cast) -> None:
    cast = transactional_cast
    for _ in range(REPEATS):
        lesson = lesson_to_sign(cast)
        done = run_together(
            signing_act(cast, lesson),
            lambda lesson=lesson: discarding.discard_lesson(lesson=lesson, reason="Twice", by=cast.bert, at=cast.at()),
        )
        stands = Lesson.objects.filter(pk=lesson.pk).first()
        assert len(refusals(done)) == 1
        assert Signature.objects.filter(lesson__uid=lesson.uid).count() == (1 if stands else 0)
        assert stands is None or stands.is_signed
    assert records_are_sound()


def test_tapping_against_discarding(transactional_cast: Cast) -> None:
    cast = transactional_cast
    for _ in range(REPEATS):
        lesson = begin_lesson(cast)
        done = run_together(
            lambda lesson=lesson: record_entries(cast, lesson, **{"circuit.1.landing.level": "perform"}),
            lambda lesson=lesson: discarding.discard_lesson(lesson=lesson, reason="Twice", by=cast.bert, at=cast.at()),
        )
        assert not Lesson.objects.filter(pk=lesson.pk).exists()
        assert all("has since been discarded" in sentence for sentence in refusals(done))


def test_correcting_against_correcting(transactional_cast: Cast) -> None:
    cast = transactional_cast
    for _ in range(REPEATS):
        lesson = fly_lesson(cast)
        again: Act = lambda lesson=lesson: corrections.begin_correction(  # noqa: E731 - twice the same act
            lesson=lesson, reason="Wrong day", by=cast.bert, at=cast.at()
        )
        assert refusals(run_together(again, again)) == ["A correction of this lesson has already been begun."]
        assert Lesson.objects.filter(supersedes=lesson).count() == 1


def test_ending_training_against_signing_and_beginning(transactional_cast: Cast) -> None:
    cast = transactional_cast
    lesson = lesson_to_sign(cast)
    done = run_together(
        signing_act(cast, lesson),
        lambda: training.end_training(
            enrolment=cast.enrolment, on=cast.today, end="completed", by=cast.frida, at=cast.at()
        ),
    )
    cast.enrolment.refresh_from_db()
    assert Signature.objects.filter(lesson=lesson).count() == 1  # a lesson being written is signed in either order
    assert bool(refusals(done)) == (cast.enrolment.ended_on is None)
    assert records_are_sound()


def test_moving_a_student_against_signing(transactional_cast: Cast) -> None:
    cast = transactional_cast
    draft = publishing.begin_draft(syllabus=cast.enrolment.syllabus, by=cast.amelia, at=cast.at())
    publishing.save_draft(
        draft=draft, content=draft.content | {"title": "Another title"}, read=draft.edited_at.isoformat(),
        by=cast.amelia, at=cast.at(),
    )  # fmt: skip
    newer = publishing.publish_draft(draft=draft, reason="Another title", by=cast.amelia, at=cast.at())
    lesson = lesson_to_sign(cast)
    mapping = dict.fromkeys(moving.units_to_map(cast.enrolment), None) | {lesson.unit: None}
    done = run_together(
        signing_act(cast, lesson),
        lambda: moving.move_enrolment(
            enrolment=cast.enrolment, syllabus=newer, mapping=mapping, by=cast.amelia, at=cast.at()
        ),
    )
    cast.enrolment.refresh_from_db()
    assert Signature.objects.filter(lesson=lesson).count() == 1
    assert bool(refusals(done)) == (cast.enrolment.syllabus_id != newer.pk)
    assert records_are_sound()


def test_releasing_twice_and_withdrawing_at_once(transactional_cast: Cast) -> None:
    cast = transactional_cast
    make_ready(cast)
    assert ["already" in one for one in refusals(run_together(release_act(cast), release_act(cast)))] == [True]
    first = Release.objects.get(enrolment=cast.enrolment)
    again: Act = lambda: decisions.withdraw_release(  # noqa: E731 - twice the same act
        release=first, reason="Wind", by=cast.amelia, at=cast.at(17)
    )
    done = run_together(again, again, release_act(cast))
    assert "This release has already been withdrawn." in refusals(done)
    assert Release.objects.filter(enrolment=cast.enrolment, withdrawn_at=None).count() == 2 - len(refusals(done))
    assert JournalEntry.objects.filter(what="release withdrawn").count() == 1
    assert records_are_sound()
