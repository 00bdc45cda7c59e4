"""Check whether the database would refuse a change: the rights of the application's role, and the guards."""

from django.apps import apps
from django.db import connection

APP_LABELS = ("school", "lessons", "grading")
# Tables whose rows are final, at once or once they are signed, published or withdrawn.
GUARDED_TABLES = (
    "school_journalentry",
    "school_paper",
    "lessons_lesson",
    "lessons_discardedlesson",
    "lessons_circuit",
    "lessons_endorsement",
    "lessons_knowledgetest",
    "lessons_enrolment",
    "lessons_syllabus",
    "lessons_gateset",
    "lessons_gradescale",
    "lessons_syllabusmove",
    "lessons_unitmapping",
    "lessons_trainingitem",
    "lessons_manoeuvre",
    "lessons_criterion",
    "lessons_fault",
    "lessons_fault_manoeuvres",
    "lessons_stage",
    "lessons_unit",
    "lessons_unitmanoeuvre",
    "lessons_gate",
    "lessons_gatetarget",
    "grading_attempt",
    "grading_grade",
    "grading_tap",
    "grading_faultseen",
    "grading_measure",
    "grading_criterionseen",
    "grading_signature",
    "grading_seal",
    "grading_sheet",
    "grading_release",
    "grading_setaside",
    "grading_standard",
    "grading_recordcheck",
    "grading_receivedbatch",
    "grading_receivedrecord",
    "grading_erasure",
    "grading_deviceevent",
    "lessons_earliertraining",
    "lessons_creditdecision",
    "lessons_creditedunit",
    "school_signingcertificate",
)

# Two guards for each table, because a row trigger does not fire for TRUNCATE. “O” is a trigger that fires in ordinary
# sessions; a disabled one counts as none.
ACTIVE_GUARDS_SQL = """
SELECT c.relname, count(*) FILTER (WHERE t.tgname LIKE '%%\\_is\\_final'), count(*) FILTER (WHERE t.tgname LIKE
'%%\\_is\\_kept') FROM pg_class c LEFT JOIN pg_trigger t ON t.tgrelid = c.oid AND t.tgenabled = 'O'
WHERE c.relname = ANY(%s) AND c.relnamespace = current_schema()::regnamespace GROUP BY 1 ORDER BY 1
"""
# Membership and not only ownership: a member can become the owner by SET ROLE.
ROLE_RIGHTS_SQL = """
SELECT c.relname, pg_has_role(current_user, c.relowner, 'MEMBER'), has_table_privilege(c.oid, 'TRUNCATE')
FROM pg_class c WHERE c.relname = ANY(%s) AND c.relnamespace = current_schema()::regnamespace ORDER BY 1
"""


def role_findings() -> list[str]:
    """Return what the role of this connection can do and should not: own a table, empty one."""
    rows = _query_tables(
        ROLE_RIGHTS_SQL,
        [model._meta.db_table for name in APP_LABELS for model in apps.get_app_config(name).get_models()],
    )
    owned = [table for table, owns, _ in rows if owns]
    # An owner has this right as well; the sentence about ownership covers those tables.
    emptied = [table for table, owns, truncates in rows if truncates and not owns]
    found = []
    if owned:
        found.append(
            f"The application runs as the owner of {_list_some(owned)}: it could switch the guards off."
            " Let it connect under a role that owns nothing."
        )
    if emptied:
        found.append(f"The application may empty {_list_some(emptied)}: take the right to TRUNCATE from its role.")
    return found


def guard_findings() -> list[str]:
    """Return the guards that were switched off or removed."""
    rows = {table: (finals, keeps) for table, finals, keeps in _query_tables(ACTIVE_GUARDS_SQL, list(GUARDED_TABLES))}
    return [
        f"The guard of the table {table} is switched off: its rows can be changed."
        for table in GUARDED_TABLES
        # A table that does not answer at all counts as unguarded, not as fine.
        if 0 in rows.get(table, (0, 0))
    ]


def _query_tables(sql: str, tables: list[str]) -> list[tuple[str, int, int]]:
    with connection.cursor() as cursor:
        cursor.execute(sql, [tables])
        return list(cursor.fetchall())


def _list_some(tables: list[str]) -> str:
    return ", ".join(tables[:3]) + (f" and {len(tables) - 3} more tables" if len(tables) > 3 else "")
