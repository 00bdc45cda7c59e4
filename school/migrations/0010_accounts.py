"""Invitations, the epoch of sessions, and the table of the shared cache in which the limits on guessing are counted."""

import uuid

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

# The table that `createcachetable` makes. An address is compared in small letters.
FORWARD = """
CREATE TABLE school_cache (
    cache_key varchar(255) NOT NULL PRIMARY KEY,
    value text NOT NULL,
    expires timestamp with time zone NOT NULL
);
CREATE INDEX school_cache_expires ON school_cache (expires);
UPDATE school_person SET email = lower(email) WHERE email <> lower(email);
"""
BACK = "DROP TABLE school_cache;"


class Migration(migrations.Migration):
    dependencies = [("school", "0009_signing_certificates")]
    operations = [
        migrations.AddField(
            model_name="person",
            name="session_epoch",
            field=models.PositiveIntegerField(default=0, editable=False),
        ),
        migrations.CreateModel(
            name="Invitation",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("uid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("email", models.EmailField(max_length=254, verbose_name="sent to")),
                ("invited_at", models.DateTimeField()),
                ("accepted_at", models.DateTimeField(blank=True, null=True)),
                (
                    "invited_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="invitations",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={"indexes": [models.Index(fields=["person", "invited_at"], name="invitation_newest")]},
        ),
        migrations.RunSQL(FORWARD, BACK),
    ]
