"""The journal is append-only, for every user of the database."""

from django.db import migrations

FORWARD = """
CREATE FUNCTION record_is_final() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION 'the record is final: no % on %', TG_OP, TG_TABLE_NAME USING ERRCODE = 'restrict_violation';
END $$;

CREATE TRIGGER journal_is_final BEFORE UPDATE OR DELETE ON school_journalentry
    FOR EACH ROW EXECUTE FUNCTION record_is_final();
CREATE TRIGGER journal_is_kept BEFORE TRUNCATE ON school_journalentry
    FOR EACH STATEMENT EXECUTE FUNCTION record_is_final();
"""

BACK = """
DROP TRIGGER journal_is_kept ON school_journalentry;
DROP TRIGGER journal_is_final ON school_journalentry;
DROP FUNCTION record_is_final();
"""


class Migration(migrations.Migration):
    dependencies = [("school", "0001_initial")]
    operations = [migrations.RunSQL(FORWARD, BACK)]
