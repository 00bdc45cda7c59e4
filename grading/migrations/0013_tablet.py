"""What tablets sent: kept as it came, and as final as the lesson it belongs to."""

from pathlib import Path

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

# A migration never follows later code: the plan as it was then.
ERASURE_PLAN = (Path(__file__).parent / "sql" / "0013_erasure_plan.sql").read_text()

TABLE = "grading_deviceevent"
# It may go with a lesson that was never signed. What comes after the signature may still be added.
GUARD = f"""
CREATE FUNCTION device_event_is_final() RETURNS trigger LANGUAGE plpgsql SET search_path = public, pg_temp AS $$
BEGIN
    IF TG_OP = 'DELETE' AND record_is_being_erased(TG_RELID) THEN
        RETURN OLD;
    END IF;
    PERFORM 1 FROM lessons_lesson WHERE id = OLD.lesson_id AND signed_at IS NOT NULL;
    IF FOUND OR TG_OP = 'UPDATE' THEN
        RAISE EXCEPTION 'what a tablet sent is final: no % on %', TG_OP, TG_TABLE_NAME
            USING ERRCODE = 'restrict_violation';
    END IF;
    RETURN OLD;
END $$;
CREATE TRIGGER {TABLE}_is_final BEFORE UPDATE OR DELETE ON {TABLE}
    FOR EACH ROW EXECUTE FUNCTION device_event_is_final();
CREATE TRIGGER {TABLE}_is_kept BEFORE TRUNCATE ON {TABLE}
    FOR EACH STATEMENT EXECUTE FUNCTION record_is_final();
"""
BACK = f"""
DROP TRIGGER {TABLE}_is_kept ON {TABLE};
DROP TRIGGER {TABLE}_is_final ON {TABLE};
DROP FUNCTION device_event_is_final();
"""


class Migration(migrations.Migration):
    dependencies = [
        ("grading", "0012_erasure"),
        ("lessons", "0007_uids"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="DeviceEvent",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("uid", models.UUIDField(editable=False, unique=True)),
                ("device", models.UUIDField()),
                ("sequence", models.PositiveIntegerField()),
                (
                    "kind",
                    models.CharField(
                        choices=[("begin", "lesson begun"), ("entry", "entry"), ("undo", "tap taken back")],
                        max_length=5,
                    ),
                ),
                ("field", models.CharField(blank=True, max_length=120)),
                ("value", models.TextField(blank=True)),
                ("outcome", models.CharField(choices=[("applied", "applied"), ("refused", "refused")], max_length=7)),
                ("said", models.TextField(blank=True, verbose_name="what the tablet was told")),
                ("device_time", models.DateTimeField(blank=True, null=True, verbose_name="clock of the device")),
                ("at", models.DateTimeField()),
                (
                    "lesson",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="lessons.lesson",
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "indexes": [models.Index(fields=["lesson", "device", "sequence"], name="deviceevent_order")],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("outcome", "refused"), _negated=True),
                            models.Q(("said", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="deviceevent_refusal_has_reason",
                    )
                ],
            },
        ),
        migrations.RunSQL(GUARD + ERASURE_PLAN, BACK),
    ]
