"""Taps that come late: when each was made, as far as its tablet can tell, and which lesson an event begins."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("grading", "0020_evidence_stays")]
    operations = [
        migrations.AddField(
            "deviceevent",
            "tap_time",
            models.DateTimeField("when it was tapped, by the school’s clock", null=True, blank=True),
        ),
        migrations.AddField(
            "deviceevent",
            "lesson_uid",
            models.UUIDField("lesson that it begins", null=True, blank=True, db_index=True),
        ),
        migrations.AlterField(
            "deviceevent",
            "kind",
            models.CharField(
                choices=[
                    ("begin", "lesson begun"),
                    ("entry", "entry"),
                    ("undo", "tap taken back"),
                    ("keep", "question answered: what is on record stays"),
                ],
                max_length=5,
            ),
        ),
        migrations.AlterField(
            "deviceevent",
            "outcome",
            models.CharField(
                choices=[("applied", "applied"), ("refused", "refused"), ("late", "came late")], max_length=7
            ),
        ),
    ]
