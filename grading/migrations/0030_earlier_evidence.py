"""Earlier lessons that count as evidence, decided by the chief instructor: final."""

import uuid
from pathlib import Path

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

# A migration never follows later code: the plan as it was then.
ERASURE_PLAN = (Path(__file__).parent / "sql" / "0030_erasure_plan.sql").read_text()

TABLE = "grading_earlierevidence"
GUARD = f"""
CREATE TRIGGER {TABLE}_is_final BEFORE UPDATE OR DELETE ON {TABLE}
    FOR EACH ROW EXECUTE FUNCTION record_is_final();
CREATE TRIGGER {TABLE}_is_kept BEFORE TRUNCATE ON {TABLE}
    FOR EACH STATEMENT EXECUTE FUNCTION record_is_final();
"""
BACK = f"""
DROP TRIGGER {TABLE}_is_kept ON {TABLE};
DROP TRIGGER {TABLE}_is_final ON {TABLE};
"""


class Migration(migrations.Migration):
    dependencies = [
        ("grading", "0029_track_uploads"),
        ("lessons", "0019_one_word_for_one_thing"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="EarlierEvidence",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("uid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("lessons", models.JSONField(default=list)),
                ("reason", models.TextField()),
                ("decided_at", models.DateTimeField()),
                (
                    "decided_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "enrolment",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="lessons.enrolment"
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "earlier evidence",
                "indexes": [models.Index(fields=["enrolment", "decided_at"], name="earlierevidence_at")],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("reason", ""), _negated=True), name="earlierevidence_reason"
                    )
                ],
            },
        ),
        migrations.RunSQL(GUARD, BACK),
        migrations.RunSQL(ERASURE_PLAN, migrations.RunSQL.noop),
    ]
