"""What a student thought of a lesson: written once, of a signed lesson only, and final."""

from pathlib import Path

import django.db.models.deletion
from django.db import migrations, models

# A migration never follows later code: the plan as it was then.
ERASURE_PLAN = (Path(__file__).parent / "sql" / "0024_erasure_plan.sql").read_text()

TABLE = "grading_ownview"
GUARD = f"""
CREATE FUNCTION own_view_is_final() RETURNS trigger LANGUAGE plpgsql SET search_path = public, pg_temp AS $$
BEGIN
    IF TG_OP = 'DELETE' AND record_is_being_erased(TG_RELID) THEN
        RETURN OLD;
    END IF;
    IF TG_OP = 'INSERT' THEN
        PERFORM 1 FROM lessons_lesson WHERE id = NEW.lesson_id AND signed_at IS NOT NULL;
        IF FOUND THEN
            RETURN NEW;
        END IF;
        RAISE EXCEPTION 'an own view is of a signed lesson' USING ERRCODE = 'restrict_violation';
    END IF;
    RAISE EXCEPTION 'an own view is final: no % on %', TG_OP, TG_TABLE_NAME USING ERRCODE = 'restrict_violation';
END $$;
CREATE TRIGGER {TABLE}_is_final BEFORE INSERT OR UPDATE OR DELETE ON {TABLE}
    FOR EACH ROW EXECUTE FUNCTION own_view_is_final();
CREATE TRIGGER {TABLE}_is_kept BEFORE TRUNCATE ON {TABLE}
    FOR EACH STATEMENT EXECUTE FUNCTION record_is_final();
"""
BACK = f"""
DROP TRIGGER {TABLE}_is_kept ON {TABLE};
DROP TRIGGER {TABLE}_is_final ON {TABLE};
DROP FUNCTION own_view_is_final();
"""


class Migration(migrations.Migration):
    dependencies = [
        ("grading", "0023_units_of_power"),
        ("lessons", "0018_power_at_gates"),
    ]

    operations = [
        migrations.CreateModel(
            name="OwnView",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("line", models.CharField(max_length=300, verbose_name="own view in a line")),
                ("levels", models.JSONField(default=dict, verbose_name="own levels")),
                ("written_at", models.DateTimeField()),
                (
                    "lesson",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="lessons.lesson"
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("line", ""), _negated=True), name="ownview_has_line")
                ],
            },
        ),
        migrations.RunSQL(GUARD, BACK),
        migrations.RunSQL(ERASURE_PLAN, migrations.RunSQL.noop),
    ]
