"""What a seal needs beside its record: the journal, the proof of its signature, entries that lead to what stands."""

from collections.abc import Callable
from typing import Any

import pytest
from django.conf import settings
from django.test import override_settings

from grading.actions import corrections, recording, signing
from grading.evidence import chain, lesson_payload, register
from grading.evidence.audit.check import audit_records
from grading.models import Attempt, FaultSeen, Grade, Measure, Seal, Signature, Tap
from lessons.models import Circuit, Lesson
from school import signature_keys
from school.models import JournalEntry
from tests.cast import SECRET, Cast
from tests.database_guards import guards_off
from tests.factories import begin_lesson, fly_lesson, record_circuit, record_entries, sign_lesson
from tests.ready_student import make_ready, sign_release
from tests.shared_state import shared_state


@shared_state
def school(cast: Cast) -> Lesson:
    """A signed lesson after the opening of the register, with every kind of entry, some taken back."""
    register.open_register(cast.at(5, 30))
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0", "lesson.remarks": "Steady"})
    record_circuit(cast, lesson, 1, **{"approach.measure.final.speed": "70", "landing.fault.bounced": "on"})
    record_circuit(cast, lesson, 2, **{"landing.criterion.held": "done", "landing.help": "prompted"})
    record_entries(cast, lesson, **{"circuit.3.takeoff.level": "practice", "circuit.3.closed": "to_standard"})
    record_entries(cast, lesson, **{"circuit.4.landing.level": "practice", "circuit.4.took_control": "landing"})
    record_entries(cast, lesson, **{"circuit.4.ending": "full_stop", "circuit.4.closed": "on"})
    record_entries(cast, lesson, **{"circuit.5.ending": "go_around"})
    recording.undo_tap(lesson=lesson, by=cast.bert, at=cast.at(10))
    record_entries(cast, lesson, **{"circuit.3.closed": ""})
    record_entries(cast, lesson, **{"circuit.3.closed": "to_standard", "grade.landing": "practice"})
    return sign_lesson(cast, lesson)


def sentences() -> list[str]:
    return [str(row) for row in audit_records().findings]


def test_an_honest_lesson_and_its_correction_have_their_accounts(school: Lesson, cast: Cast) -> None:
    version = corrections.begin_correction(lesson=school, reason="The wind", by=cast.bert, at=cast.at(11))
    record_entries(cast, version, **{"circuit.1.landing.level": "practice", "circuit.3.closed": ""})
    record_entries(cast, version, **{"circuit.3.landing.level": "perform", "circuit.3.closed": "to_standard"})
    sign_lesson(cast, version)
    signing.acknowledge_lesson(lesson=version, secret=SECRET, by=cast.dora, at=cast.at(12))
    assert sentences() == []
    assert not Signature.objects.filter(proof="").exists()


def test_a_release_and_its_endorsement_have_their_accounts(cast: Cast) -> None:
    make_ready(cast)
    register.open_register(cast.at(1))
    sign_release(cast)
    assert sentences() == []


Attack = Callable[[Lesson], Any]


def reseal(lesson: Lesson) -> None:
    """The chain written again from the seal of a lesson on, as whoever holds the database can."""
    signature = Signature.objects.get(lesson=lesson, capacity="instructor")
    lesson = Lesson.objects.for_pages().select_related("supersedes").get(pk=lesson.pk)
    record = lesson_payload.build_lesson_payload(lesson, signature)
    number = Seal.objects.get(subject=lesson.uid).number
    Seal.objects.filter(number__gte=number).delete()
    chain.append([chain.NewLink(Seal.Kind.LESSON, lesson.uid, record)], signature.signed_at)


def landing(lesson: Lesson, circuit: int = 2) -> Any:
    return Attempt.objects.filter(lesson=lesson, circuit__number=circuit, part="landing")


ATTACKS: dict[str, tuple[Attack, str]] = {
    "a level is raised": (
        lambda w: landing(w, 4).update(level="perform"),
        "circuit.4.landing.level was entered as practice, is perform",
    ),
    "a level is called that of the closing key": (
        lambda w: landing(w, 4).update(level="perform", by_closing=True),
        "circuit.4.landing.level was entered as practice, is to_standard",
    ),
    "help is forgotten": (lambda w: landing(w).update(help="none"), "circuit.2.landing.help was entered as prompted"),
    "a fault is forgotten": (
        lambda w: FaultSeen.objects.filter(attempt__lesson=w).delete(),
        "circuit.1.landing.fault.bounced was entered as on, is empty",
    ),
    "a number is moved": (
        lambda w: Measure.objects.update(value=60),
        "circuit.1.approach.measure.final.speed was entered as 70 kt, is 60 kt",
    ),
    "an ending is exchanged": (
        lambda w: Circuit.objects.filter(lesson=w, number=4).update(ending="go_around"),
        "circuit.4.ending was entered as full_stop, is go_around",
    ),
    "remarks are written": (
        lambda w: Lesson.objects.filter(pk=w.pk).update(remarks="Splendid"),
        "lesson.remarks was entered as Steady, is Splendid",
    ),
    "a grade is raised": (
        lambda w: Grade.objects.filter(lesson=w, manoeuvre__code="landing").update(given="perform", given_step=""),
        "grade.landing was entered as practice, is perform",
    ),
    "an entry is forged": (
        lambda w: Tap.objects.filter(lesson=w, field="circuit.4.landing.level").update(after="perform"),
        "circuit.4.landing.level was entered as perform, is practice",
    ),
}  # fmt: skip


@pytest.mark.parametrize("attack", ATTACKS)
def test_what_stands_and_was_not_entered_is_named_though_the_seal_fits(school: Lesson, attack: str) -> None:
    act, sentence = ATTACKS[attack]
    with guards_off():
        act(school)
        reseal(school)
    assert any(sentence in line for line in sentences()), sentences()


def test_a_seal_written_again_is_not_proved(school: Lesson) -> None:
    with guards_off():
        Lesson.objects.filter(pk=school.pk).update(next_time="Nothing")
        reseal(school)
    assert any("signature of Bert Example was not made by this installation" in line for line in sentences())


def test_a_signature_that_is_forged_with_the_database_alone_is_named(school: Lesson, cast: Cast) -> None:
    """A lesson inserted with taps, journal, signature and seal by somebody who does not have the key."""
    with override_settings(SIGNATURE_KEYS=["a key of somebody else"]):
        forged = fly_lesson(cast)
    number = Seal.objects.get(subject=forged.uid).number
    name = signature_keys.key_name(Signature.objects.get(lesson=forged).proof)
    said = f"its signature was made with the key {name}, which is not here (1 such signatures)"
    assert sentences() == [f"seal {number}: {said}"]
    with override_settings(LOST_SIGNATURE_KEYS=[name]):
        report = audit_records()
    assert report.findings == []
    assert f"1 signatures were made with the lost key {name}." in report.notes
    with guards_off():
        Signature.objects.filter(lesson=forged).update(proof="")
    assert sentences() == [f"seal {number}: the signature of Bert Example has no proof of this installation"]


def test_keys_are_rotated_and_do_not_come_back(school: Lesson, cast: Cast) -> None:
    (old,) = {signature_keys.key_name(row.proof) for row in Signature.objects.all()}
    keys = settings.SIGNATURE_KEYS
    with override_settings(SIGNATURE_KEYS=["the next key", *keys]):
        fly_lesson(cast)
        assert sentences() == []
        with override_settings(SIGNATURE_KEYS=keys):
            late = fly_lesson(cast)
        assert signature_keys.key_name(Signature.objects.get(lesson=late).proof) == old
        number = Seal.objects.get(subject=late.uid).number
        assert sentences() == [
            f"seal {number}: the signature of Bert Example was made with a key that was replaced before"
        ]


def test_a_seal_without_its_entry_of_the_journal_is_named(school: Lesson) -> None:
    with guards_off():
        JournalEntry.objects.filter(what="lesson signed").delete()
    assert any("no entry of the journal says “lesson signed” at" in line for line in sentences())


def test_signatures_from_before_are_counted_and_not_accused(cast: Cast) -> None:
    fly_lesson(cast, days_ago=20)
    with guards_off():
        Signature.objects.update(proof="")
        Tap.objects.all().delete()
    register.open_register(cast.at(5))
    report = audit_records()
    assert report.findings == []
    assert "1 signatures are from before each was proved by a key outside the database." in report.notes
