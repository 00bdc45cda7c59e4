"""What was measured from the flight track of a lesson, and which numbers an instructor entered from one.

A track is kept with a lesson and never altered; it may be removed, because it is no record that must be kept.
"""

import uuid
from pathlib import Path

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

# A migration never follows later code: the plan as it was then.
ERASURE_PLAN = (Path(__file__).parent / "sql" / "0027_erasure_plan.sql").read_text()

TABLE = "grading_flighttrack"
GUARD = f"""
CREATE TRIGGER {TABLE}_is_final BEFORE UPDATE ON {TABLE}
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
        ("grading", "0026_withdrawal_is_confirmed"),
        ("lessons", "0019_one_word_for_one_thing"),
        ("school", "0016_one_word_for_one_thing"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="FlightTrack",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("uid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("sha256", models.CharField(max_length=64)),
                (
                    "form",
                    models.CharField(
                        choices=[("gpx", "GPX"), ("igc", "FAI IGC"), ("csv", "CSV"), ("kml", "KML")], max_length=3
                    ),
                ),
                ("fixes", models.PositiveIntegerField()),
                ("first_at", models.DateTimeField()),
                ("last_at", models.DateTimeField()),
                (
                    "step_seconds",
                    models.DecimalField(decimal_places=2, max_digits=6, verbose_name="seconds between positions"),
                ),
                ("by_pressure", models.BooleanField(verbose_name="heights by pressure")),
                (
                    "wind_from",
                    models.PositiveSmallIntegerField(blank=True, null=True, verbose_name="wind from (degrees true)"),
                ),
                (
                    "wind_speed_kt",
                    models.PositiveSmallIntegerField(blank=True, null=True, verbose_name="wind speed (kt)"),
                ),
                ("method", models.PositiveSmallIntegerField(default=1)),
                ("positions", models.BinaryField()),
                ("circuits", models.JSONField(default=list)),
                ("ways", models.BinaryField()),
                ("imported_at", models.DateTimeField()),
                (
                    "aerodrome",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="school.aerodrome"
                    ),
                ),
                (
                    "gate_set",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="lessons.gateset"
                    ),
                ),
                (
                    "imported_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "lesson",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="lessons.lesson"
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(fields=("lesson", "sha256"), name="flighttrack_file_unique"),
                    models.CheckConstraint(
                        condition=models.Q(("last_at__gt", models.F("first_at"))), name="flighttrack_span"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("wind_from", None), ("wind_speed_kt", None)),
                            ("wind_speed_kt__isnull", False),
                            _connector="OR",
                        ),
                        name="flighttrack_wind",
                    ),
                ],
            },
        ),
        migrations.AddField(
            model_name="measure",
            name="uncertainty",
            field=models.DecimalField(
                decimal_places=1, max_digits=6, null=True, verbose_name="uncertainty of the flight track"
            ),
        ),
        migrations.AddConstraint(
            model_name="measure",
            constraint=models.CheckConstraint(
                condition=models.Q(("uncertainty", None), ("uncertainty__gt", 0), _connector="OR"),
                name="measure_uncertainty",
            ),
        ),
        migrations.RunSQL(GUARD, BACK),
        migrations.RunSQL(ERASURE_PLAN, migrations.RunSQL.noop),
    ]
