"""A lesson that is discarded leaves a row for good, and goes by one function of the database alone.

What names an unsigned lesson does not change either: under another number, enrolment or day of beginning it would be
another lesson, and the first one gone without a trace.
"""

import uuid

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

FORWARD = """
CREATE TRIGGER lessons_discardedlesson_is_final BEFORE UPDATE OR DELETE ON lessons_discardedlesson
    FOR EACH ROW EXECUTE FUNCTION record_is_final();
CREATE TRIGGER lessons_discardedlesson_is_kept BEFORE TRUNCATE ON lessons_discardedlesson
    FOR EACH STATEMENT EXECUTE FUNCTION record_is_final();

CREATE FUNCTION lesson_is_being_discarded(relation oid) RETURNS boolean LANGUAGE sql STABLE
    SET search_path = public, pg_temp AS $$
    -- The setting alone is no proof: any role can set it, and only the function that discards runs as the owner.
    SELECT coalesce(current_setting('record.discarding', true), '') = 'on'
        AND current_user = pg_get_userbyid(c.relowner) FROM pg_class c WHERE c.oid = $1
$$;

CREATE FUNCTION lesson_is_discarded() RETURNS trigger LANGUAGE plpgsql SET search_path = public, pg_temp AS $$
BEGIN
    IF lesson_is_being_discarded(TG_RELID) OR record_is_being_erased(TG_RELID) THEN
        RETURN OLD;
    END IF;
    RAISE EXCEPTION 'a lesson is discarded by discard_lesson(): no % on %', TG_OP, TG_TABLE_NAME
        USING ERRCODE = 'restrict_violation';
END $$;
CREATE TRIGGER lesson_is_discarded BEFORE DELETE ON lessons_lesson
    FOR EACH ROW WHEN (OLD.signed_at IS NULL) EXECUTE FUNCTION lesson_is_discarded();

CREATE FUNCTION lesson_keeps_its_name() RETURNS trigger LANGUAGE plpgsql SET search_path = public, pg_temp AS $$
BEGIN
    RAISE EXCEPTION 'a lesson keeps its number, enrolment and beginning: no % on %', TG_OP, TG_TABLE_NAME
        USING ERRCODE = 'restrict_violation';
END $$;
CREATE TRIGGER lesson_keeps_its_name BEFORE UPDATE ON lessons_lesson
    FOR EACH ROW WHEN (
        OLD.uid IS DISTINCT FROM NEW.uid OR OLD.number IS DISTINCT FROM NEW.number
        OR OLD.version IS DISTINCT FROM NEW.version OR OLD.enrolment_id IS DISTINCT FROM NEW.enrolment_id
        OR OLD.instructor_id IS DISTINCT FROM NEW.instructor_id OR OLD.begun_at IS DISTINCT FROM NEW.begun_at
        OR OLD.begun_by_id IS DISTINCT FROM NEW.begun_by_id OR OLD.supersedes_id IS DISTINCT FROM NEW.supersedes_id
    ) EXECUTE FUNCTION lesson_keeps_its_name();
"""
BACK = """
DROP TRIGGER lesson_keeps_its_name ON lessons_lesson;
DROP FUNCTION lesson_keeps_its_name();
DROP TRIGGER lesson_is_discarded ON lessons_lesson;
DROP FUNCTION lesson_is_discarded();
DROP FUNCTION lesson_is_being_discarded(oid);
DROP TRIGGER lessons_discardedlesson_is_kept ON lessons_discardedlesson;
DROP TRIGGER lessons_discardedlesson_is_final ON lessons_discardedlesson;
"""


class Migration(migrations.Migration):
    dependencies = [
        ("lessons", "0016_endorsements_of_the_law"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="DiscardedLesson",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("uid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("number", models.PositiveSmallIntegerField()),
                ("version", models.PositiveSmallIntegerField()),
                ("on", models.DateField(verbose_name="date")),
                ("begun_at", models.DateTimeField()),
                ("entries", models.JSONField(default=list)),
                ("reason", models.CharField(max_length=300)),
                ("discarded_at", models.DateTimeField()),
                (
                    "begun_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "discarded_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "enrolment",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="discarded_lessons",
                        to="lessons.enrolment",
                    ),
                ),
                (
                    "instructor",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "unit",
                    models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="+", to="lessons.unit"),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("reason", ""), _negated=True), name="discardedlesson_reason"
                    )
                ],
            },
        ),
        migrations.RunSQL(FORWARD, BACK),
    ]
