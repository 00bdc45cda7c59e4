"""Where a runway lies, and what stands before it: typed from the published chart, all of it optional."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("school", "0012_type_features")]
    operations = [
        migrations.AddField(
            "runway",
            "threshold_latitude",
            models.DecimalField(
                "threshold, latitude (degrees, north positive)", max_digits=9, decimal_places=6, null=True, blank=True
            ),
        ),
        migrations.AddField(
            "runway",
            "threshold_longitude",
            models.DecimalField(
                "threshold, longitude (degrees, east positive)", max_digits=9, decimal_places=6, null=True, blank=True
            ),
        ),
        migrations.AddField(
            "runway",
            "heading_true",
            models.DecimalField("heading (degrees true)", max_digits=4, decimal_places=1, null=True, blank=True),
        ),
        migrations.AddField(
            "runway",
            "aiming_point_ft",
            models.PositiveSmallIntegerField("aiming point, distance past the threshold (ft)", null=True, blank=True),
        ),
        migrations.AddConstraint(
            "runway",
            models.CheckConstraint(
                condition=models.Q(threshold_latitude=None, threshold_longitude=None)
                | models.Q(
                    # NULL lies in no range and is refused by none: it is named.
                    threshold_latitude__isnull=False,
                    threshold_longitude__isnull=False,
                    threshold_latitude__range=(-90, 90),
                    threshold_longitude__range=(-180, 180),
                ),
                name="runway_threshold",
            ),
        ),
        migrations.CreateModel(
            "Obstacle",
            [
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("name", models.CharField(max_length=40)),
                ("before_ft", models.IntegerField("before the threshold (ft)")),
                ("side_ft", models.IntegerField("right of the centreline (ft)")),
                ("height_ft", models.PositiveSmallIntegerField("height above the threshold (ft)")),
                (
                    "runway",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="obstacles", to="school.runway"
                    ),
                ),
            ],
        ),
    ]
