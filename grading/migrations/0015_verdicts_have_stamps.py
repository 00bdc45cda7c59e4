"""Whatever is drawn of a student is kept by the stamp of the verdict that it rests on."""

import uuid

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("grading", "0014_accounts_are_erased"),
    ]

    operations = [
        migrations.AddField(
            model_name="storedverdict",
            name="stamp",
            field=models.UUIDField(default=uuid.uuid4, editable=False),
        ),
        # The default is asked once for all rows there are: each gets one of its own. And more is kept of each: all are
        # derived anew.
        migrations.RunSQL(
            "UPDATE grading_storedverdict SET stamp = gen_random_uuid(), stale = true", migrations.RunSQL.noop
        ),
    ]
