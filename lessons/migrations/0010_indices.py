"""Lessons of a day, and the few that are being written, found without reading all."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("lessons", "0009_earlier_training")]
    operations = [
        migrations.AddIndex("lesson", models.Index(fields=["on"], name="lesson_on")),
        migrations.AddIndex(
            "lesson",
            models.Index(
                condition=models.Q(signed_at=None), fields=["enrolment", "instructor"], name="lesson_unsigned"
            ),
        ),
    ]
