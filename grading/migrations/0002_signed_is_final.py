"""What was graded in a signed lesson, what was signed, sealed, decided or printed: all final."""

from django.db import migrations

WITH_LESSON = ("grading_attempt", "grading_grade", "grading_tap")
WITH_ATTEMPT = ("grading_faultseen", "grading_measure")
FINAL_AT_ONCE = ("grading_signature", "grading_seal", "grading_progresssheet")
WITHDRAWN_ONCE = {
    "grading_release": ("withdrawn_at", "withdrawn_by_id", "withdrawal_reason"),
    "grading_setaside": ("withdrawn_at", "withdrawn_by_id"),
}

ATTEMPT_FUNCTION = """
CREATE FUNCTION attempt_part_is_final() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF TG_OP <> 'INSERT' THEN
        PERFORM 1 FROM grading_attempt a JOIN lessons_lesson l ON l.id = a.lesson_id
            WHERE a.id = OLD.attempt_id AND l.signed_at IS NOT NULL;
        IF FOUND THEN
            RAISE EXCEPTION 'the lesson is signed: no % on %', TG_OP, TG_TABLE_NAME
                USING ERRCODE = 'restrict_violation';
        END IF;
    END IF;
    IF TG_OP <> 'DELETE' THEN
        PERFORM 1 FROM grading_attempt a JOIN lessons_lesson l ON l.id = a.lesson_id
            WHERE a.id = NEW.attempt_id AND l.signed_at IS NOT NULL;
        IF FOUND THEN
            RAISE EXCEPTION 'the lesson is signed: no % on %', TG_OP, TG_TABLE_NAME
                USING ERRCODE = 'restrict_violation';
        END IF;
        RETURN NEW;
    END IF;
    RETURN OLD;
END $$;
"""


def trigger(table: str, events: str, function: str, condition: str = "") -> str:
    return (
        f"CREATE TRIGGER {table}_is_final BEFORE {events} ON {table}"
        f" FOR EACH ROW {condition} EXECUTE FUNCTION {function}();\n"
        f"CREATE TRIGGER {table}_is_kept BEFORE TRUNCATE ON {table}"
        f" FOR EACH STATEMENT EXECUTE FUNCTION record_is_final();\n"
    )


def withdrawn_once(table: str, fields: tuple[str, ...]) -> str:
    """Only the fields of a withdrawal may change, and only while it is not withdrawn."""
    free = " - ".join(f"'{field}'" for field in fields)
    return (
        f"CREATE FUNCTION {table}_withdrawn_once() RETURNS trigger LANGUAGE plpgsql AS $$\n"
        f"BEGIN\n"
        f"    IF TG_OP = 'DELETE' OR OLD.withdrawn_at IS NOT NULL\n"
        f"        OR (to_jsonb(OLD) - {free}) IS DISTINCT FROM (to_jsonb(NEW) - {free}) THEN\n"
        f"        RAISE EXCEPTION 'the decision is final: no % on %', TG_OP, TG_TABLE_NAME\n"
        f"            USING ERRCODE = 'restrict_violation';\n"
        f"    END IF;\n"
        f"    RETURN NEW;\n"
        f"END $$;\n"
    ) + trigger(table, "UPDATE OR DELETE", f"{table}_withdrawn_once")


FORWARD = ATTEMPT_FUNCTION
for _table in WITH_LESSON:
    FORWARD += trigger(_table, "INSERT OR UPDATE OR DELETE", "lesson_part_is_final")
for _table in WITH_ATTEMPT:
    FORWARD += trigger(_table, "INSERT OR UPDATE OR DELETE", "attempt_part_is_final")
for _table in FINAL_AT_ONCE:
    FORWARD += trigger(_table, "UPDATE OR DELETE", "record_is_final")
for _table, _fields in WITHDRAWN_ONCE.items():
    FORWARD += withdrawn_once(_table, _fields)

ALL = (*WITH_LESSON, *WITH_ATTEMPT, *FINAL_AT_ONCE, *WITHDRAWN_ONCE)
BACK = "".join(
    f"DROP TRIGGER {table}_is_final ON {table};\nDROP TRIGGER {table}_is_kept ON {table};\n" for table in ALL
)
BACK += "".join(f"DROP FUNCTION {table}_withdrawn_once();\n" for table in WITHDRAWN_ONCE)
BACK += "DROP FUNCTION attempt_part_is_final();\n"


class Migration(migrations.Migration):
    dependencies = [("grading", "0001_initial"), ("lessons", "0002_signed_is_final")]
    operations = [migrations.RunSQL(FORWARD, BACK)]
