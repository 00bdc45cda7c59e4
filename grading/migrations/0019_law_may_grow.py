"""A later standard may add to the law and be stricter; it keeps what the first and the newest one say the law asks for.

An item of training may be split into its halves, whose codes begin with its own and a colon. Topics and manoeuvres may
be added; kinds and classes of a document may be left out, but not all. Under the European rules the days of recency are
the school's own, though older standards call them law.
"""

from django.db import migrations

FORWARD = """
CREATE FUNCTION legal_value_is_kept(name text, asked jsonb, given jsonb, is_first boolean) RETURNS boolean
    LANGUAGE sql IMMUTABLE AS $$
    SELECT CASE
        WHEN given IS NULL THEN false
        WHEN given = asked THEN true
        -- Against the first standard only: a school that was stricter than the law may come back to it.
        WHEN name = 'years' THEN NOT is_first OR given::text::int >= asked::text::int
        WHEN name = 'days' THEN NOT is_first OR given::text::int BETWEEN 1 AND asked::text::int
        WHEN name IN ('topics', 'manoeuvres') THEN given @> asked
        WHEN name IN ('kinds', 'classes') THEN
            CASE WHEN is_first THEN asked @> given AND jsonb_array_length(given) > 0 ELSE true END
        WHEN name = 'items' THEN NOT EXISTS (
            SELECT FROM jsonb_array_elements_text(asked) AS item WHERE NOT EXISTS (
                SELECT FROM jsonb_array_elements_text(given) AS code
                WHERE code = item OR starts_with(code, item || ':')))
        ELSE false
    END
$$;
CREATE OR REPLACE FUNCTION standard_keeps_the_law() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    base record;
    asked jsonb;
    given jsonb;
    name text;
    first bigint;
BEGIN
    SELECT min(id) INTO first FROM grading_standard WHERE rule_set = NEW.rule_set;
    FOR base IN
        SELECT id, content FROM grading_standard
        WHERE rule_set = NEW.rule_set
            AND id IN (first, (SELECT max(id) FROM grading_standard WHERE rule_set = NEW.rule_set))
        ORDER BY id
    LOOP
        FOR asked IN SELECT * FROM jsonb_array_elements(base.content -> 'requirements') LOOP
            CONTINUE WHEN asked ->> 'kind' <> 'legal';
            CONTINUE WHEN NEW.rule_set = 'eu' AND asked ->> 'check' = 'recent_training';
            SELECT row INTO given FROM jsonb_array_elements(NEW.content -> 'requirements') AS row
                WHERE row ->> 'key' = asked ->> 'key';
            IF given IS NULL OR given ->> 'kind' IS DISTINCT FROM 'legal'
                OR given ->> 'check' IS DISTINCT FROM asked ->> 'check' THEN
                RAISE EXCEPTION 'required by law: % must stay', asked ->> 'key' USING ERRCODE = 'check_violation';
            END IF;
            FOR name IN SELECT jsonb_object_keys(asked -> 'values') LOOP
                IF legal_value_is_kept(
                    name, asked -> 'values' -> name, given -> 'values' -> name, base.id = first
                ) THEN
                    CONTINUE;
                END IF;
                RAISE EXCEPTION 'required by law: % of % must not be loosened', name, asked ->> 'key'
                    USING ERRCODE = 'check_violation';
            END LOOP;
        END LOOP;
    END LOOP;
    RETURN NEW;
END $$;
ALTER FUNCTION standard_keeps_the_law() SET search_path = public, pg_temp;
"""
BACK = """
CREATE OR REPLACE FUNCTION standard_keeps_the_law() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    base jsonb;
    asked jsonb;
    given jsonb;
    name text;
BEGIN
    SELECT content INTO base FROM grading_standard WHERE rule_set = NEW.rule_set ORDER BY id LIMIT 1;
    IF base IS NULL THEN
        RETURN NEW;
    END IF;
    FOR asked IN SELECT * FROM jsonb_array_elements(base -> 'requirements') LOOP
        CONTINUE WHEN asked ->> 'kind' <> 'legal';
        SELECT row INTO given FROM jsonb_array_elements(NEW.content -> 'requirements') AS row
            WHERE row ->> 'key' = asked ->> 'key';
        IF given IS NULL OR given ->> 'kind' IS DISTINCT FROM 'legal'
            OR given ->> 'check' IS DISTINCT FROM asked ->> 'check' THEN
            RAISE EXCEPTION 'required by law: % must stay', asked ->> 'key' USING ERRCODE = 'check_violation';
        END IF;
        FOR name IN SELECT jsonb_object_keys(asked -> 'values') LOOP
            IF (name = 'years' AND (given -> 'values' ->> name)::int >= (asked -> 'values' ->> name)::int)
                OR (name = 'days' AND (given -> 'values' ->> name)::int BETWEEN 1 AND (asked -> 'values' ->> name)::int)
                OR given -> 'values' -> name = asked -> 'values' -> name THEN
                CONTINUE;
            END IF;
            RAISE EXCEPTION 'required by law: % of % must not be loosened', name, asked ->> 'key'
                USING ERRCODE = 'check_violation';
        END LOOP;
    END LOOP;
    RETURN NEW;
END $$;
ALTER FUNCTION standard_keeps_the_law() SET search_path = public, pg_temp;
DROP FUNCTION legal_value_is_kept(text, jsonb, jsonb, boolean);
"""


class Migration(migrations.Migration):
    dependencies = [("grading", "0018_days_of_the_school"), ("lessons", "0016_endorsements_of_the_law")]
    operations = [migrations.RunSQL(FORWARD, BACK)]
