"""A standard is final, and no later one of its rule set may loosen what the first one says the law asks for."""

from django.db import migrations

FORWARD = """
CREATE FUNCTION standard_keeps_the_law() RETURNS trigger LANGUAGE plpgsql AS $$
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
            -- More years of age and fewer days since training are stricter; everything else stays as it is.
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
CREATE TRIGGER standard_keeps_the_law BEFORE INSERT ON grading_standard
    FOR EACH ROW EXECUTE FUNCTION standard_keeps_the_law();
CREATE TRIGGER grading_standard_is_final BEFORE UPDATE OR DELETE ON grading_standard
    FOR EACH ROW EXECUTE FUNCTION record_is_final();
CREATE TRIGGER grading_standard_is_kept BEFORE TRUNCATE ON grading_standard
    FOR EACH STATEMENT EXECUTE FUNCTION record_is_final();
"""
BACK = """
DROP TRIGGER grading_standard_is_kept ON grading_standard;
DROP TRIGGER grading_standard_is_final ON grading_standard;
DROP TRIGGER standard_keeps_the_law ON grading_standard;
DROP FUNCTION standard_keeps_the_law();
"""


class Migration(migrations.Migration):
    dependencies = [("grading", "0004_criteria_seen_are_final")]
    operations = [migrations.RunSQL(FORWARD, BACK)]
