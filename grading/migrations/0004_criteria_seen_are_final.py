"""The criteria seen in a signed lesson are as final as the rest of it."""

from django.db import migrations

TABLE = "grading_criterionseen"
FORWARD = f"""
CREATE TRIGGER {TABLE}_is_final BEFORE INSERT OR UPDATE OR DELETE ON {TABLE}
    FOR EACH ROW EXECUTE FUNCTION attempt_part_is_final();
CREATE TRIGGER {TABLE}_is_kept BEFORE TRUNCATE ON {TABLE}
    FOR EACH STATEMENT EXECUTE FUNCTION record_is_final();
"""
BACK = f"DROP TRIGGER {TABLE}_is_final ON {TABLE};\nDROP TRIGGER {TABLE}_is_kept ON {TABLE};\n"


class Migration(migrations.Migration):
    dependencies = [("grading", "0003_full_grading")]
    operations = [migrations.RunSQL(FORWARD, BACK)]
