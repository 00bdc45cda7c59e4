"""Which findings somebody marked as done and why: opened again once, and otherwise final."""

import uuid
from pathlib import Path

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

# A migration never follows later code: the plan as it was then.
ERASURE_PLAN = (Path(__file__).parent / "sql" / "0031_erasure_plan.sql").read_text()

TABLE = "grading_settledfinding"
GUARD = f"""
CREATE TRIGGER {TABLE}_is_final BEFORE UPDATE OR DELETE ON {TABLE}
    FOR EACH ROW EXECUTE FUNCTION record_changes_once('reopened_at', 'reopened_by_id');
CREATE TRIGGER {TABLE}_is_kept BEFORE TRUNCATE ON {TABLE}
    FOR EACH STATEMENT EXECUTE FUNCTION record_is_final();
"""
BACK = f"""
DROP TRIGGER {TABLE}_is_kept ON {TABLE};
DROP TRIGGER {TABLE}_is_final ON {TABLE};
"""


class Migration(migrations.Migration):
    dependencies = [
        ("grading", "0030_earlier_evidence"),
        ("lessons", "0019_one_word_for_one_thing"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="SettledFinding",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("uid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("kind", models.CharField(max_length=40)),
                ("on", models.DateField(verbose_name="day of the finding")),
                ("facts", models.CharField(max_length=64)),
                ("reason", models.TextField()),
                ("settled_at", models.DateTimeField()),
                ("reopened_at", models.DateTimeField(blank=True, null=True)),
                (
                    "enrolment",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="lessons.enrolment",
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "reopened_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "settled_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("reopened_at", None)), fields=("facts",), name="settledfinding_once"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("reason", ""), _negated=True), name="settledfinding_reason"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("enrolment", None), ("person", None), _connector="XOR"),
                        name="settledfinding_of_one",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("reopened_at", None), ("reopened_by", None)),
                            models.Q(("reopened_at__isnull", False), ("reopened_by__isnull", False)),
                            _connector="OR",
                        ),
                        name="settledfinding_reopened_at_by",
                    ),
                ],
            },
        ),
        migrations.RunSQL(GUARD, BACK),
        migrations.RunSQL(ERASURE_PLAN, migrations.RunSQL.noop),
    ]
