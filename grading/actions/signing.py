"""Sign a lesson: the instructor makes it final, the student acknowledges it or refuses."""

from collections.abc import Sequence
from datetime import date, datetime
from typing import Any
from uuid import UUID

import rfc8785
from django.db import transaction

from grading.actions import handwriting
from grading.actions.lesson_details import unfinished_wind
from grading.actions.recording import lock_lesson
from grading.actions.track_seals import seal_tracks_of
from grading.evidence import chain, lesson_payload
from grading.models import Attempt, Grade, Seal, Signature
from grading.reading import grade_lines, late_entries
from grading.reading.grade_lines import GradeLine, GradingContext, step_columns
from grading.reading.release_limits import release_breaches
from lessons.conditions import fill_wind_from_report
from lessons.models import Lesson
from lessons.rules.scale import Ending, UnitKind
from school import journal, signature_keys
from school.accounts import password_attempts
from school.citations import cite
from school.current import school_zone
from school.days import day_of
from school.errors import Refusal
from school.models import Paper, Person
from school.reasons import limited_text

# Stored with each signature: a later wording must not change what somebody has signed.
INSTRUCTOR_MEANING = "I gave this training on this day, and what is recorded here is what I saw."
SOLO_MEANING = "I supervised this solo flight, and what is recorded here is what I saw or was told."
STUDENT_MEANING = "I have read this record and was debriefed on it."


class WrongPassword(Refusal):
    """The secret of a signature was not the person's own."""


@transaction.atomic
def sign_lesson(*, lesson: Lesson, secret: str, by: Person, at: datetime, drawn: str = "") -> Signature:
    """Sign a lesson, which makes it final; unchanged grades are those proposed. Refuse, naming what is missing.

    `drawn`: lines of points as JSON (grading/actions/handwriting.py), or empty.
    """
    lesson = lock_lesson(lesson, by)
    # Read once more: the lock loads what a tap needs, and the sealed record names people, runway and earlier version.
    lesson = Lesson.objects.for_pages().select_related("supersedes").get(pk=lesson.pk)
    refuse_day_to_come(lesson.on, at)
    attempts, grading_context = grade_lines.load_attempts(lesson), grade_lines.load_grading_context(lesson)
    graded = grade_lines.grade_lines_for(lesson, attempts, grading_context)
    missing = [f"Choose which entry is right: {question.entry}." for question in late_entries.open_questions(lesson)]
    if missing := missing + missing_before_signing(lesson, graded):
        raise Refusal(f"Not signed yet. {' '.join(missing)}")
    drawn = handwriting.validate_strokes(drawn)
    reauthenticate(by, secret)
    certificate = instructor_certificate(by, lesson.on)
    # After the password, whose check is slow by design: from here until commit nobody else in the school can seal.
    chain.lock_for_sealing(lesson.enrolment)
    # Everything is written before signed_at: from then on the triggers refuse it. The seal is made of what was written.
    _save_counted(attempts, grading_context)
    _save_grades(lesson, graded)
    _fill_counts(lesson)
    _fill_hours(lesson)
    fill_wind_from_report(lesson)
    signature = draft_signature(
        by,
        Signature.Capacity.INSTRUCTOR,
        SOLO_MEANING if lesson.unit.kind == UnitKind.SOLO else INSTRUCTOR_MEANING,
        at,
        certificate,
        lesson=lesson,
        drawn=drawn,
    )
    record = lesson_payload.build_lesson_payload(lesson, signature)
    save_and_seal(signature, Seal.Kind.LESSON, lesson.uid, record)
    seal_tracks_of(lesson, at)
    lesson.signed_at, lesson.signed_by = at, by
    # The wind of the report becomes numbers of the lesson only now: until then undo has one entry to change.
    wind = ["wind_direction", "wind_reference", "wind_speed_kt", "wind_gust_kt"]
    lesson.save(update_fields=["signed_at", "signed_by", *wind])
    journal.record(by=by, at=at, what="lesson signed", subject=lesson, after={"meaning": signature.meaning})
    return signature


def refuse_day_to_come(on: date, at: datetime) -> None:
    """Refuse to sign what is dated after today at the school."""
    zone = school_zone()
    if on > (today := day_of(at, zone)):
        raise Refusal(
            f"Not signed yet. This lesson is dated {on.day} {on:%b %Y}, and today is {today.day} {today:%b %Y}"
            f" ({zone}): sign it on that day, or discard it and begin it with the right date."
        )


@transaction.atomic
def acknowledge_lesson(
    *,
    lesson: Lesson,
    secret: str,
    by: Person,
    at: datetime,
    remark: str = "",
    refuse: bool = False,
    drawn: str = "",
) -> Signature:
    """Record the student's signature under a signed lesson, or their refusal with a remark."""
    chain.lock_for_sealing(lesson.enrolment)
    lesson = Lesson.objects.for_pages().get(pk=lesson.pk)
    if lesson.enrolment.student_id != by.pk:
        raise Refusal("Only the student of this lesson may sign here.")
    if not lesson.is_signed:
        raise Refusal("The instructor signs first.")
    if Signature.objects.filter(lesson=lesson, capacity=Signature.Capacity.STUDENT).exists():
        raise Refusal("You have already signed this lesson.")
    remark = limited_text(remark)
    # The lesson is final without the student: a refusal is recorded beside it, and without its reason it says nothing.
    if refuse and not remark:
        raise Refusal("Write why you do not sign: the remark is kept with the record.")
    drawn = "" if refuse else handwriting.validate_strokes(drawn)
    reauthenticate(by, secret)
    act = Signature.Act.REFUSED if refuse else Signature.Act.SIGNED
    meaning = "I have read this record and do not sign it." if refuse else STUDENT_MEANING
    signature = draft_signature(
        by, Signature.Capacity.STUDENT, meaning, at, None, lesson=lesson, act=act, remark=remark, drawn=drawn
    )
    record = lesson_payload.build_acknowledgement_payload(signature)
    save_and_seal(signature, Seal.Kind.ACKNOWLEDGEMENT, signature.uid, record)
    what = "signature refused" if refuse else "lesson acknowledged"
    journal.record(by=by, at=at, what=what, subject=lesson, after={"remark": remark})
    return signature


def reauthenticate(person: Person, secret: str) -> None:
    """Refuse a wrong password: a signature is a deliberate act, so the secret is asked at the moment of signing."""
    if not password_attempts.verify_password(person, secret):
        raise WrongPassword("Wrong password. Nothing was signed; everything you wrote is still here.")


def instructor_certificate(person: Person, on: date) -> Paper:
    """Return the certificate that a signature names, in force on the day of the training."""
    certificates = Paper.objects.in_force().filter(
        person=person, kind=Paper.Kind.INSTRUCTOR_CERTIFICATE, issued__lte=on
    )
    # The newest first: a renewed certificate is what the signature has to name.
    for paper in certificates.order_by("-issued"):
        ends = paper.expires or paper.recent_experience_until
        if paper.number and ends and ends >= on:
            return paper
    raise Refusal(
        "Your instructor certificate in force on that day is not on record, with its number and its expiry"
        f" or recent-experience date{cite('14 CFR 61.51(h)(2)(ii)')}. The administrator enters it."
    )


def certificate_words(paper: Paper) -> str:
    if paper.expires:
        return f"expires {paper.expires.isoformat()}"
    assert paper.recent_experience_until is not None
    return f"recent experience until {paper.recent_experience_until.isoformat()}"


def missing_before_signing(lesson: Lesson, graded: list[GradeLine] | None = None) -> list[str]:
    """Return what the record still lacks, a sentence each."""
    missing = []
    if lesson.unit.kind == UnitKind.GROUND:
        if not lesson.ground_minutes:
            missing.append("Enter the time of ground instruction.")
    else:
        if not sum(hours_with_block_time(lesson)):
            missing.append("Enter the hours flown, dual or solo.")
        if lesson.aircraft is None:
            missing.append("Choose the aircraft.")
    if lesson.unit.kind == UnitKind.SOLO and not hours_with_block_time(lesson)[1]:
        missing.append("This unit is flown solo: enter the solo hours.")
    if unfinished := unfinished_wind(lesson):
        missing.append(unfinished)
    # What happened is recorded and never refused: only the reason is asked for.
    if not lesson.outside_release.strip() and (outside := release_breaches(lesson)):
        missing.append("Solo outside a release: " + " ".join(outside) + " Write under Hours why it was flown.")
    graded = grade_lines.grade_lines_for(lesson) if graded is None else graded
    # “Not observed” is asked for in words: an empty line may be a manoeuvre that was forgotten.
    ungraded = [line.manoeuvre.title for line in graded if line.compulsory and not line.looked_at]
    if ungraded:
        missing.append(f"Grade, or mark as not observed: {', '.join(ungraded)}.")
    return missing


def _save_counted(attempts: list[Attempt], grading_context: GradingContext) -> None:
    """Write the level as which each attempt counts, as the instructor saw it when signing."""
    taken = grade_lines.parts_taken_over(attempts)
    for attempt in attempts:
        attempt.counted = grade_lines.count_attempt(attempt, grading_context, taken).level
    Attempt.objects.bulk_update(attempts, ["counted"])


def _save_grades(lesson: Lesson, graded: list[GradeLine]) -> None:
    """Write every grade beside its proposal."""
    settled = []
    for line in graded:
        if line.given is None:
            continue
        # The proposal is stored though it can be derived: where the instructor departed from it must stay visible.
        proposed, given = step_columns(line.proposed), step_columns(line.given)
        settled.append(
            Grade(
                lesson=lesson,
                manoeuvre_id=line.manoeuvre.pk,
                proposed=proposed["level"],
                proposed_step=proposed["step"],
                explanation=line.explanation,
                given=given["level"],
                given_step=given["step"],
                help=line.help,
            )
        )
    written = ["proposed", "proposed_step", "explanation", "given", "given_step", "help"]
    # Updating, because a grade that the instructor changed before signing has its row already.
    Grade.objects.bulk_create(
        settled, update_conflicts=True, unique_fields=["lesson", "manoeuvre"], update_fields=written
    )


def _fill_counts(lesson: Lesson) -> None:
    """Count takeoffs and landings that nobody entered from the circuits."""
    # One number entered is enough: the person who entered it has counted, and the other may well be none.
    if lesson.takeoffs or lesson.landings:
        return
    lesson.takeoffs, lesson.landings = circuit_counts(lesson)
    lesson.save(update_fields=["takeoffs", "landings"])


def _fill_hours(lesson: Lesson) -> None:
    """Write the block time as the hours that nobody entered."""
    lesson.dual_minutes, lesson.solo_minutes = hours_with_block_time(lesson)
    lesson.save(update_fields=["dual_minutes", "solo_minutes"])


def hours_with_block_time(lesson: Lesson) -> tuple[int, int]:
    """Return dual and solo in minutes: as entered or, where neither is, the block time by the kind of the unit.

    Derived until the lesson is signed: undo then has one entry to change.
    """
    dual, solo = lesson.dual_minutes, lesson.solo_minutes
    if dual or solo or lesson.unit.kind == UnitKind.GROUND:
        return dual, solo
    block = lesson.block_minutes or 0
    return (0, block) if lesson.unit.kind == UnitKind.SOLO else (block, 0)


def circuit_counts(lesson: Lesson) -> tuple[int, int]:
    """Return the takeoffs and landings that the circuits show."""
    rows = list(lesson.circuits.order_by("number"))
    return counts_from_endings([row.ending for row in rows], [row.shown for row in rows])


def counts_from_endings(endings: Sequence[str], shown: Sequence[bool] = ()) -> tuple[int, int]:
    """Count the student's takeoffs and landings by how circuits ended: after a go-around the next has no takeoff.

    shown: which of them the instructor flew to show it; empty for none.
    """
    own = [not row for row in shown] or [True] * len(endings)
    around = [ending == Ending.GO_AROUND for ending in endings]
    # The circuit before began it in the air, whoever flew that one.
    takeoffs = sum(mine and not before for mine, before in zip(own, [False, *around], strict=False))
    return takeoffs, sum(mine and not went for mine, went in zip(own, around, strict=True))


def draft_signature(
    person: Person, capacity: Signature.Capacity, meaning: str, at: datetime, certificate: Paper | None, **fields: Any
) -> Signature:
    """Return a signature with name, number and certificate as of today, not saved; `fields`: its other columns."""
    return Signature(
        capacity=capacity,
        meaning=meaning,
        person=person,
        # Copied: names, numbers and certificates change, and the signature must say what was true when it was given.
        name=person.name,
        reference=person.reference,
        certificate_number=certificate.number if certificate else "",
        certificate_valid=certificate_words(certificate) if certificate else "",
        signed_at=at,
        **fields,
    )


def save_and_seal(signature: Signature, kind: Seal.Kind, subject: UUID, record: dict[str, Any]) -> None:
    """Save a signature with the proof that this installation made it, and seal the record it is under."""
    canonical = rfc8785.dumps(record).decode()
    at = signature.signed_at
    # Before it is saved: the database lets no column of a signature change.
    signature.proof = signature_keys.make_proof(signature.uid, signature.person_id, at, canonical)
    signature.save(force_insert=True)
    chain.seal(kind=kind, subject=subject, record=record, at=at)
