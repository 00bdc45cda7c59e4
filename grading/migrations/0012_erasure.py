"""Erasure after the time of keeping: the account of it, and the one function through which it can be done.

Every guard stays as it was for everybody. It lets a row go only inside `erase_enrolment`, which runs as the owner of
the tables and marks itself by a setting: the application's role can set the mark but never is the
owner. Guards look their tables up in the schema of the project first, so that a temporary table does not blind them.
"""

import uuid
from pathlib import Path

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

# A migration never follows later code: the plan as it was then.
ERASURE_PLAN = (Path(__file__).parent / "sql" / "0012_erasure_plan.sql").read_text()

PATH = "SET search_path = public, pg_temp"
APP = settings.DATABASE_APP_ROLE

HELPERS = f"""
CREATE FUNCTION years_later(day date, years int) RETURNS date LANGUAGE sql IMMUTABLE {PATH} AS $$
    -- Where the year has no 29 February it is 1 March: nothing is kept a day too short.
    SELECT CASE WHEN extract(day FROM moved.day) < extract(day FROM $1) THEN moved.day + 1 ELSE moved.day END
    FROM (SELECT ($1 + make_interval(years => $2))::date AS day) AS moved
$$;

-- The last day on which the record of an enrolment must be kept; nothing while training has not ended.
CREATE FUNCTION kept_until(enrolment bigint) RETURNS date LANGUAGE sql STABLE {PATH} AS $$
    SELECT CASE WHEN e.ended_on IS NOT NULL THEN greatest(
        years_later(e.ended_on, s.retention_years),
        years_later((SELECT max(l.on) FROM lessons_lesson l WHERE l.enrolment_id = e.id), 3),
        years_later((SELECT max(given_on) FROM lessons_endorsement WHERE enrolment_id = e.id), 3),
        years_later(
            (SELECT max((decided_at AT TIME ZONE 'UTC')::date) FROM grading_release WHERE enrolment_id = e.id), 3
        )
    ) END
    FROM lessons_enrolment e CROSS JOIN school_school s WHERE e.id = $1
$$;

-- Whether a guard may let a row of this table go.
CREATE FUNCTION record_is_being_erased(relation oid) RETURNS boolean LANGUAGE sql STABLE {PATH} AS $$
    SELECT coalesce(current_setting('record.erasing', true), '') = 'on'
        AND current_user = pg_get_userbyid(c.relowner)
        AND (c.relname = 'grading_seal' OR c.relname IN (SELECT tbl FROM erasure_plan()))
    FROM pg_class c WHERE c.oid = $1
$$;

-- Whether nothing else in the database needs the person: no other enrolment, no other role, nothing done by them.
CREATE FUNCTION erasure_frees_person(enrolment bigint) RETURNS boolean LANGUAGE plpgsql STABLE {PATH} AS $$
DECLARE
    student bigint;
    link record;
    erased text;
    needed boolean;
BEGIN
    SELECT p.id INTO student FROM lessons_enrolment e JOIN school_person p ON p.id = e.student_id
        WHERE e.id = enrolment AND p.roles <@ ARRAY['student']::varchar[];
    IF student IS NULL THEN
        RETURN false;
    END IF;
    FOR link IN
        SELECT c.conrelid::regclass::text AS tbl, a.attname AS col
        FROM pg_constraint c JOIN pg_attribute a ON a.attrelid = c.conrelid AND a.attnum = c.conkey[1]
        WHERE c.contype = 'f' AND c.confrelid = 'school_person'::regclass
    LOOP
        SELECT coalesce(string_agg('(' || p.condition || ')', ' OR '), 'false') INTO erased
            FROM erasure_plan() p WHERE p.tbl = link.tbl;
        EXECUTE format('SELECT EXISTS (SELECT 1 FROM %s WHERE %I = $2 AND (%s) IS NOT TRUE)',
            link.tbl, link.col, erased) INTO needed USING enrolment, student;
        IF needed THEN
            RETURN false;
        END IF;
    END LOOP;
    RETURN true;
END $$;

-- The steps that an erasure of this enrolment takes, in their order.
CREATE FUNCTION erasure_steps(enrolment bigint)
    RETURNS TABLE (step int, tbl text, condition text) LANGUAGE sql STABLE {PATH} AS $$
    SELECT p.step, p.tbl, p.condition FROM erasure_plan() p
    WHERE NOT p.alone OR erasure_frees_person($1) ORDER BY p.step
$$;

-- The seals whose texts an erasure of this enrolment empties.
CREATE FUNCTION erasure_seals(enrolment bigint) RETURNS SETOF bigint LANGUAGE plpgsql STABLE {PATH} AS $$
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
"""  # noqa: S608 - words of this module, as below

ERASE = f"""
-- What the erasure row and the tombstone must say before anything goes. Returns the seals to be emptied.
CREATE FUNCTION erasure_is_due(asked grading_erasure, enrolment bigint, today date)
    RETURNS bigint[] LANGUAGE plpgsql STABLE {PATH} SET timezone = 'UTC' AS $$
DECLARE
    last_day date := kept_until(enrolment);
    stone grading_seal;
    seals bigint[];
BEGIN
    IF asked.confirmed_at IS NULL OR asked.withdrawn_at IS NOT NULL OR asked.confirmed_by_id = asked.proposed_by_id
        OR (SELECT count(*) FROM school_person WHERE id IN (asked.proposed_by_id, asked.confirmed_by_id)
            AND is_active AND id <> asked.person_id AND roles && ARRAY['admin', 'chief']::varchar[]) <> 2 THEN
        RAISE EXCEPTION 'not erased: two different people, administrator or chief instructor, have not confirmed it'
            USING ERRCODE = 'restrict_violation';
    END IF;
    IF last_day IS NULL OR today > clock_timestamp()::date OR today <= last_day
        OR asked.confirmed_at::date <= last_day THEN
        RAISE EXCEPTION 'not erased: the record must be kept until %', coalesce(last_day::text, 'training has ended')
            USING ERRCODE = 'restrict_violation';
    END IF;
    SELECT * INTO stone FROM grading_seal WHERE kind = 'erasure' AND subject = asked.uid;
    SELECT coalesce(array_agg(n), '{{}}') INTO seals FROM erasure_seals(enrolment) AS n;
    IF stone.number IS NULL
        OR stone.digest <> encode(sha256(convert_to(stone.previous || E'\n' || stone.canonical, 'UTF8')), 'hex')
        OR EXISTS (
            SELECT number, kind, digest FROM grading_seal WHERE number = ANY (seals) EXCEPT
            SELECT number, kind, digest FROM jsonb_to_recordset(stone.canonical::jsonb -> 'erased')
                AS named (number bigint, kind varchar, digest varchar))
        OR jsonb_array_length(stone.canonical::jsonb -> 'erased') <> cardinality(seals)
        OR EXISTS (SELECT 1 FROM unnest(seals) AS n WHERE n >= stone.number) THEN
        RAISE EXCEPTION 'not erased: no seal of this erasure names every seal that it empties'
            USING ERRCODE = 'restrict_violation';
    END IF;
    RETURN seals;
END $$;

-- Carry out a confirmed erasure; `today` is the day it is done. Returns how many rows of each table went.
CREATE FUNCTION erase_enrolment(erasure bigint, today date) RETURNS jsonb LANGUAGE plpgsql SECURITY DEFINER
    {PATH} SET timezone = 'UTC' AS $$
DECLARE
    asked grading_erasure;
    enrolment bigint;
    student bigint;
    seals bigint[];
    free boolean;
    part record;
    gone bigint;
    counts jsonb := '{{}}';
BEGIN
    SELECT * INTO asked FROM grading_erasure WHERE id = erasure FOR UPDATE;
    SELECT id, student_id INTO enrolment, student FROM lessons_enrolment
        WHERE uid = asked.enrolment_uid AND student_id = asked.person_id FOR UPDATE;
    IF enrolment IS NULL THEN
        RAISE EXCEPTION 'not erased: there is no such erasure, or its record is gone'
            USING ERRCODE = 'restrict_violation';
    END IF;
    seals := erasure_is_due(asked, enrolment, today);
    free := erasure_frees_person(enrolment);
    PERFORM set_config('record.erasing', 'on', true);
    UPDATE grading_seal SET canonical = '' WHERE number = ANY (seals);
    FOR part IN SELECT * FROM erasure_steps(enrolment) LOOP
        EXECUTE format('DELETE FROM %I WHERE %s', part.tbl, part.condition) USING enrolment;
        GET DIAGNOSTICS gone = ROW_COUNT;
        counts := counts || jsonb_build_object(part.tbl, coalesce((counts ->> part.tbl)::bigint, 0) + gone);
    END LOOP;
    PERFORM set_config('record.erasing', '', true);
    IF free THEN
        -- A login name cannot hold a space, so nobody else has this one; no password begins with an exclamation mark.
        UPDATE school_person SET given_name = 'Student', family_name = reference, username = 'erased ' || id,
            email = '', born = NULL, password = '!', last_login = NULL, is_active = false WHERE id = student;
    END IF;
    SET CONSTRAINTS ALL IMMEDIATE;  -- a row that still needs what went stops it here
    SET CONSTRAINTS ALL DEFERRED;
    RETURN jsonb_build_object('rows', counts, 'seals', cardinality(seals), 'person', free);
END $$;

REVOKE ALL ON FUNCTION erase_enrolment(bigint, date) FROM PUBLIC;
DO $$ BEGIN
    IF EXISTS (SELECT 1 FROM pg_roles WHERE rolname = '{APP}') THEN
        GRANT EXECUTE ON FUNCTION erase_enrolment(bigint, date) TO "{APP}";
    END IF;
END $$;
"""  # noqa: S608

GONE = "TG_OP = 'DELETE' AND record_is_being_erased(TG_RELID)"
FINAL = f"""
CREATE OR REPLACE FUNCTION record_is_final() RETURNS trigger LANGUAGE plpgsql {PATH} AS $$
BEGIN
    IF TG_OP IN ('UPDATE', 'DELETE') AND record_is_being_erased(TG_RELID) THEN
        IF TG_OP = 'DELETE' AND TG_TABLE_NAME <> 'grading_seal' THEN
            RETURN OLD;
        ELSIF TG_TABLE_NAME = 'grading_seal' AND TG_OP = 'UPDATE' THEN
            IF to_jsonb(NEW) = to_jsonb(OLD) || '{{"canonical": ""}}' THEN
                RETURN NEW;
            END IF;
        END IF;
    END IF;
    RAISE EXCEPTION 'the record is final: no % on %', TG_OP, TG_TABLE_NAME USING ERRCODE = 'restrict_violation';
END $$;
"""
AS_BEFORE = """
CREATE OR REPLACE FUNCTION record_is_final() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION 'the record is final: no % on %', TG_OP, TG_TABLE_NAME USING ERRCODE = 'restrict_violation';
END $$;
"""


def part_is_final(name: str, lesson_of: str, gone: str, path: str = "") -> str:
    """The guard of whatever belongs to a lesson; `lesson_of` finds its signed lesson from OLD or NEW."""
    old, new = lesson_of.format(row="OLD"), lesson_of.format(row="NEW")
    return f"""
CREATE OR REPLACE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql {path} AS $$
BEGIN
    IF TG_OP <> 'INSERT' THEN
        PERFORM 1 FROM {old} AND l.signed_at IS NOT NULL;
        IF FOUND AND NOT ({gone}) THEN
            RAISE EXCEPTION 'the lesson is signed: no % on %', TG_OP, TG_TABLE_NAME
                USING ERRCODE = 'restrict_violation';
        END IF;
    END IF;
    IF TG_OP <> 'DELETE' THEN
        PERFORM 1 FROM {new} AND l.signed_at IS NOT NULL;
        IF FOUND THEN
            RAISE EXCEPTION 'the lesson is signed: no % on %', TG_OP, TG_TABLE_NAME
                USING ERRCODE = 'restrict_violation';
        END IF;
        RETURN NEW;
    END IF;
    RETURN OLD;
END $$;
"""


def withdrawn_once(table: str, fields: tuple[str, ...], gone: str, path: str = "") -> str:
    """Only the fields of a withdrawal may change, and only while it is not withdrawn."""
    free = " - ".join(f"'{field}'" for field in fields)
    return f"""
CREATE OR REPLACE FUNCTION {table}_withdrawn_once() RETURNS trigger LANGUAGE plpgsql {path} AS $$
BEGIN
    IF {gone} THEN
        RETURN OLD;
    END IF;
    IF TG_OP = 'DELETE' OR OLD.withdrawn_at IS NOT NULL
        OR (to_jsonb(OLD) - {free}) IS DISTINCT FROM (to_jsonb(NEW) - {free}) THEN
        RAISE EXCEPTION 'the decision is final: no % on %', TG_OP, TG_TABLE_NAME
            USING ERRCODE = 'restrict_violation';
    END IF;
    RETURN NEW;
END $$;
"""


def changes_once(gone: str, path: str = "") -> str:
    """The columns given to the trigger are free until the first of them is filled."""
    return f"""
CREATE OR REPLACE FUNCTION record_changes_once() RETURNS trigger LANGUAGE plpgsql {path} AS $$
BEGIN
    IF {gone} THEN
        RETURN OLD;
    END IF;
    IF TG_OP = 'DELETE' OR to_jsonb(OLD) ->> TG_ARGV[0] IS NOT NULL
        OR (to_jsonb(OLD) - TG_ARGV::text[]) IS DISTINCT FROM (to_jsonb(NEW) - TG_ARGV::text[]) THEN
        RAISE EXCEPTION 'the record is final: no % on %', TG_OP, TG_TABLE_NAME USING ERRCODE = 'restrict_violation';
    END IF;
    RETURN NEW;
END $$;
"""


def guards(gone: str, path: str = "") -> str:
    return (
        changes_once(gone, path)
        + part_is_final("lesson_part_is_final", "lessons_lesson l WHERE l.id = {row}.lesson_id", gone, path)
        + part_is_final(
            "attempt_part_is_final",
            "grading_attempt a JOIN lessons_lesson l ON l.id = a.lesson_id WHERE a.id = {row}.attempt_id",
            gone,
            path,
        )
        + withdrawn_once("grading_release", ("withdrawn_at", "withdrawn_by_id", "withdrawal_reason"), gone, path)
        + withdrawn_once("grading_setaside", ("withdrawn_at", "withdrawn_by_id"), gone, path)
    )


ACCOUNT = f"""
CREATE FUNCTION erasure_is_final() RETURNS trigger LANGUAGE plpgsql {PATH} AS $$
DECLARE
    outcome text[] := ARRAY['confirmed_at', 'confirmed_by_id', 'withdrawn_at', 'withdrawn_by_id'];
BEGIN
    IF TG_OP = 'DELETE' OR OLD.confirmed_at IS NOT NULL OR OLD.withdrawn_at IS NOT NULL
        OR (to_jsonb(OLD) - outcome) IS DISTINCT FROM (to_jsonb(NEW) - outcome) THEN
        RAISE EXCEPTION 'the erasure is final: no % on %', TG_OP, TG_TABLE_NAME USING ERRCODE = 'restrict_violation';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER grading_erasure_is_final BEFORE UPDATE OR DELETE ON grading_erasure
    FOR EACH ROW EXECUTE FUNCTION erasure_is_final();
CREATE TRIGGER grading_erasure_is_kept BEFORE TRUNCATE ON grading_erasure
    FOR EACH STATEMENT EXECUTE FUNCTION record_is_final();
"""


def all_guards(setting: str) -> str:
    """Every trigger function of the project looks its tables up by the same path, whoever runs it."""
    return f"""
DO $$ DECLARE guard regprocedure; BEGIN
    FOR guard IN
        SELECT oid FROM pg_proc WHERE prorettype = 'trigger'::regtype AND pronamespace = 'public'::regnamespace
            AND proname NOT LIKE 'procrastinate%'
    LOOP
        EXECUTE 'ALTER FUNCTION ' || guard || ' {setting}';
    END LOOP;
END $$;
"""  # noqa: S608


FORWARD = ERASURE_PLAN + HELPERS + FINAL + guards(GONE, PATH) + ACCOUNT + ERASE + all_guards(PATH)
BACK = (
    all_guards("RESET search_path")
    + AS_BEFORE
    + guards("false")
    + """
DROP TRIGGER grading_erasure_is_kept ON grading_erasure;
DROP TRIGGER grading_erasure_is_final ON grading_erasure;
DROP FUNCTION erasure_is_final();
DROP FUNCTION erase_enrolment(bigint, date);
DROP FUNCTION erasure_is_due(grading_erasure, bigint, date);
DROP FUNCTION erasure_seals(bigint);
DROP FUNCTION erasure_steps(bigint);
DROP FUNCTION erasure_frees_person(bigint);
DROP FUNCTION record_is_being_erased(oid);
DROP FUNCTION kept_until(bigint);
DROP FUNCTION years_later(date, int);
DROP FUNCTION erasure_plan();
"""
)


class Migration(migrations.Migration):
    dependencies = [
        ("grading", "0011_received_records"),
        ("lessons", "0009_earlier_training"),
        ("school", "0009_signing_certificates"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]
    operations = [
        migrations.CreateModel(
            name="Erasure",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("uid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("enrolment_uid", models.UUIDField()),
                ("person_id", models.BigIntegerField()),
                ("reference", models.CharField(max_length=20, verbose_name="school number")),
                ("reason", models.TextField()),
                ("proposed_at", models.DateTimeField()),
                ("confirmed_at", models.DateTimeField(blank=True, null=True)),
                ("withdrawn_at", models.DateTimeField(blank=True, null=True)),
                (
                    "confirmed_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "proposed_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "withdrawn_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("withdrawn_at", None)),
                        fields=("enrolment_uid",),
                        name="erasure_one_at_a_time",
                    ),
                    models.CheckConstraint(condition=models.Q(("reason", ""), _negated=True), name="erasure_reason"),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("confirmed_at", None), ("confirmed_by", None)),
                            models.Q(("confirmed_at__isnull", False), ("confirmed_by__isnull", False)),
                            _connector="OR",
                        ),
                        name="erasure_confirmed_at_by",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("withdrawn_at", None), ("withdrawn_by", None)),
                            models.Q(("withdrawn_at__isnull", False), ("withdrawn_by__isnull", False)),
                            _connector="OR",
                        ),
                        name="erasure_withdrawn_at_by",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("confirmed_at", None), ("withdrawn_at", None), _connector="OR"),
                        name="erasure_one_outcome",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("confirmed_by", None),
                            models.Q(("confirmed_by", models.F("proposed_by")), _negated=True),
                            _connector="OR",
                        ),
                        name="erasure_by_two_people",
                    ),
                ],
            },
        ),
        migrations.RunSQL(FORWARD, BACK),
    ]
