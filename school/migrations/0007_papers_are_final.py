"""What was recorded of a paper stays; it is voided once, with its reason."""

from django.db import migrations

FORWARD = """
-- For rows that change once: the columns given to the trigger are free until the first of them is filled.
CREATE FUNCTION record_changes_once() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF TG_OP = 'DELETE' OR to_jsonb(OLD) ->> TG_ARGV[0] IS NOT NULL
        OR (to_jsonb(OLD) - TG_ARGV::text[]) IS DISTINCT FROM (to_jsonb(NEW) - TG_ARGV::text[]) THEN
        RAISE EXCEPTION 'the record is final: no % on %', TG_OP, TG_TABLE_NAME USING ERRCODE = 'restrict_violation';
    END IF;
    RETURN NEW;
END $$;

CREATE TRIGGER school_paper_is_final BEFORE UPDATE OR DELETE ON school_paper
    FOR EACH ROW EXECUTE FUNCTION record_changes_once('voided_at', 'voided_by_id', 'void_reason');
CREATE TRIGGER school_paper_is_kept BEFORE TRUNCATE ON school_paper
    FOR EACH STATEMENT EXECUTE FUNCTION record_is_final();
"""

BACK = """
DROP TRIGGER school_paper_is_kept ON school_paper;
DROP TRIGGER school_paper_is_final ON school_paper;
DROP FUNCTION record_changes_once();
"""


class Migration(migrations.Migration):
    dependencies = [("school", "0006_journal_what")]
    operations = [migrations.RunSQL(FORWARD, BACK)]
