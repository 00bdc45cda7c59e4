"""A student whose training ended long ago, with a row in every table that hangs on an enrolment."""

import hashlib
import uuid
from datetime import timedelta
from decimal import Decimal
from typing import Any

from allauth.account.models import EmailAddress, EmailConfirmation
from allauth.mfa.models import Authenticator
from allauth.usersessions.models import UserSession
from django.contrib.sessions.backends.db import SessionStore
from django.db import connection

from grading.actions import discarding, endorsements, findings, signing
from grading.actions.own_view import write_own_view
from grading.evidence import chain, lesson_payload
from grading.models import (
    Attempt,
    DeviceEvent,
    EarlierEvidence,
    Measure,
    PrintRun,
    PrintRunItem,
    ReceivedBatch,
    ReceivedRecord,
    Release,
    Seal,
    SetAside,
    Sheet,
    Signature,
)
from grading.reading import verdict_cache
from grading.reading.inspection_facts import collect_findings
from lessons import actions as lesson_actions
from lessons.models import (
    CreditDecision,
    CreditedUnit,
    EarlierTraining,
    Enrolment,
    GateTarget,
    SyllabusMove,
    UnitMapping,
)
from school import actions as school_actions
from school.models import Attachment, Invitation
from tests.cast import SECRET, Cast
from tests.database_guards import execute_sql, guards_off
from tests.factories import begin_lesson, record_circuit, record_entries, sign_lesson
from tests.track_files import create_track

ENDED_DAYS_AGO = 2300  # days ago: more than six years
RETENTION_YEARS = 5


def change_dates(enrolment: Enrolment, **fields: Any) -> None:
    """Dates that only time brings."""
    with guards_off():
        Enrolment.objects.filter(pk=enrolment.pk).update(**fields)
    execute_sql("SET CONSTRAINTS ALL DEFERRED")


def create_ended_enrolment(cast: Cast, enrolment: Enrolment, days_ago: int = ENDED_DAYS_AGO) -> Enrolment:
    """The enrolment as one of the past, with nothing in it yet."""
    change_dates(enrolment, enrolled_on=cast.today - timedelta(days=days_ago + 200))
    enrolment.refresh_from_db()
    lesson_actions.end_enrolment(
        enrolment=enrolment,
        on=cast.today - timedelta(days=days_ago),
        end="completed",
        by=cast.frida,
        at=cast.at(12, days_ago),
    )
    enrolment.refresh_from_db()
    return enrolment


def create_full_training(cast: Cast) -> Enrolment:
    """Dora's training: flown, graded, signed by both, tested, endorsed, released, printed, moved, ended."""
    for person in (cast.bert, cast.amelia):
        school_actions.record_paper(
            person=person,
            kind="instructor_certificate",
            number="C-0",
            issued=cast.today - timedelta(days=ENDED_DAYS_AGO + 300),
            recent_experience_until=cast.today,
            by=None,
            at=cast.at(8, ENDED_DAYS_AGO + 300),
        )
    paper = school_actions.record_paper(
        person=cast.dora,
        kind="english",
        issued=cast.today - timedelta(days=ENDED_DAYS_AGO + 100),
        number="DORA-1",
        by=cast.frida,
        at=cast.at(8, ENDED_DAYS_AGO + 100),
    )
    Attachment.objects.create(
        paper=paper,
        media_type="image/png",
        content=b"Dora",
        size=4,
        sha256=hashlib.sha256(b"Dora").hexdigest(),
        recorded_at=cast.at(8, ENDED_DAYS_AGO + 100),
        recorded_by=cast.frida,
    )
    cast.dora.email = "dora@school.example"
    cast.dora.save()
    _create_account(cast)
    enrolment = create_ended_enrolment(cast, cast.enrolment)
    cast.enrolment = enrolment
    gone = begin_lesson(cast, 8, ENDED_DAYS_AGO + 60)
    record_entries(cast, gone, **{"lesson.remarks": "Dora was ill"})
    discarding.discard_lesson(lesson=gone, reason="Dora was ill", by=cast.bert, at=cast.at(12, ENDED_DAYS_AGO + 60))
    lesson = create_signed_lesson(cast, ENDED_DAYS_AGO + 50)
    signing.acknowledge_lesson(
        lesson=lesson, secret=SECRET, by=cast.dora, at=cast.at(14, ENDED_DAYS_AGO + 50), remark="Dora agrees"
    )
    write_own_view(
        lesson=lesson,
        line="Dora held it off too high",
        levels=dict.fromkeys(("takeoff", "downwind", "approach", "landing"), "practice"),
        by=cast.dora,
        at=cast.at(14, ENDED_DAYS_AGO + 50),
    )
    create_track(cast, lesson)
    _settle_a_finding(cast, enrolment)
    _create_documents(cast, enrolment)
    _create_release(cast, enrolment)
    _create_move(cast, enrolment)
    _create_print_run(cast, enrolment, create_progress_sheet(cast, enrolment))
    _create_earlier_training(cast, enrolment)
    verdict_cache.derive_and_store([enrolment], cast.today)
    with connection.cursor() as cursor:  # what is put off to the commit is settled here, as if it had come
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE; SET CONSTRAINTS ALL DEFERRED")
    return enrolment


def _settle_a_finding(cast: Cast, enrolment: Enrolment) -> None:
    found = collect_findings([enrolment], cast.at())[0]
    findings.settle_finding(
        whose=enrolment, fingerprint=found.fingerprint, reason="Dora was ill.", by=cast.frida, at=cast.at()
    )


def _create_account(cast: Cast) -> None:
    """Dora was invited, confirmed her address, set up codes, and is logged in."""
    Invitation.objects.create(
        person=cast.dora,
        email=cast.dora.email,
        invited_at=cast.at(8, ENDED_DAYS_AGO + 100),
        invited_by=cast.frida,
        accepted_at=cast.at(9, ENDED_DAYS_AGO + 100),
    )
    address = EmailAddress.objects.create(user=cast.dora, email=cast.dora.email, verified=True, primary=True)
    EmailConfirmation.objects.create(email_address=address, key="of Dora")
    Authenticator.objects.create(user=cast.dora, type="totp", data={"secret": "of Dora"})
    session = SessionStore()
    session.create()
    UserSession.objects.create(
        user=cast.dora, ip="192.0.2.7", user_agent="Dora's tablet", session_key=session.session_key
    )


def create_signed_lesson(cast: Cast, days_ago: int, **who: Any) -> Any:
    lesson = begin_lesson(cast, 8, days_ago, **who)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0", "lesson.remarks": "Dora flared late"})
    record_circuit(cast, lesson, 1, **{"landing.criterion.held": "done", "landing.fault.bounced": "on"})
    attempt = Attempt.objects.get(lesson=lesson, part="approach")
    Measure.objects.create(
        attempt=attempt, target=GateTarget.objects.order_by("pk")[0], value=70
    )  # older than its gate
    DeviceEvent.objects.create(
        uid=uuid.uuid4(),
        lesson=lesson,
        person=lesson.instructor,
        device=uuid.uuid4(),
        sequence=1,
        kind="entry",
        field="lesson.remarks",
        value="Dora flared late",
        outcome="applied",
        at=cast.at(10, days_ago),
    )
    return sign_lesson(cast, lesson, days_ago)


def _create_documents(cast: Cast, enrolment: Enrolment) -> None:
    day = cast.today - timedelta(days=ENDED_DAYS_AGO + 40)
    lesson_actions.record_knowledge_test(
        enrolment=enrolment,
        aircraft_type=cast.type,
        taken_on=day,
        topics=[],
        questions=20,
        wrong=0,
        reviewed_on=None,
        given_by=cast.bert,
        by=cast.bert,
        at=cast.at(9, ENDED_DAYS_AGO + 40),
    )
    endorsements.endorse_for_solo(
        enrolment=enrolment,
        text="Dora is trained.",
        on=day,
        secret=SECRET,
        by=cast.bert,
        at=cast.at(12, ENDED_DAYS_AGO + 40),
    )
    SetAside.objects.create(
        enrolment=enrolment,
        requirement="english",
        reason="Dora speaks it",
        decided_at=cast.at(9, ENDED_DAYS_AGO + 40),
        decided_by=cast.amelia,
    )


def _create_release(cast: Cast, enrolment: Enrolment) -> None:
    at = cast.at(13, ENDED_DAYS_AGO + 30)
    released = Release.objects.create(
        enrolment=enrolment,
        aircraft_type=cast.type,
        aerodrome=cast.runway.aerodrome,
        runways="18",
        max_wind_kt=10,
        max_crosswind_kt=4,
        min_visibility_sm=Decimal(5),
        min_ceiling_ft=2000,
        valid_from=at.date(),
        valid_until=at.date(),
        training_on=at.date(),
        endorsed_by=cast.bert,
        verdict={"student": "Dora"},
        decided_at=at,
        decided_by=cast.amelia,
    )
    signature = Signature.objects.create(
        release=released,
        capacity="chief",
        meaning="I decide so.",
        person=cast.amelia,
        name="Amelia Example",
        reference="T-1",
        signed_at=at,
    )
    chain.seal(
        kind=Seal.Kind.RELEASE,
        subject=released.uid,
        record=lesson_payload.build_release_payload(released, signature),
        at=at,
    )


def _create_move(cast: Cast, enrolment: Enrolment) -> None:
    move = SyllabusMove.objects.create(
        enrolment=enrolment,
        before=enrolment.syllabus,
        after=enrolment.syllabus,
        moved_at=cast.at(9, ENDED_DAYS_AGO + 20),
        moved_by=cast.amelia,
    )
    UnitMapping.objects.create(move=move, old=cast.units[1], new=None)


def _create_print_run(cast: Cast, enrolment: Enrolment, sheet: Sheet) -> None:
    run = PrintRun.objects.create(
        kind="progress", paper="A4", on=cast.today, asked_at=cast.at(8), asked_by=cast.frida, chosen="picked"
    )
    PrintRunItem.objects.create(run=run, enrolment=enrolment, position=1, sheet=sheet)


def _create_earlier_training(cast: Cast, enrolment: Enrolment) -> None:
    """What Dora had flown elsewhere, received, credited and decided on as evidence."""
    at = cast.at(9, ENDED_DAYS_AGO + 100)
    batch = ReceivedBatch.objects.create(
        student=enrolment.student,
        source="paper",
        school="Elsewhere",
        student_name="Dora Example",
        student_reference="X-1",
        file_name="dora.csv",
        digest="1" * 64,
        signature="none",
        received_at=at,
        received_by=cast.frida,
    )
    ReceivedRecord.objects.create(
        batch=batch,
        place=1,
        kind="lesson",
        record_date=at.date(),
        school="Elsewhere",
        canonical="Dora flew",
        fingerprint="2" * 64,
    )
    EarlierTraining.objects.create(
        student=enrolment.student,
        batch=batch.uid,
        fingerprint="2" * 64,
        on=at.date(),
        unit="Turns",
        instructor="Nobody",
        remarks="Dora turned",
        recorded_at=at,
        recorded_by=cast.frida,
    )
    decision = CreditDecision.objects.create(
        enrolment=enrolment, reason="Dora showed it", decided_at=at, decided_by=cast.amelia
    )
    CreditedUnit.objects.create(decision=decision, unit=cast.units[1], reason="Dora knew it")
    EarlierEvidence.objects.create(
        enrolment=enrolment, reason="Dora flew it", decided_at=at, decided_by=cast.amelia
    )  # fmt: skip


def create_endorsement_list(cast: Cast, *names: Any) -> Sheet:
    """An instructor's printed list that names students (14 CFR 61.189(b))."""
    content = {
        "instructor": lesson_payload.person_reference(cast.bert),
        "rows": [{"student": lesson_payload.person_reference(name)} for name in names],
    }
    return _create_sheet(cast, content, kind="endorsements", instructor=cast.bert)


def create_progress_sheet(cast: Cast, enrolment: Enrolment) -> Sheet:
    return _create_sheet(
        cast, {"student": lesson_payload.person_reference(enrolment.student)}, kind="progress", enrolment=enrolment
    )


def _create_sheet(cast: Cast, content: dict[str, Any], **whose: Any) -> Sheet:
    """Sealed and kept as an action does it, without the time a PDF takes."""
    uid = uuid.uuid4()
    chain.seal(kind=Seal.Kind.SHEET, subject=uid, record=content, at=cast.at(8))
    return Sheet.objects.create(
        uid=uid,
        number=Sheet.objects.count() + 1,
        on=cast.today,
        paper="A4",
        content=content,
        pdf=b"%PDF",
        digest=hashlib.sha256(b"%PDF").hexdigest(),
        printed_at=cast.at(8),
        printed_by=cast.frida,
        **whose,
    )
