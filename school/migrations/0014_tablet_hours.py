"""How long a tablet opens the pages that it keeps after its last contact with the school."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("school", "0013_runway_place")]
    operations = [
        migrations.AddField(
            "school",
            "tablet_hours",
            models.PositiveSmallIntegerField("tablets keep pages for (hours)", default=24),
        ),
        migrations.AddConstraint(
            "school",
            models.CheckConstraint(
                condition=models.Q(("tablet_hours__gte", 1), ("tablet_hours__lte", 168)), name="school_tablet_hours"
            ),
        ),
    ]
