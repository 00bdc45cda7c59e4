"""The seals and signatures of one student, found without reading everybody's: erasure and a person's own data ask."""

from django.db import migrations, models

from grading.erasure_plan import plan_sql


class Migration(migrations.Migration):
    dependencies = [("grading", "0015_verdicts_have_stamps")]
    operations = [
        migrations.AddIndex("seal", models.Index(fields=["subject"], name="seal_subject")),
        migrations.RunSQL(plan_sql(), migrations.RunSQL.noop),
    ]
