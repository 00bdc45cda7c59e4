"""Documents of aircraft, pictures of documents, and issues of the figures of a type. What is recorded stays."""

import uuid

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

GUARDS = """
CREATE TRIGGER school_aircraftpaper_is_final BEFORE UPDATE OR DELETE ON school_aircraftpaper
    FOR EACH ROW EXECUTE FUNCTION record_changes_once('voided_at', 'voided_by_id', 'void_reason');
CREATE TRIGGER school_aircraftpaper_is_kept BEFORE TRUNCATE ON school_aircraftpaper
    FOR EACH STATEMENT EXECUTE FUNCTION record_is_final();
CREATE TRIGGER school_attachment_is_final BEFORE UPDATE OR DELETE ON school_attachment
    FOR EACH ROW EXECUTE FUNCTION record_changes_once('withdrawn_at', 'withdrawn_by_id', 'withdraw_reason');
CREATE TRIGGER school_attachment_is_kept BEFORE TRUNCATE ON school_attachment
    FOR EACH STATEMENT EXECUTE FUNCTION record_is_final();

-- The row and its bytes say the same, whatever code writes it.
ALTER TABLE school_attachment ADD CONSTRAINT attachment_is_its_content
    CHECK (size = length(content) AND sha256 = encode(sha256(content), 'hex'));
-- Pictures and PDF are packed already: the database need not try again.
ALTER TABLE school_attachment ALTER COLUMN content SET STORAGE EXTERNAL;
"""
BACK = """
ALTER TABLE school_attachment DROP CONSTRAINT attachment_is_its_content;
DROP TRIGGER school_attachment_is_kept ON school_attachment;
DROP TRIGGER school_attachment_is_final ON school_attachment;
DROP TRIGGER school_aircraftpaper_is_kept ON school_aircraftpaper;
DROP TRIGGER school_aircraftpaper_is_final ON school_aircraftpaper;
"""


class Migration(migrations.Migration):
    dependencies = [
        ("school", "0017_views_of_the_board"),
    ]

    operations = [
        migrations.AddField(
            model_name="aircrafttype",
            name="earlier_issues",
            field=models.JSONField(blank=True, default=list),
        ),
        migrations.AddField(
            model_name="aircrafttype",
            name="issue",
            field=models.PositiveSmallIntegerField(default=1, verbose_name="issue of its figures"),
        ),
        migrations.AddField(
            model_name="aircrafttype",
            name="valid_from",
            field=models.DateField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="aircrafttype",
            name="seats",
            field=models.PositiveSmallIntegerField(blank=True, null=True, verbose_name="seats, the pilot's included"),
        ),
        migrations.CreateModel(
            name="AircraftPaper",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("kind", models.CharField(max_length=30)),
                ("number", models.CharField(blank=True, max_length=40, verbose_name="number on the document")),
                ("issued", models.DateField(verbose_name="date of issue or inspection")),
                ("expires", models.DateField(blank=True, null=True, verbose_name="expires")),
                (
                    "due_at_hours",
                    models.DecimalField(
                        blank=True,
                        decimal_places=1,
                        max_digits=7,
                        null=True,
                        verbose_name="due at (hours of the meter)",
                    ),
                ),
                ("recorded_at", models.DateTimeField()),
                ("voided_at", models.DateTimeField(blank=True, null=True)),
                ("void_reason", models.CharField(blank=True, max_length=200)),
                (
                    "aircraft",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="papers", to="school.aircraft"
                    ),
                ),
                (
                    "recorded_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "voided_by",
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
            name="Attachment",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("uid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                (
                    "media_type",
                    models.CharField(
                        choices=[("image/jpeg", "JPEG"), ("image/png", "PNG"), ("application/pdf", "PDF")],
                        max_length=20,
                    ),
                ),
                ("sha256", models.CharField(max_length=64)),
                ("size", models.PositiveIntegerField(verbose_name="bytes")),
                ("content", models.BinaryField()),
                ("recorded_at", models.DateTimeField()),
                ("withdrawn_at", models.DateTimeField(blank=True, null=True)),
                ("withdraw_reason", models.CharField(blank=True, max_length=200)),
                (
                    "aircraft_paper",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="attachments",
                        to="school.aircraftpaper",
                    ),
                ),
                (
                    "paper",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="attachments",
                        to="school.paper",
                    ),
                ),
                (
                    "recorded_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "withdrawn_by",
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
        migrations.AlterField(
            model_name="paper",
            name="kind",
            field=models.CharField(
                choices=[
                    ("student_certificate", "student pilot certificate"),
                    ("medical", "medical certificate"),
                    ("english", "English proficiency"),
                    ("identity", "proof of identity and age"),
                    ("endorsement", "endorsement on paper"),
                    ("instructor_certificate", "flight instructor certificate"),
                ],
                max_length=30,
            ),
        ),
        migrations.AddIndex(
            model_name="aircraftpaper",
            index=models.Index(fields=["aircraft", "kind", "issued"], name="aircraftpaper_newest"),
        ),
        migrations.AddConstraint(
            model_name="aircraftpaper",
            constraint=models.CheckConstraint(
                condition=models.Q(("expires", None), ("expires__gte", models.F("issued")), _connector="OR"),
                name="aircraftpaper_expires",
            ),
        ),
        migrations.AddConstraint(
            model_name="aircraftpaper",
            constraint=models.CheckConstraint(
                condition=models.Q(("due_at_hours", None), ("due_at_hours__gt", 0), _connector="OR"),
                name="aircraftpaper_hours",
            ),
        ),
        migrations.AddConstraint(
            model_name="aircraftpaper",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("void_reason", ""), ("voided_at", None), ("voided_by", None)),
                    models.Q(
                        ("voided_at__isnull", False),
                        ("voided_by__isnull", False),
                        models.Q(("void_reason", ""), _negated=True),
                    ),
                    _connector="OR",
                ),
                name="aircraftpaper_voided",
            ),
        ),
        migrations.AddConstraint(
            model_name="attachment",
            constraint=models.CheckConstraint(
                condition=models.Q(("paper", None), ("aircraft_paper", None), _connector="XOR"),
                name="attachment_of_one_document",
            ),
        ),
        migrations.AddConstraint(
            model_name="attachment",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("withdraw_reason", ""), ("withdrawn_at", None), ("withdrawn_by", None)),
                    models.Q(
                        ("withdrawn_at__isnull", False),
                        ("withdrawn_by__isnull", False),
                        models.Q(("withdraw_reason", ""), _negated=True),
                    ),
                    _connector="OR",
                ),
                name="attachment_withdrawn",
            ),
        ),
        migrations.RunSQL(GUARDS, BACK),
    ]
