"""What is erased of a student once the record need not be kept any more: the one list of it, and its form in SQL.

A new table that hangs on an enrolment or a student gets a line in ERASED, or in KEPT with the reason
(tests/grading/test_erasure.py asks for one), and a migration that carries the text of `plan_sql()` of that day in
migrations/sql. Its guard lets the erasure through by `record_is_being_erased(TG_RELID)`. The rows of a table with a
column `uid` are the subjects of seals: the texts of those seals are emptied with them.
"""

from dataclasses import dataclass

from django.db import connection

from grading.models import Seal
from lessons.models import Enrolment

OF_ENROLMENT = "enrolment_id = $1"
OF_LESSON = "lesson_id IN (SELECT id FROM lessons_lesson WHERE enrolment_id = $1)"
OF_ATTEMPT = (
    "attempt_id IN (SELECT a.id FROM grading_attempt a JOIN lessons_lesson l ON l.id = a.lesson_id"
    " WHERE l.enrolment_id = $1)"
)
OF_STUDENTS = "student_id = (SELECT student_id FROM lessons_enrolment WHERE id = $1)"
OF_STUDENT = "person_id = (SELECT student_id FROM lessons_enrolment WHERE id = $1)"
OF_RELEASE = f"release_id IN (SELECT id FROM grading_release WHERE {OF_ENROLMENT})"  # noqa: S608 - words of this module
OF_ENDORSEMENT = f"endorsement_id IN (SELECT id FROM lessons_endorsement WHERE {OF_ENROLMENT})"  # noqa: S608
# By the index of each in turn: one question with OR reads every signature of the school.
SIGNED = "id IN ({})".format(
    " UNION ALL ".join(
        f"SELECT id FROM grading_signature WHERE {of_something}"  # noqa: S608 - words of this module
        for of_something in (OF_ENROLMENT, OF_LESSON, OF_RELEASE, OF_ENDORSEMENT)
    )
)
OF_ACCOUNT = "user_id = (SELECT student_id FROM lessons_enrolment WHERE id = $1)"
# A list that was printed for an instructor names each student with the school number, as records.person() has it.
NAMED_IN_A_LIST = (
    "instructor_id IS NOT NULL AND jsonb_path_exists(content, '$.** ? (@ == $number)', jsonb_build_object('number',"
    " (SELECT p.reference FROM school_person p JOIN lessons_enrolment e ON e.student_id = p.id WHERE e.id = $1)))"
)


@dataclass(frozen=True)
class Erased:
    """Rows of one table, by a condition on the key of the enrolment ($1).

    `alone`: only when nothing else in the database needs the person any more.
    """

    table: str
    words: str
    condition: str
    alone: bool = False


# In this order: what a later line is found by must still be there.
ERASED = (
    Erased("grading_faultseen", "faults seen", OF_ATTEMPT),
    Erased("grading_criterionseen", "criteria looked at", OF_ATTEMPT),
    Erased("grading_measure", "numbers read at gates", OF_ATTEMPT),
    Erased("grading_attempt", "attempts", OF_LESSON),
    Erased("grading_grade", "grades", OF_LESSON),
    Erased("grading_tap", "taps", OF_LESSON),
    Erased("grading_deviceevent", "what tablets sent", OF_LESSON),
    Erased("grading_signature", "signatures", SIGNED),
    Erased("grading_printrunitem", "places in print runs", OF_ENROLMENT),
    Erased("grading_sheet", "printed sheets", OF_ENROLMENT),
    Erased("grading_sheet", "printed lists of instructors that name the student", NAMED_IN_A_LIST, alone=True),
    Erased("grading_release", "releases for solo", OF_ENROLMENT),
    Erased("grading_setaside", "requirements set aside", OF_ENROLMENT),
    Erased("grading_storedverdict", "stored verdicts", OF_ENROLMENT),
    Erased("lessons_circuit", "circuits", OF_LESSON),
    Erased("lessons_lesson", "lessons", OF_ENROLMENT),
    Erased("lessons_knowledgetest", "written tests", OF_ENROLMENT),
    Erased("lessons_endorsement", "endorsements", OF_ENROLMENT),
    Erased(
        "lessons_unitmapping",
        "units mapped in moves to another syllabus",
        f"move_id IN (SELECT id FROM lessons_syllabusmove WHERE {OF_ENROLMENT})",  # noqa: S608
    ),
    Erased("lessons_syllabusmove", "moves to another syllabus", OF_ENROLMENT),
    Erased(
        "lessons_creditedunit",
        "units credited for earlier training",
        f"decision_id IN (SELECT id FROM lessons_creditdecision WHERE {OF_ENROLMENT})",  # noqa: S608
    ),
    Erased("lessons_creditdecision", "decisions on credit", OF_ENROLMENT),
    Erased("lessons_earliertraining", "earlier training", OF_STUDENTS, alone=True),
    Erased(
        "grading_receivedrecord",
        "records received from elsewhere",
        f"batch_id IN (SELECT id FROM grading_receivedbatch WHERE {OF_STUDENTS})",  # noqa: S608
        alone=True,
    ),
    Erased("grading_receivedbatch", "acts of taking records in", OF_STUDENTS, alone=True),
    Erased("school_paper", "papers", OF_STUDENT, alone=True),
    Erased("school_invitation", "invitations", OF_STUDENT, alone=True),
    Erased(
        "account_emailconfirmation",
        "letters that confirm an address",
        f"email_address_id IN (SELECT id FROM account_emailaddress WHERE {OF_ACCOUNT})",  # noqa: S608
        alone=True,
    ),
    Erased("account_emailaddress", "e-mail addresses of the account", OF_ACCOUNT, alone=True),
    Erased("mfa_authenticator", "second steps of the account", OF_ACCOUNT, alone=True),
    Erased(
        "django_session",
        "open sessions",
        f"session_key IN (SELECT session_key FROM usersessions_usersession WHERE {OF_ACCOUNT})",  # noqa: S608
        alone=True,
    ),
    Erased("usersessions_usersession", "where the account was logged in", OF_ACCOUNT, alone=True),
    Erased("lessons_enrolment", "enrolments", "id = $1"),
)

# Tables that hang on an enrolment or name a person and stay, and why.
KEPT = {
    "school_person": "the row stays under the school number alone; name, e-mail, date of birth and login are removed",
    "school_journalentry": "the append-only account of who did what, with the names in it; it has no end",
    "grading_seal": "the links of the chain stay with number, kind and digest; the texts of the erased ones go",
    "grading_erasure": "the account of the erasure itself: school number, reason, who proposed and confirmed it",
    "grading_recordcheck": "names the member of staff who asked for the check, never a student",
    "grading_printrun": "names the member of staff who asked for it; the students in it are in its places",
    "grading_pendingupload": "a file that waits; it goes once it is taken in or discarded",
    "lessons_gatedraft": "names the member of staff who edits it, never a student",
    "lessons_syllabusdraft": "names the member of staff who edits it, never a student",
}


def plan_sql() -> str:
    """The function `erasure_plan()`: the list above, for the database to follow."""
    rows = ",\n        ".join(
        f"({step}, '{row.table}', $c${row.condition}$c$, {str(row.alone).lower()})"
        for step, row in enumerate(ERASED, start=1)
    )
    return (
        "CREATE OR REPLACE FUNCTION erasure_plan()\n"
        "    RETURNS TABLE (step int, tbl text, condition text, alone boolean) LANGUAGE sql IMMUTABLE AS $plan$\n"
        f"    VALUES\n        {rows}\n"
        "$plan$;\n"
    )


def condition_for(row: Erased, enrolment: Enrolment) -> str:
    """Return the condition of a line for one enrolment, as SQL without parameters."""
    return row.condition.replace("$1", str(int(enrolment.pk)))


def seals_to_empty(enrolment: Enrolment) -> list[Seal]:
    """Return every seal whose text an erasure of this enrolment empties, in the order of the chain."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT erasure_seals(%s)", [enrolment.pk])
        numbers = [number for (number,) in cursor.fetchall()]
    return list(Seal.objects.filter(number__in=numbers).defer("canonical").order_by("number"))
