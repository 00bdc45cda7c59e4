"""A signed lesson and its circuits are final, for every user of the database."""

from django.db import migrations

FORWARD = """
CREATE TRIGGER lesson_is_final BEFORE UPDATE OR DELETE ON lessons_lesson
    FOR EACH ROW WHEN (OLD.signed_at IS NOT NULL) EXECUTE FUNCTION record_is_final();
CREATE TRIGGER lesson_is_kept BEFORE TRUNCATE ON lessons_lesson
    FOR EACH STATEMENT EXECUTE FUNCTION record_is_final();

-- For whatever belongs to a lesson: refused in every way once that lesson is signed.
CREATE FUNCTION lesson_part_is_final() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF TG_OP <> 'INSERT' THEN
        PERFORM 1 FROM lessons_lesson WHERE id = OLD.lesson_id AND signed_at IS NOT NULL;
        IF FOUND THEN
            RAISE EXCEPTION 'the lesson is signed: no % on %', TG_OP, TG_TABLE_NAME
                USING ERRCODE = 'restrict_violation';
        END IF;
    END IF;
    IF TG_OP <> 'DELETE' THEN
        PERFORM 1 FROM lessons_lesson WHERE id = NEW.lesson_id AND signed_at IS NOT NULL;
        IF FOUND THEN
            RAISE EXCEPTION 'the lesson is signed: no % on %', TG_OP, TG_TABLE_NAME
                USING ERRCODE = 'restrict_violation';
        END IF;
        RETURN NEW;
    END IF;
    RETURN OLD;
END $$;

CREATE TRIGGER circuit_is_final BEFORE INSERT OR UPDATE OR DELETE ON lessons_circuit
    FOR EACH ROW EXECUTE FUNCTION lesson_part_is_final();
CREATE TRIGGER circuit_is_kept BEFORE TRUNCATE ON lessons_circuit
    FOR EACH STATEMENT EXECUTE FUNCTION record_is_final();
"""

BACK = """
DROP TRIGGER circuit_is_kept ON lessons_circuit;
DROP TRIGGER circuit_is_final ON lessons_circuit;
DROP FUNCTION lesson_part_is_final();
DROP TRIGGER lesson_is_kept ON lessons_lesson;
DROP TRIGGER lesson_is_final ON lessons_lesson;
"""


class Migration(migrations.Migration):
    dependencies = [("lessons", "0001_initial"), ("school", "0002_journal_is_final")]
    operations = [migrations.RunSQL(FORWARD, BACK)]
