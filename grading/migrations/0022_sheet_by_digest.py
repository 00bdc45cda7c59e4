"""A file that somebody has checked is looked for by its digest before anything reads it."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("grading", "0021_late_entries"),
    ]

    operations = [
        migrations.AddIndex("sheet", models.Index(fields=["digest"], name="sheet_digest")),
    ]
