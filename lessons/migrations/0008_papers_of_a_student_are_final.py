"""Endorsements, written tests and enrolments are final but for what may be added to them once."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

# The columns that are free until the first of them is filled.
ONCE = {
    "lessons_endorsement": ("withdrawn_at", "withdrawn_by_id", "withdrawal_reason"),
    "lessons_knowledgetest": ("reviewed_on", "reviewed_by_id"),
    "lessons_enrolment": ("ended_on", "end", "instructor_id", "syllabus_id"),
}
FORWARD = "".join(
    f"CREATE TRIGGER {table}_is_final BEFORE UPDATE OR DELETE ON {table}"
    f" FOR EACH ROW EXECUTE FUNCTION record_changes_once({', '.join(repr(column) for column in columns)});\n"
    f"CREATE TRIGGER {table}_is_kept BEFORE TRUNCATE ON {table}"
    f" FOR EACH STATEMENT EXECUTE FUNCTION record_is_final();\n"
    for table, columns in ONCE.items()
)
BACK = "".join(
    f"DROP TRIGGER {table}_is_kept ON {table};\nDROP TRIGGER {table}_is_final ON {table};\n" for table in ONCE
)
REVIEWERS = "UPDATE lessons_knowledgetest SET reviewed_by_id = recorded_by_id WHERE reviewed_on IS NOT NULL"
REASONS = "UPDATE lessons_endorsement SET withdrawal_reason = 'not recorded' WHERE withdrawn_at IS NOT NULL"


class Migration(migrations.Migration):
    dependencies = [
        ("lessons", "0007_uids"),
        ("school", "0007_papers_are_final"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]
    operations = [
        migrations.RemoveConstraint("endorsement", "endorsement_withdrawn_at_by"),
        migrations.AddField("endorsement", "withdrawal_reason", models.TextField(blank=True, default="")),
        migrations.AlterField("endorsement", "withdrawal_reason", models.TextField(blank=True)),
        migrations.AddField(
            "knowledgetest",
            "reviewed_by",
            models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.RunSQL([REVIEWERS, REASONS], migrations.RunSQL.noop),
        migrations.AddConstraint(
            "endorsement",
            models.CheckConstraint(
                condition=models.Q(withdrawn_at=None, withdrawn_by=None, withdrawal_reason="")
                | (models.Q(withdrawn_at__isnull=False, withdrawn_by__isnull=False) & ~models.Q(withdrawal_reason="")),
                name="endorsement_withdrawn_at_by_reason",
            ),
        ),
        migrations.AddConstraint(
            "knowledgetest",
            models.CheckConstraint(
                condition=models.Q(reviewed_on=None, reviewed_by=None)
                | models.Q(reviewed_on__isnull=False, reviewed_by__isnull=False),
                name="knowledgetest_reviewed_on_by",
            ),
        ),
        migrations.RunSQL(FORWARD, BACK),
    ]
