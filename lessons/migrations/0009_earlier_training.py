"""Earlier training and the credit decided for it: final."""

import uuid

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

FINAL = ("lessons_earliertraining", "lessons_creditdecision", "lessons_creditedunit")

FORWARD = "".join(
    f"CREATE TRIGGER {table}_is_final BEFORE UPDATE OR DELETE ON {table}"
    f" FOR EACH ROW EXECUTE FUNCTION record_is_final();\n"
    f"CREATE TRIGGER {table}_is_kept BEFORE TRUNCATE ON {table}"
    f" FOR EACH STATEMENT EXECUTE FUNCTION record_is_final();\n"
    for table in FINAL
)
BACK = "".join(
    f"DROP TRIGGER {table}_is_final ON {table};\nDROP TRIGGER {table}_is_kept ON {table};\n" for table in FINAL
)


class Migration(migrations.Migration):
    dependencies = [
        ("lessons", "0008_papers_of_a_student_are_final"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="CreditDecision",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("dual_minutes", models.PositiveIntegerField(default=0)),
                ("solo_minutes", models.PositiveIntegerField(default=0)),
                ("night_minutes", models.PositiveIntegerField(default=0)),
                ("instrument_minutes", models.PositiveIntegerField(default=0)),
                ("ground_minutes", models.PositiveIntegerField(default=0, verbose_name="ground instruction")),
                ("takeoffs", models.PositiveIntegerField(default=0)),
                ("landings", models.PositiveIntegerField(default=0)),
                ("uid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("reason", models.TextField(verbose_name="why these hours, or none")),
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
        ),
        migrations.CreateModel(
            name="CreditedUnit",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("reason", models.TextField()),
                (
                    "decision",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="units", to="lessons.creditdecision"
                    ),
                ),
                (
                    "unit",
                    models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="+", to="lessons.unit"),
                ),
            ],
        ),
        migrations.CreateModel(
            name="EarlierTraining",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("dual_minutes", models.PositiveIntegerField(default=0)),
                ("solo_minutes", models.PositiveIntegerField(default=0)),
                ("night_minutes", models.PositiveIntegerField(default=0)),
                ("instrument_minutes", models.PositiveIntegerField(default=0)),
                ("ground_minutes", models.PositiveIntegerField(default=0, verbose_name="ground instruction")),
                ("takeoffs", models.PositiveIntegerField(default=0)),
                ("landings", models.PositiveIntegerField(default=0)),
                ("uid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("batch", models.UUIDField()),
                ("fingerprint", models.CharField(max_length=64, unique=True)),
                ("lesson_uid", models.UUIDField(blank=True, null=True)),
                ("replaces_uid", models.UUIDField(blank=True, null=True)),
                ("on", models.DateField(verbose_name="date")),
                ("unit", models.CharField(max_length=200, verbose_name="what was taught")),
                ("aircraft", models.CharField(blank=True, max_length=80)),
                ("instructor", models.CharField(max_length=210, verbose_name="instructor, as written there")),
                (
                    "certificate",
                    models.CharField(
                        blank=True, max_length=80, verbose_name="certificate of the instructor, as written there"
                    ),
                ),
                ("remarks", models.TextField(blank=True)),
                ("school", models.CharField(blank=True, max_length=200, verbose_name="school it was given at")),
                ("paper", models.CharField(blank=True, max_length=200, verbose_name="where the paper lies")),
                ("recorded_at", models.DateTimeField()),
                (
                    "recorded_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "student",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "earlier training",
            },
        ),
        migrations.AddIndex(
            model_name="creditdecision",
            index=models.Index(fields=["enrolment", "decided_at"], name="credit_enrolment_at"),
        ),
        migrations.AddConstraint(
            model_name="creditdecision",
            constraint=models.CheckConstraint(
                condition=models.Q(("reason", ""), _negated=True), name="creditdecision_reason"
            ),
        ),
        migrations.AddConstraint(
            model_name="creditedunit",
            constraint=models.UniqueConstraint(fields=("decision", "unit"), name="creditedunit_unique"),
        ),
        migrations.AddConstraint(
            model_name="creditedunit",
            constraint=models.CheckConstraint(
                condition=models.Q(("reason", ""), _negated=True), name="creditedunit_reason"
            ),
        ),
        migrations.AddIndex(
            model_name="earliertraining",
            index=models.Index(fields=["student", "on"], name="earlier_student_on"),
        ),
        migrations.RunSQL(FORWARD, BACK),
    ]
