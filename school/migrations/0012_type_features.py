"""What a type has that asks for an endorsement before solo: flaps and horsepower.

Existing types count as with flaps, which asks for more; their horsepower is not known until somebody records it.
"""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("school", "0011_time_zone")]
    operations = [
        migrations.AddField("aircrafttype", "flaps", models.BooleanField(default=True)),
        migrations.AddField(
            "aircrafttype",
            "horsepower",
            models.PositiveSmallIntegerField("horsepower of its strongest engine", null=True, blank=True),
        ),
    ]
