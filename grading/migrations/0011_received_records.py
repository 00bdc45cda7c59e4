"""Uploads that wait, and records received from elsewhere, which are final."""

import uuid

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

FINAL = ("grading_receivedbatch", "grading_receivedrecord")

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
        ("grading", "0010_print_runs"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="ReceivedBatch",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("uid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                (
                    "source",
                    models.CharField(choices=[("school", "another school’s record"), ("paper", "paper")], max_length=6),
                ),
                ("school", models.CharField(max_length=200, verbose_name="school it came from")),
                ("student_name", models.CharField(max_length=210)),
                ("student_reference", models.CharField(max_length=20)),
                ("file_name", models.CharField(max_length=200)),
                ("digest", models.CharField(max_length=64)),
                ("signature", models.CharField(max_length=200, verbose_name="what was found of a signature")),
                ("received_at", models.DateTimeField()),
                (
                    "received_by",
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
                "verbose_name_plural": "received batches",
            },
        ),
        migrations.CreateModel(
            name="ReceivedRecord",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("place", models.PositiveIntegerField(verbose_name="place in the batch")),
                ("kind", models.CharField(max_length=40)),
                ("record_date", models.DateField()),
                ("school", models.CharField(max_length=200, verbose_name="school that made it")),
                ("canonical", models.TextField()),
                ("fingerprint", models.CharField(max_length=64, unique=True)),
                ("seal_number", models.PositiveBigIntegerField(blank=True, null=True)),
                ("previous", models.CharField(blank=True, max_length=64)),
                ("digest", models.CharField(blank=True, max_length=64)),
                ("sealed_on", models.DateTimeField(blank=True, null=True)),
                ("hands", models.JSONField(default=list)),
                (
                    "batch",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="records", to="grading.receivedbatch"
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="PendingUpload",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("uid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("hand_over", "a student’s record from another school"),
                            ("roster", "people and enrolments"),
                            ("aircraft", "aircraft"),
                            ("past_lessons", "past lessons from paper"),
                        ],
                        max_length=12,
                    ),
                ),
                ("name", models.CharField(max_length=200, verbose_name="name of the file")),
                ("content", models.BinaryField()),
                ("uploaded_at", models.DateTimeField()),
                (
                    "uploaded_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "indexes": [models.Index(fields=["uploaded_at"], name="upload_at")],
            },
        ),
        migrations.AddIndex(
            model_name="receivedbatch",
            index=models.Index(fields=["student"], name="received_student"),
        ),
        migrations.AddConstraint(
            model_name="receivedrecord",
            constraint=models.UniqueConstraint(fields=("batch", "place"), name="received_place_unique"),
        ),
        migrations.RunSQL(FORWARD, BACK),
    ]
