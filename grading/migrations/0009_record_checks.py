"""Runs of the check are kept; a requirement set aside has a name of its own; what counts as signed has its seal."""

import uuid

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

NAMES = "UPDATE grading_setaside SET uid = gen_random_uuid();"
OPEN = "ALTER TABLE grading_setaside DISABLE TRIGGER grading_setaside_is_final;"
SHUT = "ALTER TABLE grading_setaside ENABLE TRIGGER grading_setaside_is_final;"

FORWARD = """
CREATE TRIGGER grading_recordcheck_is_final BEFORE UPDATE OR DELETE ON grading_recordcheck
    FOR EACH ROW EXECUTE FUNCTION record_is_final();
CREATE TRIGGER grading_recordcheck_is_kept BEFORE TRUNCATE ON grading_recordcheck
    FOR EACH STATEMENT EXECUTE FUNCTION record_is_final();

-- Asked at the end of the transaction: a lesson signed in it was sealed in it.
CREATE FUNCTION signed_lesson_is_sealed() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    PERFORM 1 FROM grading_seal WHERE kind = 'lesson' AND subject = NEW.uid;
    IF NOT FOUND THEN
        RAISE EXCEPTION 'lesson % counts as signed and has no seal', NEW.uid USING ERRCODE = 'restrict_violation';
    END IF;
    RETURN NULL;
END $$;
CREATE CONSTRAINT TRIGGER lesson_is_sealed AFTER INSERT OR UPDATE ON lessons_lesson
    DEFERRABLE INITIALLY DEFERRED FOR EACH ROW WHEN (NEW.signed_at IS NOT NULL)
    EXECUTE FUNCTION signed_lesson_is_sealed();
"""
BACK = """
DROP TRIGGER lesson_is_sealed ON lessons_lesson;
DROP FUNCTION signed_lesson_is_sealed();
DROP TRIGGER grading_recordcheck_is_kept ON grading_recordcheck;
DROP TRIGGER grading_recordcheck_is_final ON grading_recordcheck;
"""


class Migration(migrations.Migration):
    dependencies = [
        ("grading", "0008_record_subjects"),
        ("lessons", "0008_papers_of_a_student_are_final"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]
    operations = [
        migrations.CreateModel(
            name="RecordCheck",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("at", models.DateTimeField()),
                ("seals", models.PositiveBigIntegerField()),
                ("head", models.CharField(blank=True, max_length=64)),
                ("found", models.PositiveIntegerField()),
                ("findings", models.JSONField(default=list)),
                ("notes", models.JSONField(default=list)),
                (
                    "by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
        ),
        migrations.AddField("setaside", "uid", models.UUIDField(default=None, editable=False, null=True)),
        migrations.RunSQL([OPEN, NAMES, SHUT], migrations.RunSQL.noop),
        migrations.AlterField("setaside", "uid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
        migrations.AlterField(
            model_name="seal",
            name="kind",
            field=models.CharField(
                choices=[
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
                    ("received", "record received"),
                    ("erasure", "erasure after retention"),
                ],
                max_length=15,
            ),
        ),
        migrations.RunSQL(FORWARD, BACK),
    ]
