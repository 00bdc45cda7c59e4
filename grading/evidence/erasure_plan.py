"""List what is erased of a student once the record need not be retained any more, and render the list as SQL.

A new table that hangs on an enrolment or a student gets a line in ERASURE_STEPS, or in RETAINED_TABLES with the
reason (tests/grading/actions/test_erasure.py asks for one), and a migration that carries the text of
`erasure_plan_sql()` of that day in migrations/sql. Its guard lets the erasure through by
`record_is_being_erased(TG_RELID)`. The rows of a table with a column `uid` are the subjects of seals: the texts of
those seals are emptied with them.
"""

from dataclasses import dataclass

from django.db import connection

from grading.models import Seal
from lessons.models import Enrolment

# Conditions are SQL text and no querysets, because a function of the database follows them and migrations carry it.
BY_ENROLMENT = "enrolment_id = $1"
BY_LESSON = "lesson_id IN (SELECT id FROM lessons_lesson WHERE enrolment_id = $1)"
BY_ATTEMPT = (
    "attempt_id IN (SELECT a.id FROM grading_attempt a JOIN lessons_lesson l ON l.id = a.lesson_id"
    " WHERE l.enrolment_id = $1)"
)
BY_STUDENT = "student_id = (SELECT student_id FROM lessons_enrolment WHERE id = $1)"
BY_PERSON = "person_id = (SELECT student_id FROM lessons_enrolment WHERE id = $1)"
BY_RELEASE = f"release_id IN (SELECT id FROM grading_release WHERE {BY_ENROLMENT})"  # noqa: S608 - words of this module
BY_ENDORSEMENT = f"endorsement_id IN (SELECT id FROM lessons_endorsement WHERE {BY_ENROLMENT})"  # noqa: S608
# By the index of each in turn: one question with OR reads every signature of the school.
BY_SIGNED_SUBJECT = "id IN ({})".format(
    " UNION ALL ".join(
        f"SELECT id FROM grading_signature WHERE {of_something}"  # noqa: S608 - words of this module
        for of_something in (BY_ENROLMENT, BY_LESSON, BY_RELEASE, BY_ENDORSEMENT)
    )
)
BY_ACCOUNT = "user_id = (SELECT student_id FROM lessons_enrolment WHERE id = $1)"
# A list that was printed for an instructor names each student with the school number, as records.person() has it.
LISTS_NAMING_STUDENT = (
    "instructor_id IS NOT NULL AND jsonb_path_exists(content, '$.** ? (@ == $number)', jsonb_build_object('number',"
    " (SELECT p.reference FROM school_person p JOIN lessons_enrolment e ON e.student_id = p.id WHERE e.id = $1)))"
)


@dataclass(frozen=True)
class ErasureStep:
    """Rows of one table, selected by a condition on the key of the enrolment ($1).

    `alone`: only when nothing else in the database needs the person any more.
    """

    table: str
    words: str
    condition: str
    # Of a person with a second enrolment only what belongs to the erased one may go.
    alone: bool = False


# In this order: what a later line is found by must still be there.
ERASURE_STEPS = (
    ErasureStep("grading_faultseen", "faults seen", BY_ATTEMPT),
    ErasureStep("grading_criterionseen", "criteria looked at", BY_ATTEMPT),
    ErasureStep("grading_measure", "numbers read at gates", BY_ATTEMPT),
    ErasureStep("grading_attempt", "attempts", BY_LESSON),
    ErasureStep("grading_grade", "grades", BY_LESSON),
    ErasureStep("grading_ownview", "own views of lessons", BY_LESSON),
    ErasureStep("grading_flighttrack", "flight tracks", BY_LESSON),
    ErasureStep("grading_tap", "taps", BY_LESSON),
    ErasureStep("grading_deviceevent", "what tablets sent", BY_LESSON),
    ErasureStep("grading_signature", "signatures", BY_SIGNED_SUBJECT),
    ErasureStep("grading_printrunitem", "places in print runs", BY_ENROLMENT),
    ErasureStep("grading_sheet", "printed sheets", BY_ENROLMENT),
    ErasureStep(
        "grading_sheet", "printed lists of instructors that name the student", LISTS_NAMING_STUDENT, alone=True
    ),
    ErasureStep("grading_release", "releases for solo", BY_ENROLMENT),
    ErasureStep("grading_setaside", "requirements set aside", BY_ENROLMENT),
    ErasureStep("grading_settledfinding", "findings marked as done", BY_ENROLMENT),
    ErasureStep("grading_storedverdict", "stored verdicts", BY_ENROLMENT),
    ErasureStep("lessons_circuit", "circuits", BY_LESSON),
    ErasureStep("lessons_lesson", "lessons", BY_ENROLMENT),
    ErasureStep("lessons_discardedlesson", "discarded lessons with their entries", BY_ENROLMENT),
    ErasureStep("lessons_knowledgetest", "written tests", BY_ENROLMENT),
    ErasureStep("lessons_endorsement", "endorsements", BY_ENROLMENT),
    ErasureStep(
        "lessons_unitmapping",
        "units mapped in moves to another syllabus",
        f"move_id IN (SELECT id FROM lessons_syllabusmove WHERE {BY_ENROLMENT})",  # noqa: S608
    ),
    ErasureStep("lessons_syllabusmove", "moves to another syllabus", BY_ENROLMENT),
    ErasureStep(
        "lessons_creditedunit",
        "units credited for earlier training",
        f"decision_id IN (SELECT id FROM lessons_creditdecision WHERE {BY_ENROLMENT})",  # noqa: S608
    ),
    ErasureStep("lessons_creditdecision", "decisions on credit", BY_ENROLMENT),
    ErasureStep("grading_earlierevidence", "decisions on earlier lessons as evidence", BY_ENROLMENT),
    ErasureStep("lessons_earliertraining", "earlier training", BY_STUDENT, alone=True),
    ErasureStep(
        "grading_receivedrecord",
        "records received from elsewhere",
        f"batch_id IN (SELECT id FROM grading_receivedbatch WHERE {BY_STUDENT})",  # noqa: S608
        alone=True,
    ),
    ErasureStep("grading_receivedbatch", "imports of records", BY_STUDENT, alone=True),
    ErasureStep(
        "school_attachment",
        "pictures of documents",
        f"paper_id IN (SELECT id FROM school_paper WHERE {BY_PERSON})",  # noqa: S608
        alone=True,
    ),
    ErasureStep("school_paper", "papers", BY_PERSON, alone=True),
    ErasureStep("school_invitation", "invitations", BY_PERSON, alone=True),
    ErasureStep(
        "account_emailconfirmation",
        "e-mails that confirm an address",
        f"email_address_id IN (SELECT id FROM account_emailaddress WHERE {BY_ACCOUNT})",  # noqa: S608
        alone=True,
    ),
    ErasureStep("account_emailaddress", "e-mail addresses of the account", BY_ACCOUNT, alone=True),
    ErasureStep("mfa_authenticator", "second steps of the account", BY_ACCOUNT, alone=True),
    ErasureStep(
        "django_session",
        "open sessions",
        f"session_key IN (SELECT session_key FROM usersessions_usersession WHERE {BY_ACCOUNT})",  # noqa: S608
        alone=True,
    ),
    ErasureStep("usersessions_usersession", "where the account was logged in", BY_ACCOUNT, alone=True),
    ErasureStep("lessons_enrolment", "enrolments", "id = $1"),
)

# Tables that hang on an enrolment or name a person and stay, and why.
RETAINED_TABLES = {
    "school_person": "the row stays under the school number alone; name, e-mail, date of birth and login are removed",
    "school_journalentry": "the append-only account of who did what, with the names in it; it has no end",
    "grading_seal": "the links of the chain stay with number, kind and digest; the texts of the erased ones go",
    "grading_erasure": "the account of the erasure itself: school number, reason, who proposed and confirmed it",
    "grading_recordcheck": "names the member of staff who asked for the check, never a student",
    "grading_printrun": "names the member of staff who asked for it; the students in it are in its places",
    "grading_trackterm": "names the chief instructor who set for how long positions of tracks are kept",
    "grading_trackupload": "a file that waits; it goes once it is kept or discarded, and by itself after some days",
    "school_aircraftpaper": "a document of an aircraft; it names the member of staff who entered it, never a student",
    "grading_pendingupload": "a file that waits; it goes once it is imported or discarded",
    "lessons_gatedraft": "names the member of staff who edits it, never a student",
    "lessons_syllabusdraft": "names the member of staff who edits it, never a student",
}


def erasure_plan_sql() -> str:
    """Return the SQL function `erasure_plan()`: the list above, for the database to follow."""
    rows = ",\n        ".join(
        f"({step}, '{row.table}', $c${row.condition}$c$, {str(row.alone).lower()})"
        for step, row in enumerate(ERASURE_STEPS, start=1)
    )
    return (
        "CREATE OR REPLACE FUNCTION erasure_plan()\n"
        "    RETURNS TABLE (step int, tbl text, condition text, alone boolean) LANGUAGE sql IMMUTABLE AS $plan$\n"
        f"    VALUES\n        {rows}\n"
        "$plan$;\n"
    )


def condition_for(row: ErasureStep, enrolment: Enrolment) -> str:
    """Return the condition of a line for one enrolment, as SQL without parameters."""
    # The key is made an integer first, so that nothing but digits can get into the SQL text.
    return row.condition.replace("$1", str(int(enrolment.pk)))


def seals_to_empty(enrolment: Enrolment) -> list[Seal]:
    """Return every seal whose text an erasure of this enrolment empties, in the order of the chain."""
    # The function of the database that erases calls this one too, so the list shown and the texts emptied are the same.
    with connection.cursor() as cursor:
        cursor.execute("SELECT erasure_seals(%s)", [enrolment.pk])
        numbers = [number for (number,) in cursor.fetchall()]
    return list(Seal.objects.filter(number__in=numbers).defer("canonical").order_by("number"))
