"""A name that is the same everywhere for endorsements and written tests: it stands in what is sealed of them."""

import uuid

from django.db import migrations, models

GIVE = """
UPDATE lessons_endorsement SET uid = gen_random_uuid();
UPDATE lessons_knowledgetest SET uid = gen_random_uuid();
"""


def field(**options: bool) -> models.UUIDField:
    return models.UUIDField(default=uuid.uuid4, editable=False, **options)


class Migration(migrations.Migration):
    dependencies = [("lessons", "0006_outside_release")]
    operations = [
        *(
            migrations.AddField(name, "uid", models.UUIDField(default=None, editable=False, null=True))
            for name in ("endorsement", "knowledgetest")
        ),
        migrations.RunSQL(GIVE, migrations.RunSQL.noop),
        *(migrations.AlterField(name, "uid", field(unique=True)) for name in ("endorsement", "knowledgetest")),
    ]
