"""Guards are compared with the migrations: by the body of their functions, by their events and conditions."""

import pytest

from grading.evidence.audit import database_guards
from grading.evidence.audit.guard_text import written_guards
from tests.database_guards import execute_sql

pytestmark = pytest.mark.django_db


def test_a_database_of_this_version_has_the_guards_of_its_migrations() -> None:
    written = written_guards()
    assert len(written.functions) > 30
    assert len(written.triggers) > 80
    assert any(trigger.condition for trigger in written.triggers.values())
    assert any(trigger.arguments for trigger in written.triggers.values())
    assert database_guards.guard_findings() == []


NOTHING = (
    "RETURNS trigger LANGUAGE plpgsql SET search_path = public, pg_temp AS $$ BEGIN RETURN coalesce(NEW, OLD); END $$"
)
EMPTIED = "The function record_is_final of the guards is not as this version wrote it."
ALTERED = "The guard {} of the table {} is not as this version wrote it."
ATTACKS = {
    "a body is emptied": (f"CREATE OR REPLACE FUNCTION record_is_final() {NOTHING}", EMPTIED),
    "a function looks its tables up elsewhere": ("ALTER FUNCTION record_is_final() RESET search_path", EMPTIED),
    "a helper says yes": (
        "CREATE OR REPLACE FUNCTION record_is_being_erased(relation oid) RETURNS boolean LANGUAGE sql STABLE"
        " SET search_path = public, pg_temp AS $$ SELECT true $$",
        "The function record_is_being_erased of the guards is not as this version wrote it.",
    ),
    "a condition is never met": (
        "DROP TRIGGER lesson_is_final ON lessons_lesson; CREATE TRIGGER lesson_is_final BEFORE UPDATE OR DELETE ON"
        " lessons_lesson FOR EACH ROW WHEN (OLD.signed_at IS NULL) EXECUTE FUNCTION record_is_final()",
        ALTERED.format("lesson_is_final", "lessons_lesson"),
    ),
    "an event is left out": (
        "DROP TRIGGER grading_seal_is_final ON grading_seal; CREATE TRIGGER grading_seal_is_final BEFORE DELETE ON"
        " grading_seal FOR EACH ROW EXECUTE FUNCTION record_is_final()",
        ALTERED.format("grading_seal_is_final", "grading_seal"),
    ),
    "an argument lets a column change": (
        "DROP TRIGGER lessons_knowledgetest_is_final ON lessons_knowledgetest; CREATE TRIGGER"
        " lessons_knowledgetest_is_final BEFORE UPDATE OR DELETE ON lessons_knowledgetest FOR EACH ROW EXECUTE"
        " FUNCTION record_changes_once('reviewed_on', 'reviewed_by_id', 'wrong')",
        ALTERED.format("lessons_knowledgetest_is_final", "lessons_knowledgetest"),
    ),
    "a guard that is no guard of a table is dropped": (
        "DROP TRIGGER lesson_is_sealed ON lessons_lesson", ALTERED.format("lesson_is_sealed", "lessons_lesson"),
    ),
    "a guard is switched off": (
        "ALTER TABLE grading_standard DISABLE TRIGGER standard_is_of_the_future",
        ALTERED.format("standard_is_of_the_future", "grading_standard"),
    ),
    "a trigger improves what is entered": (
        f"CREATE FUNCTION improve() {NOTHING}; CREATE TRIGGER improve BEFORE INSERT ON grading_attempt"
        " FOR EACH ROW EXECUTE FUNCTION improve()",
        "The table grading_attempt has the trigger improve, which no migration wrote.",
    ),
    "a rule swallows what is written": (
        "CREATE RULE silent AS ON INSERT TO school_journalentry DO INSTEAD NOTHING",
        "The table school_journalentry has the rule silent: rows can be changed or hidden by it.",
    ),
    "rows are hidden": (
        "ALTER TABLE grading_seal ENABLE ROW LEVEL SECURITY",
        "The table grading_seal has row security: rows can be hidden by it.",
    ),
}  # fmt: skip


@pytest.mark.parametrize("attack", ATTACKS)
def test_a_guard_that_was_changed_is_named(attack: str) -> None:
    statement, sentence = ATTACKS[attack]
    execute_sql(statement)
    assert database_guards.guard_findings() == [sentence]
