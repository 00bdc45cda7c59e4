"""Print runs with their items, and how background jobs ended. An item that has its sheet is final."""

import uuid

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

FINAL = """
CREATE FUNCTION printed_item_is_final() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION 'printed: no % on %', TG_OP, TG_TABLE_NAME USING ERRCODE = 'restrict_violation';
END $$;
CREATE TRIGGER grading_printrunitem_is_final BEFORE UPDATE ON grading_printrunitem
    FOR EACH ROW WHEN (OLD.sheet_id IS NOT NULL) EXECUTE FUNCTION printed_item_is_final();
"""
NOT_FINAL = """
DROP TRIGGER grading_printrunitem_is_final ON grading_printrunitem;
DROP FUNCTION printed_item_is_final();
"""


class Migration(migrations.Migration):
    dependencies = [
        ("grading", "0009_record_checks"),
        ("lessons", "0007_uids"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="JobReport",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("job", models.BigIntegerField()),
                ("task", models.CharField(max_length=128)),
                ("at", models.DateTimeField()),
                ("failed", models.BooleanField()),
                ("words", models.TextField()),
            ],
            options={
                "indexes": [
                    models.Index(fields=["task", "-at"], name="jobreport_task_at"),
                    models.Index(fields=["job"], name="jobreport_job"),
                ],
            },
        ),
        migrations.CreateModel(
            name="PrintRun",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("uid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("progress", "progress sheet"),
                            ("complete", "complete record"),
                            ("endorsements", "list of endorsements"),
                        ],
                        max_length=12,
                    ),
                ),
                ("on", models.DateField(verbose_name="as of")),
                ("paper", models.CharField(choices=[("A4", "A4"), ("Letter", "Letter")], max_length=6)),
                (
                    "chosen",
                    models.CharField(
                        choices=[
                            ("active", "all in training on that day"),
                            ("ended", "all whose training ended between two days"),
                            ("picked", "students picked by hand"),
                        ],
                        max_length=6,
                    ),
                ),
                ("ended_from", models.DateField(blank=True, null=True)),
                ("ended_until", models.DateField(blank=True, null=True)),
                ("asked_at", models.DateTimeField()),
                ("cancelled_at", models.DateTimeField(blank=True, null=True)),
                (
                    "asked_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "cancelled_by",
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
        migrations.CreateModel(
            name="PrintRunItem",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("position", models.PositiveIntegerField()),
                ("problem", models.TextField(blank=True)),
                ("left_out", models.BooleanField(default=False, verbose_name="cancelled before it was printed")),
                (
                    "enrolment",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="lessons.enrolment"
                    ),
                ),
                (
                    "run",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="items", to="grading.printrun"
                    ),
                ),
                (
                    "sheet",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="grading.sheet",
                    ),
                ),
            ],
        ),
        migrations.AddConstraint(
            model_name="printrun",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("cancelled_at", None), ("cancelled_by", None)),
                    models.Q(("cancelled_at__isnull", False), ("cancelled_by__isnull", False)),
                    _connector="OR",
                ),
                name="printrun_cancelled_at_by",
            ),
        ),
        migrations.AddConstraint(
            model_name="printrun",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(
                        ("chosen", "ended"), ("ended_from__isnull", False), ("ended_until__gte", models.F("ended_from"))
                    ),
                    models.Q(models.Q(("chosen", "ended"), _negated=True), ("ended_from", None), ("ended_until", None)),
                    _connector="OR",
                ),
                name="printrun_ended_between",
            ),
        ),
        migrations.AddIndex(
            model_name="printrunitem",
            index=models.Index(
                condition=models.Q(("left_out", False), ("problem", ""), ("sheet", None)),
                fields=["run", "position"],
                name="printrunitem_waiting",
            ),
        ),
        migrations.AddConstraint(
            model_name="printrunitem",
            constraint=models.UniqueConstraint(fields=("run", "enrolment"), name="printrunitem_student_once"),
        ),
        migrations.AddConstraint(
            model_name="printrunitem",
            constraint=models.UniqueConstraint(fields=("run", "position"), name="printrunitem_position_once"),
        ),
        migrations.AddConstraint(
            model_name="printrunitem",
            constraint=models.CheckConstraint(
                condition=models.Q(("sheet", None), models.Q(("left_out", False), ("problem", "")), _connector="OR"),
                name="printrunitem_printed_or_not",
            ),
        ),
        migrations.RunSQL(FINAL, NOT_FINAL),
    ]
