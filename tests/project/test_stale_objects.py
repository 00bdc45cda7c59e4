"""Two requests at once: the second acts on what it read before the first had written, and is refused.

The stale object is what the second request holds; the locks that make it wait are tried in test_signing_at_once.
"""

from datetime import timedelta
from functools import partial

import pytest
from django.test import Client

from grading.actions import corrections, discarding, training, withdrawals
from grading.actions import endorsements as endorsing
from grading.actions import erasure as erasing
from grading.exchange import receiving
from grading.models import Erasure
from lessons import publishing
from lessons.models import Enrolment, Lesson, SyllabusDraft
from school.errors import Refusal
from school.models import JournalEntry, Role
from tests.cast import SECRET, Cast
from tests.factories import begin_lesson, fly_lesson, record_entries, sign_lesson


def test_no_lesson_begins_after_the_training_was_ended(cast: Cast) -> None:
    stale = Enrolment.objects.get(pk=cast.enrolment.pk)
    day = cast.today - timedelta(days=1)
    training.end_training(enrolment=cast.enrolment, on=day, end="terminated", by=cast.frida, at=cast.at())
    assert stale.ended_on is None
    with pytest.raises(Refusal, match="left this syllabus"):
        begin_lesson(cast, enrolment=stale)
    assert not Lesson.objects.exists()


def test_a_lesson_signed_meanwhile_is_not_discarded(cast: Cast) -> None:
    lesson = fly_lesson(cast)
    stale = Lesson.objects.get(pk=lesson.pk)
    stale.signed_at = None
    with pytest.raises(Refusal, match="final and cannot be discarded"):
        discarding.discard_lesson(lesson=stale, reason="Twice", by=cast.bert, at=cast.at())
    assert Lesson.objects.filter(pk=lesson.pk).exists()


def test_a_lesson_is_corrected_once_and_signed_once(cast: Cast) -> None:
    lesson = fly_lesson(cast)
    corrections.begin_correction(lesson=lesson, reason="The wind.", by=cast.bert, at=cast.at())
    with pytest.raises(Refusal, match="already been begun"):
        corrections.begin_correction(lesson=lesson, reason="The wind.", by=cast.bert, at=cast.at())
    stale = Lesson.objects.get(pk=lesson.pk)
    stale.signed_at = None
    with pytest.raises(Refusal, match="signed meanwhile"):
        sign_lesson(cast, stale)
    with pytest.raises(Refusal, match="signed meanwhile"):
        record_entries(cast, stale, **{"lesson.remarks": "later"})


def test_an_endorsement_is_withdrawn_once(cast: Cast) -> None:
    fly_lesson(cast)
    given = endorsing.endorse_for_tailwheel(
        enrolment=cast.enrolment, text="Proficient.", on=cast.today, secret=SECRET, by=cast.bert, at=cast.at()
    )
    withdrawals.withdraw_endorsement(endorsement=given, reason="A mistake.", by=cast.bert, at=cast.at())
    given.withdrawn_at = None
    with pytest.raises(Refusal, match="already withdrawn"):
        withdrawals.withdraw_endorsement(endorsement=given, reason="A mistake.", by=cast.amelia, at=cast.at())


def test_a_file_is_thrown_away_once(cast: Cast, client: Client) -> None:
    upload = receiving.save_upload(kind="aircraft", name="a.csv", content=b"x", by=cast.frida, at=cast.at())
    receiving.discard_upload(upload=upload, by=cast.frida, at=cast.at())
    upload.pk = 1
    with pytest.raises(Refusal, match="has since been"):
        receiving.discard_upload(upload=upload, by=cast.frida, at=cast.at())
    assert JournalEntry.objects.filter(what="upload discarded").count() == 1


def test_a_draft_changed_or_gone_meanwhile_is_not_written_over(cast: Cast) -> None:
    draft = publishing.begin_draft(syllabus=cast.enrolment.syllabus, by=cast.amelia, at=cast.at())
    stale = SyllabusDraft.objects.get(pk=draft.pk)
    changed, read = draft.content | {"title": "Another title"}, draft.edited_at.isoformat()
    publishing.save_draft(draft=draft, content=changed, read=read, by=cast.amelia, at=cast.at(13))
    with pytest.raises(Refusal, match="has since changed this draft"):
        publishing.save_draft(draft=stale, content=draft.content, read=read, by=cast.amelia, at=cast.at(14))
    assert SyllabusDraft.objects.get().content["title"] == "Another title"
    publishing.publish_draft(draft=stale, reason="Another title", by=cast.amelia, at=cast.at(15))
    for again in (partial(publishing.publish_draft, reason="Twice"), publishing.discard_draft):
        with pytest.raises(Refusal, match="has since been published or discarded"):
            again(draft=stale, by=cast.amelia, at=cast.at(16))


def test_one_person_in_two_roles_is_one_person_to_an_erasure(cast: Cast) -> None:
    cast.amelia.roles = [Role.CHIEF, Role.INSTRUCTOR, Role.ADMIN]
    cast.amelia.save()
    proposed = Erasure.objects.create(
        enrolment_uid=cast.enrolment.uid, person_id=cast.dora.pk, reference=cast.dora.reference, reason="Due.",
        proposed_at=cast.at(), proposed_by=cast.amelia,
    )  # fmt: skip
    with pytest.raises(Refusal, match="another person must confirm"):
        erasing.confirm_erasure(erasure=proposed, secret=SECRET, by=cast.amelia, at=cast.at())
    erasing.withdraw_erasure(erasure=proposed, by=cast.frida, at=cast.at())
    with pytest.raises(Refusal, match="no longer open"):
        erasing.confirm_erasure(erasure=proposed, secret=SECRET, by=cast.frida, at=cast.at())
    assert Enrolment.objects.filter(pk=cast.enrolment.pk).exists()
