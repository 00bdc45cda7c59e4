"""The names of a role and of a document’s last day, as they are shown. No row changes."""

import django.contrib.postgres.fields
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("school", "0015_waiting_account_changes"),
    ]

    operations = [
        migrations.AlterField(
            model_name="paper",
            name="expires",
            field=models.DateField(blank=True, null=True, verbose_name="expires"),
        ),
        migrations.AlterField(
            model_name="person",
            name="roles",
            field=django.contrib.postgres.fields.ArrayField(
                base_field=models.CharField(
                    choices=[
                        ("student", "student"),
                        ("instructor", "instructor"),
                        ("chief", "chief instructor"),
                        ("admin", "administrator"),
                    ],
                    max_length=20,
                ),
                default=list,
                size=None,
            ),
        ),
    ]
