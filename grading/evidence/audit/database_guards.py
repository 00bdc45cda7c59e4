"""Check whether the database would refuse a change: the rights of the application's role, and the guards.

A guard is a trigger with its function. Each is compared with the text of the migrations: one that is there and does
nothing would be worse than none.
"""

import re
from typing import Any

from django.apps import apps
from django.db import connection

from grading.evidence.audit.guard_text import APP_LABELS, Function, Trigger, normal_condition, written_guards

# Tables whose rows are final, at once or once they are signed, published or withdrawn.
GUARDED_TABLES = (
    "school_journalentry",
    "school_paper",
    "school_aircraftpaper",
    "school_attachment",
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
    "grading_ownview",
    "grading_flighttrack",
    "grading_signature",
    "grading_seal",
    "grading_sheet",
    "grading_release",
    "grading_setaside",
    "grading_settledfinding",
    "grading_standard",
    "grading_recordcheck",
    "grading_receivedbatch",
    "grading_receivedrecord",
    "grading_earlierevidence",
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

# The bits of tgtype: 1 for each row, 2 before, 4 insert, 8 delete, 16 update, 32 truncate.
EVENT_BITS = {"INSERT": 4, "DELETE": 8, "UPDATE": 16, "TRUNCATE": 32}
TRIGGERS_SQL = """
SELECT c.relname, t.tgname, t.tgtype, t.tgenabled = 'O', p.proname, encode(t.tgargs, 'escape'),
    pg_get_triggerdef(t.oid)
FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid JOIN pg_proc p ON p.oid = t.tgfoid
WHERE NOT t.tgisinternal AND c.relnamespace = current_schema()::regnamespace AND c.relname = ANY(%s)
"""
FUNCTIONS_SQL = """
SELECT proname, prosrc, prosecdef, prorettype = 'trigger'::regtype,
    coalesce('search_path=public, pg_temp' = ANY (proconfig), false)
FROM pg_proc WHERE pronamespace = current_schema()::regnamespace AND proname = ANY(%s)
"""
# What stands between a statement and its table without being a trigger, and what lets every trigger sleep.
BYPASSES_SQL = """
SELECT format('The table %%s has the rule %%s: rows can be changed or hidden by it.', c.relname, r.rulename)
FROM pg_rewrite r JOIN pg_class c ON c.oid = r.ev_class
WHERE c.relkind = 'r' AND c.relnamespace = current_schema()::regnamespace AND c.relname = ANY(%s)
UNION ALL
SELECT format('The table %%s has row security: rows can be hidden by it.', relname) FROM pg_class
WHERE relrowsecurity AND relnamespace = current_schema()::regnamespace AND relname = ANY(%s)
UNION ALL
SELECT 'Triggers do not fire in this session: session_replication_role is set.'
WHERE current_setting('session_replication_role') <> 'origin'
ORDER BY 1
"""


def role_findings() -> list[str]:
    """Return what the role of this connection can do and should not: own a table, empty one."""
    rows = _query(ROLE_RIGHTS_SQL, [_our_tables()])
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
    """Return the guards that were switched off, removed, or changed, and what would get round them."""
    off = _silent_tables()
    sentences = [f"The guard of the table {table} is switched off: its rows can be changed." for table in off]
    return [*sentences, *_altered_functions(), *_altered_triggers(off), *_bypasses()]


def _silent_tables() -> list[str]:
    """Return the guarded tables without both of their guards."""
    rows = {table: (finals, keeps) for table, finals, keeps in _query(ACTIVE_GUARDS_SQL, [list(GUARDED_TABLES)])}
    # A table that does not answer at all counts as unguarded, not as fine.
    return [table for table in GUARDED_TABLES if 0 in rows.get(table, (0, 0))]


def _altered_functions() -> list[str]:
    """Return the functions of the guards that are not as the migrations wrote them."""
    written = written_guards().functions
    standing = {}
    for name, body, definer, is_trigger, has_path in _query(FUNCTIONS_SQL, [list(written)]):
        # Guards look their tables up in the schema of the project first, or a temporary table would blind them.
        standing[name] = Function(body, definer) if has_path or not is_trigger else None
    return [
        f"The function {name} of the guards is not as this version wrote it."
        for name in sorted(written)
        if standing.get(name) != written[name]
    ]


def _altered_triggers(off: list[str]) -> list[str]:
    """Return the triggers that differ from the migrations, are missing, or that no migration knows."""
    written = written_guards().triggers
    standing = {}
    for table, name, bits, enabled, function, arguments, definition in _query(TRIGGERS_SQL, [_our_tables()]):
        condition = re.search(r"WHEN \((.*)\) EXECUTE", definition, re.DOTALL)
        standing[table, name] = enabled and Trigger(
            frozenset(event for event, bit in EVENT_BITS.items() if bits & bit),
            "BEFORE" if bits & 2 else "AFTER",
            bool(bits & 1),
            normal_condition(condition[1]) if condition else "",
            function,
            tuple(arguments.split("\\000")[:-1]),
        )
    found = [
        f"The guard {name} of the table {table} is not as this version wrote it."
        for table, name in sorted(written)
        if standing.get((table, name)) != written[table, name] and table not in off
    ]
    unknown = sorted(standing.keys() - written.keys())
    return found + [f"The table {table} has the trigger {name}, which no migration wrote." for table, name in unknown]


def _bypasses() -> list[str]:
    return [sentence for (sentence,) in _query(BYPASSES_SQL, [_our_tables()] * 2)]


def _our_tables() -> list[str]:
    models = [model for name in APP_LABELS for model in apps.get_app_config(name).get_models(include_auto_created=True)]
    return [model._meta.db_table for model in models]


def _query(sql: str, parameters: list[list[str]]) -> list[tuple[Any, ...]]:
    with connection.cursor() as cursor:
        cursor.execute(sql, parameters)
        return list(cursor.fetchall())


def _list_some(tables: list[str]) -> str:
    return ", ".join(tables[:3]) + (f" and {len(tables) - 3} more tables" if len(tables) > 3 else "")
