"""The lessons in one aircraft on a day, found without reading all that were ever flown in it."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("lessons", "0010_indices")]
    operations = [
        migrations.AddIndex("lesson", models.Index(fields=["aircraft", "on"], name="lesson_aircraft_on")),
    ]
