"""A published syllabus, published gates, a grade scale and a move are final, for every user of the database."""

import django.db.models.deletion
from django.db import migrations, models

OF_SYLLABUS = "SELECT published_on IS NOT NULL FROM lessons_syllabus WHERE id = $1"
OF_MANOEUVRE = (
    "SELECT s.published_on IS NOT NULL FROM lessons_syllabus s JOIN lessons_manoeuvre m ON m.syllabus_id = s.id"
    " WHERE m.id = $1"
)
OF_STAGE = (
    "SELECT s.published_on IS NOT NULL FROM lessons_syllabus s JOIN lessons_stage g ON g.syllabus_id = s.id"
    " WHERE g.id = $1"
)
OF_UNIT = (
    "SELECT s.published_on IS NOT NULL FROM lessons_syllabus s JOIN lessons_stage g ON g.syllabus_id = s.id"
    " JOIN lessons_unit u ON u.stage_id = g.id WHERE u.id = $1"
)
OF_GATE_SET = "SELECT published FROM lessons_gateset WHERE id = $1"
OF_GATE = "SELECT s.published FROM lessons_gateset s JOIN lessons_gate g ON g.gate_set_id = s.id WHERE g.id = $1"

PARTS = {
    "lessons_trainingitem": ("syllabus_id", OF_SYLLABUS),
    "lessons_manoeuvre": ("syllabus_id", OF_SYLLABUS),
    "lessons_criterion": ("manoeuvre_id", OF_MANOEUVRE),
    "lessons_fault": ("syllabus_id", OF_SYLLABUS),
    "lessons_fault_manoeuvres": ("manoeuvre_id", OF_MANOEUVRE),
    "lessons_stage": ("syllabus_id", OF_SYLLABUS),
    "lessons_unit": ("stage_id", OF_STAGE),
    "lessons_unitmanoeuvre": ("unit_id", OF_UNIT),
    "lessons_gate": ("gate_set_id", OF_GATE_SET),
    "lessons_gatetarget": ("gate_id", OF_GATE),
}
WHOLES = {
    "lessons_syllabus": "WHEN (OLD.published_on IS NOT NULL)",
    "lessons_gateset": "WHEN (OLD.published)",
    "lessons_gradescale": "",
    "lessons_syllabusmove": "",
    "lessons_unitmapping": "",
}

FORWARD = """
-- For a part of something published: its owner is asked, by the column and the query given to the trigger.
CREATE FUNCTION published_part_is_final() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    published boolean;
BEGIN
    IF TG_OP <> 'INSERT' THEN
        EXECUTE TG_ARGV[1] INTO published USING (to_jsonb(OLD) ->> TG_ARGV[0])::bigint;
        IF published THEN
            RAISE EXCEPTION 'it is published: no % on %', TG_OP, TG_TABLE_NAME USING ERRCODE = 'restrict_violation';
        END IF;
    END IF;
    IF TG_OP <> 'DELETE' THEN
        EXECUTE TG_ARGV[1] INTO published USING (to_jsonb(NEW) ->> TG_ARGV[0])::bigint;
        IF published THEN
            RAISE EXCEPTION 'it is published: no % on %', TG_OP, TG_TABLE_NAME USING ERRCODE = 'restrict_violation';
        END IF;
        RETURN NEW;
    END IF;
    RETURN OLD;
END $$;
"""
for _table, (_column, _query) in PARTS.items():
    FORWARD += (
        f"CREATE TRIGGER {_table}_is_final BEFORE INSERT OR UPDATE OR DELETE ON {_table}"
        f" FOR EACH ROW EXECUTE FUNCTION published_part_is_final('{_column}', '{_query}');\n"
    )
for _table, _condition in WHOLES.items():
    FORWARD += (
        f"CREATE TRIGGER {_table}_is_final BEFORE UPDATE OR DELETE ON {_table}"
        f" FOR EACH ROW {_condition} EXECUTE FUNCTION record_is_final();\n"
    )
for _table in (*PARTS, *WHOLES):
    FORWARD += (
        f"CREATE TRIGGER {_table}_is_kept BEFORE TRUNCATE ON {_table}"
        f" FOR EACH STATEMENT EXECUTE FUNCTION record_is_final();\n"
    )

BACK = "".join(
    f"DROP TRIGGER {table}_is_final ON {table};\nDROP TRIGGER {table}_is_kept ON {table};\n"
    for table in (*PARTS, *WHOLES)
)
BACK += "DROP FUNCTION published_part_is_final();\n"


class Migration(migrations.Migration):
    dependencies = [("lessons", "0004_old_issues")]
    operations = [
        migrations.AlterField(
            model_name="syllabus",
            name="scale",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to="lessons.gradescale"
            ),
        ),
        migrations.AlterField(
            model_name="gate",
            name="leg",
            field=models.CharField(
                choices=[
                    ("upwind", "upwind"),
                    ("crosswind", "crosswind"),
                    ("downwind", "downwind"),
                    ("base", "base"),
                    ("final", "final"),
                ],
                max_length=9,
            ),
        ),
        migrations.AlterField(
            model_name="gate",
            name="along_ft",
            field=models.IntegerField(verbose_name="distance since the lift-off (ft)"),
        ),
        migrations.RunSQL(FORWARD, BACK),
    ]
