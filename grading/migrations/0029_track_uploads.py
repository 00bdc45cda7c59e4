"""Files of flight tracks that wait until the person who uploaded them saves or discards them."""

import uuid

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("grading", "0028_tracks_are_sealed"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="TrackUpload",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("uid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("name", models.CharField(max_length=200, verbose_name="name of the file")),
                ("sha256", models.CharField(max_length=64)),
                ("content", models.BinaryField()),
                ("uploaded_at", models.DateTimeField()),
                ("lesson_uid", models.UUIDField(blank=True, null=True, verbose_name="lesson")),
                ("read_at", models.DateTimeField(blank=True, null=True)),
                ("told", models.JSONField(blank=True, null=True)),
                ("found", models.JSONField(blank=True, null=True)),
                ("problem", models.CharField(blank=True, max_length=500)),
                (
                    "uploaded_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "indexes": [models.Index(fields=["uploaded_at"], name="trackupload_at")],
                "constraints": [
                    models.UniqueConstraint(fields=("uploaded_by", "sha256"), name="trackupload_file_once"),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("read_at__isnull", False), models.Q(("found", None), ("problem", "")), _connector="OR"
                        ),
                        name="trackupload_read",
                    ),
                ],
            },
        ),
    ]
