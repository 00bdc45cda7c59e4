"""A student's lessons as lines of a logbook: another kind of sheet, in print runs too."""

from django.db import migrations, models

KINDS = [
    ("progress", "progress sheet"),
    ("complete", "complete record"),
    ("endorsements", "list of endorsements"),
    ("logbook", "logbook sheet"),
]


class Migration(migrations.Migration):
    dependencies = [("grading", "0024_own_view")]

    operations = [
        migrations.AlterField("sheet", "kind", models.CharField(choices=KINDS, default="progress", max_length=12)),
        migrations.AlterField("printrun", "kind", models.CharField(choices=KINDS, max_length=12)),
    ]
