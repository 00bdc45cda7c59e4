"""The seals and signatures of one student, found without reading everybody's: erasure and a person's own data ask."""

from pathlib import Path

from django.db import migrations, models

# A migration never follows later code: the plan as it was then.
ERASURE_PLAN = (Path(__file__).parent / "sql" / "0016_erasure_plan.sql").read_text()


class Migration(migrations.Migration):
    dependencies = [("grading", "0015_verdicts_have_stamps")]
    operations = [
        migrations.AddIndex("seal", models.Index(fields=["subject"], name="seal_subject")),
        migrations.RunSQL(ERASURE_PLAN, migrations.RunSQL.noop),
    ]
