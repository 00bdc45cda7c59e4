"""Sheets of several kinds with the digest of their bytes; signatures under endorsements and the end of training."""

from django.conf import settings
from django.db import migrations, models

DIGESTS = """
ALTER TABLE grading_sheet DISABLE TRIGGER grading_progresssheet_is_final;
UPDATE grading_sheet SET digest = encode(sha256(pdf), 'hex');
ALTER TABLE grading_sheet ENABLE TRIGGER grading_progresssheet_is_final;
"""


class Migration(migrations.Migration):
    dependencies = [
        ("grading", "0006_kinds_of_release"),
        ("lessons", "0007_uids"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]
    operations = [
        migrations.RemoveConstraint("progresssheet", "progresssheet_number_unique"),
        migrations.RenameModel("ProgressSheet", "Sheet"),
        migrations.AddField("sheet", "digest", models.CharField(max_length=64, default=""), preserve_default=False),
        migrations.RunSQL(DIGESTS, migrations.RunSQL.noop),
        migrations.AddField("sheet", "kind", models.CharField(max_length=12, default="progress")),
    ]
