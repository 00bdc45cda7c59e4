"""Entries of a lesson are append-only before its signature too, and a discarded lesson takes none of them away."""

from pathlib import Path

from django.conf import settings
from django.db import migrations, models

# A migration never follows later code: the plan as it was then.
ERASURE_PLAN = (Path(__file__).parent / "sql" / "0020_erasure_plan.sql").read_text()
APP = settings.DATABASE_APP_ROLE
PATH = "SET search_path = public, pg_temp"

TAPS = f"""
CREATE FUNCTION entry_is_final() RETURNS trigger LANGUAGE plpgsql {PATH} AS $$
BEGIN
    IF TG_OP = 'INSERT' THEN
        PERFORM 1 FROM lessons_lesson WHERE id = NEW.lesson_id AND signed_at IS NOT NULL;
        IF FOUND THEN
            RAISE EXCEPTION 'the lesson is signed: no % on %', TG_OP, TG_TABLE_NAME
                USING ERRCODE = 'restrict_violation';
        END IF;
        RETURN NEW;
    END IF;
    IF TG_OP = 'DELETE' AND (lesson_is_being_discarded(TG_RELID) OR record_is_being_erased(TG_RELID)) THEN
        RETURN OLD;
    END IF;
    RAISE EXCEPTION 'an entry of a lesson is final: no % on %', TG_OP, TG_TABLE_NAME
        USING ERRCODE = 'restrict_violation';
END $$;
DROP TRIGGER grading_tap_is_final ON grading_tap;
CREATE TRIGGER grading_tap_is_final BEFORE INSERT OR UPDATE OR DELETE ON grading_tap
    FOR EACH ROW EXECUTE FUNCTION entry_is_final();

CREATE OR REPLACE FUNCTION device_event_is_final() RETURNS trigger LANGUAGE plpgsql {PATH} AS $$
BEGIN
    IF TG_OP = 'DELETE' AND (lesson_is_being_discarded(TG_RELID) OR record_is_being_erased(TG_RELID)) THEN
        RETURN OLD;
    END IF;
    RAISE EXCEPTION 'what a tablet sent is final: no % on %', TG_OP, TG_TABLE_NAME
        USING ERRCODE = 'restrict_violation';
END $$;
"""

DISCARD = f"""
-- Every entry of a lesson in its order, and what a tablet sent and was refused.
CREATE FUNCTION lesson_entries(lesson bigint) RETURNS jsonb LANGUAGE sql STABLE {PATH} AS $$
    SELECT coalesce(jsonb_agg(entry.content ORDER BY entry.at, entry.id), '[]') FROM (
        SELECT t.at, t.id, jsonb_build_object(
            'id', t.uid, 'at', to_char(t.at AT TIME ZONE 'UTC', 'YYYY-MM-DD"T"HH24:MI:SS"Z"'), 'by', p.reference,
            'field', t.field, 'before', t.before, 'after', t.after, 'undoes', u.uid, 'refused', ''
        ) AS content
        FROM grading_tap t JOIN school_person p ON p.id = t.person_id LEFT JOIN grading_tap u ON u.id = t.undoes_id
        WHERE t.lesson_id = $1
        UNION ALL
        SELECT e.at, e.id, jsonb_build_object(
            'id', e.uid, 'at', to_char(e.at AT TIME ZONE 'UTC', 'YYYY-MM-DD"T"HH24:MI:SS"Z"'), 'by', p.reference,
            'field', e.field, 'before', '', 'after', e.value, 'undoes', NULL, 'refused', e.said
        )
        FROM grading_deviceevent e JOIN school_person p ON p.id = e.person_id
        WHERE e.lesson_id = $1 AND e.outcome = 'refused'
    ) AS entry
$$;

-- Take an unsigned lesson out of the lessons. Returns the key of the row that keeps what was entered in it.
CREATE FUNCTION discard_lesson(lesson bigint, reason text, person bigint, at timestamptz) RETURNS bigint
    LANGUAGE plpgsql SECURITY DEFINER {PATH} AS $$
DECLARE
    gone lessons_lesson;
    kept bigint;
BEGIN
    SELECT * INTO gone FROM lessons_lesson l WHERE l.id = lesson FOR UPDATE;
    IF gone.id IS NULL OR gone.signed_at IS NOT NULL OR gone.instructor_id <> person THEN
        RAISE EXCEPTION 'not discarded: only its instructor discards a lesson, and none that is signed'
            USING ERRCODE = 'restrict_violation';
    END IF;
    INSERT INTO lessons_discardedlesson (uid, enrolment_id, number, version, unit_id, "on", instructor_id, begun_at,
        begun_by_id, entries, reason, discarded_at, discarded_by_id)
    VALUES (gone.uid, gone.enrolment_id, gone.number, gone.version, gone.unit_id, gone."on", gone.instructor_id,
        gone.begun_at, gone.begun_by_id, lesson_entries(lesson), trim(reason), at, person)
    RETURNING id INTO kept;
    PERFORM set_config('record.discarding', 'on', true);
    DELETE FROM grading_faultseen s USING grading_attempt a WHERE a.id = s.attempt_id AND a.lesson_id = lesson;
    DELETE FROM grading_criterionseen s USING grading_attempt a WHERE a.id = s.attempt_id AND a.lesson_id = lesson;
    DELETE FROM grading_measure s USING grading_attempt a WHERE a.id = s.attempt_id AND a.lesson_id = lesson;
    DELETE FROM grading_attempt WHERE lesson_id = lesson;
    DELETE FROM grading_grade WHERE lesson_id = lesson;
    DELETE FROM grading_tap WHERE lesson_id = lesson;
    DELETE FROM grading_deviceevent WHERE lesson_id = lesson;
    DELETE FROM lessons_circuit WHERE lesson_id = lesson;
    DELETE FROM lessons_lesson WHERE id = lesson;
    PERFORM set_config('record.discarding', '', true);
    RETURN kept;
END $$;
REVOKE ALL ON FUNCTION discard_lesson(bigint, text, bigint, timestamptz) FROM PUBLIC;
DO $$ BEGIN
    IF EXISTS (SELECT 1 FROM pg_roles WHERE rolname = '{APP}') THEN
        GRANT EXECUTE ON FUNCTION discard_lesson(bigint, text, bigint, timestamptz) TO "{APP}";
    END IF;
END $$;

-- Asked at the end of the transaction, as of a signed lesson.
CREATE FUNCTION discarded_lesson_is_sealed() RETURNS trigger LANGUAGE plpgsql {PATH} AS $$
BEGIN
    PERFORM 1 FROM grading_seal WHERE kind = 'discarded' AND subject = NEW.uid;
    IF NOT FOUND THEN
        RAISE EXCEPTION 'lesson % is discarded and has no seal', NEW.uid USING ERRCODE = 'restrict_violation';
    END IF;
    RETURN NULL;
END $$;
CREATE CONSTRAINT TRIGGER discarded_lesson_is_sealed AFTER INSERT ON lessons_discardedlesson
    DEFERRABLE INITIALLY DEFERRED FOR EACH ROW EXECUTE FUNCTION discarded_lesson_is_sealed();
"""  # noqa: S608 - words of this module
BACK = f"""
DROP TRIGGER discarded_lesson_is_sealed ON lessons_discardedlesson;
DROP FUNCTION discarded_lesson_is_sealed();
DROP FUNCTION discard_lesson(bigint, text, bigint, timestamptz);
DROP FUNCTION lesson_entries(bigint);
CREATE OR REPLACE FUNCTION device_event_is_final() RETURNS trigger LANGUAGE plpgsql {PATH} AS $$
BEGIN
    IF TG_OP = 'DELETE' AND record_is_being_erased(TG_RELID) THEN
        RETURN OLD;
    END IF;
    PERFORM 1 FROM lessons_lesson WHERE id = OLD.lesson_id AND signed_at IS NOT NULL;
    IF FOUND OR TG_OP = 'UPDATE' THEN
        RAISE EXCEPTION 'what a tablet sent is final: no % on %', TG_OP, TG_TABLE_NAME
            USING ERRCODE = 'restrict_violation';
    END IF;
    RETURN OLD;
END $$;
DROP TRIGGER grading_tap_is_final ON grading_tap;
CREATE TRIGGER grading_tap_is_final BEFORE INSERT OR UPDATE OR DELETE ON grading_tap
    FOR EACH ROW EXECUTE FUNCTION lesson_part_is_final();
DROP FUNCTION entry_is_final();
"""
SEAL_KINDS = [
    ("lesson", "lesson"),
    ("acknowledgement", "student's signature"),
    ("release", "release"),
    ("withdrawal", "withdrawal of a release"),
    ("sheet", "printed sheet"),
    ("endorsement", "endorsement"),
    ("test", "written test"),
    ("review", "review of a written test"),
    ("unendorsed", "withdrawal of an endorsement"),
    ("set_aside", "requirement set aside"),
    ("asked_again", "requirement asked for again"),
    ("end", "end of training"),
    ("discarded", "discarded lesson"),
    ("received", "record received"),
    ("erasure", "erasure after retention"),
]


class Migration(migrations.Migration):
    dependencies = [("grading", "0019_law_may_grow"), ("lessons", "0017_discarded_lessons")]
    operations = [
        migrations.AlterField("seal", "kind", models.CharField(choices=SEAL_KINDS, max_length=15)),
        migrations.RunSQL(TAPS + DISCARD + ERASURE_PLAN, BACK),
    ]
