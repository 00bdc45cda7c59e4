"""Entries of a lesson are append-only before its signature too; facts and journal are sealed, and not dated back.

The triggers about dates hold once the register is open (grading/evidence/register.py).
"""

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

REGISTER = f"""
CREATE FUNCTION register_is_open() RETURNS boolean LANGUAGE sql STABLE {PATH} AS $$
    SELECT EXISTS (
        SELECT FROM grading_seal WHERE kind = 'register' AND subject = '7b0c3f0e-5a0c-4d57-9c55-6a1d2f3e4b50'
    )
$$;

-- The moment of the newest seal, now at most, because a clock may have been ahead once; nothing while the register is
-- not open.
CREATE FUNCTION newest_seal() RETURNS timestamptz LANGUAGE sql VOLATILE {PATH} AS $$
    SELECT least(sealed_at, clock_timestamp()) FROM grading_seal WHERE register_is_open() ORDER BY number DESC LIMIT 1
$$;

-- A standard in force since a day that has verdicts already would change them.
CREATE FUNCTION standard_is_of_the_future() RETURNS trigger LANGUAGE plpgsql {PATH} AS $$
BEGIN
    IF NEW.valid_from < (SELECT (newest_seal() AT TIME ZONE s.time_zone)::date FROM school_school s LIMIT 1) THEN
        RAISE EXCEPTION 'dated into the past of the chain: no standard in force since %', NEW.valid_from
            USING ERRCODE = 'restrict_violation';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER standard_is_of_the_future BEFORE INSERT ON grading_standard
    FOR EACH ROW EXECUTE FUNCTION standard_is_of_the_future();

-- So would gates of a type on a day on which a signed lesson was flown in it.
CREATE FUNCTION gates_are_of_the_future() RETURNS trigger LANGUAGE plpgsql {PATH} AS $$
BEGIN
    IF register_is_open() AND EXISTS (
        SELECT FROM lessons_lesson l JOIN school_aircraft a ON a.id = l.aircraft_id
        WHERE a.type_id = NEW.aircraft_type_id AND l.signed_at IS NOT NULL AND l."on" >= NEW.valid_from
    ) THEN
        RAISE EXCEPTION 'dated into the past of the chain: no gates in force since %', NEW.valid_from
            USING ERRCODE = 'restrict_violation';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER gates_are_of_the_future BEFORE INSERT OR UPDATE ON lessons_gateset
    FOR EACH ROW EXECUTE FUNCTION gates_are_of_the_future();

-- A document may be issued long before it is recorded; the moment at which the school learned of it is now. A day,
-- because a transaction may wait, and the clocks of two servers differ.
CREATE FUNCTION document_is_recorded_now() RETURNS trigger LANGUAGE plpgsql {PATH} AS $$
BEGIN
    IF NEW.recorded_at < newest_seal() - interval '1 day' THEN
        RAISE EXCEPTION 'dated into the past of the chain: no document recorded at %', NEW.recorded_at
            USING ERRCODE = 'restrict_violation';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER document_is_recorded_now BEFORE INSERT ON school_paper
    FOR EACH ROW EXECUTE FUNCTION document_is_recorded_now();

CREATE FUNCTION journal_is_written_now() RETURNS trigger LANGUAGE plpgsql {PATH} AS $$
BEGIN
    IF NEW.at < newest_seal() - interval '1 day' THEN
        RAISE EXCEPTION 'dated into the past of the chain: no entry of the journal at %', NEW.at
            USING ERRCODE = 'restrict_violation';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER journal_is_written_now BEFORE INSERT ON school_journalentry
    FOR EACH ROW EXECUTE FUNCTION journal_is_written_now();

-- The seals whose texts an erasure of this enrolment empties: also those of the facts about the student.
CREATE OR REPLACE FUNCTION erasure_seals(enrolment bigint) RETURNS SETOF bigint LANGUAGE plpgsql STABLE {PATH} AS $$
DECLARE
    part record;
    student bigint := (SELECT student_id FROM lessons_enrolment WHERE id = enrolment);
BEGIN
    FOR part IN SELECT s.tbl, s.condition FROM erasure_steps(enrolment) s WHERE EXISTS (
        SELECT 1 FROM pg_attribute WHERE attrelid = s.tbl::regclass AND attname = 'uid' AND NOT attisdropped
    ) LOOP
        RETURN QUERY EXECUTE format(
            'SELECT number FROM grading_seal WHERE kind <> ''erasure'' AND subject IN (SELECT uid FROM %I WHERE %s)',
            part.tbl, part.condition) USING enrolment;
    END LOOP;
    RETURN QUERY SELECT number FROM grading_seal
        WHERE kind = 'fact' AND subject = md5('lessons_enrolment:' || enrolment)::uuid;
    IF erasure_frees_person(enrolment) THEN
        RETURN QUERY SELECT number FROM grading_seal WHERE kind = 'fact' AND subject IN (
            SELECT md5('school_person:' || student)::uuid
            UNION ALL SELECT md5('school_paper:' || p.id)::uuid FROM school_paper p WHERE p.person_id = student);
    END IF;
END $$;
"""  # noqa: S608
BACK = f"""
CREATE OR REPLACE FUNCTION erasure_seals(enrolment bigint) RETURNS SETOF bigint LANGUAGE plpgsql STABLE {PATH} AS $$
DECLARE
    part record;
BEGIN
    FOR part IN SELECT s.tbl, s.condition FROM erasure_steps(enrolment) s WHERE EXISTS (
        SELECT 1 FROM pg_attribute WHERE attrelid = s.tbl::regclass AND attname = 'uid' AND NOT attisdropped
    ) LOOP
        RETURN QUERY EXECUTE format(
            'SELECT number FROM grading_seal WHERE kind <> ''erasure'' AND subject IN (SELECT uid FROM %I WHERE %s)',
            part.tbl, part.condition) USING enrolment;
    END LOOP;
END $$;
DROP TRIGGER journal_is_written_now ON school_journalentry;
DROP FUNCTION journal_is_written_now();
DROP TRIGGER document_is_recorded_now ON school_paper;
DROP FUNCTION document_is_recorded_now();
DROP TRIGGER gates_are_of_the_future ON lessons_gateset;
DROP FUNCTION gates_are_of_the_future();
DROP TRIGGER standard_is_of_the_future ON grading_standard;
DROP FUNCTION standard_is_of_the_future();
DROP FUNCTION newest_seal();
DROP FUNCTION register_is_open();
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
"""  # noqa: S608
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
    ("register", "opening of the register"),
    ("fact", "fact of the school"),
    ("journal", "entries of the journal"),
]


class Migration(migrations.Migration):
    dependencies = [("grading", "0019_law_may_grow"), ("lessons", "0017_discarded_lessons")]
    operations = [
        migrations.AlterField("seal", "kind", models.CharField(choices=SEAL_KINDS, max_length=15)),
        migrations.RemoveConstraint("seal", "seal_once"),
        migrations.AddConstraint(
            "seal",
            models.UniqueConstraint(
                condition=models.Q(("kind", "fact"), _negated=True), fields=("kind", "subject"), name="seal_once"
            ),
        ),
        migrations.AddIndex(
            "seal",
            models.Index(condition=models.Q(("kind", "journal")), fields=["-number"], name="seal_journal"),
        ),
        migrations.AddField(
            "signature",
            "proof",
            models.CharField(blank=True, default="", max_length=80, verbose_name="proof of this installation"),
            preserve_default=False,
        ),
        migrations.RunSQL(TAPS + DISCARD + REGISTER + ERASURE_PLAN, BACK),
    ]
