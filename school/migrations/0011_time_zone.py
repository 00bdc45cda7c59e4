"""The zone whose days count at the school. A school that is there already keeps the days it had, those of UTC."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("school", "0010_accounts")]
    operations = [
        migrations.AddField("school", "time_zone", models.CharField("time zone", default="UTC", max_length=64)),
    ]
