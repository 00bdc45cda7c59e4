"""What waits before it changes how a person logs in: a new address, a reset of the second step. The earlier address.

Nothing waits for those who are there already.
"""

from django.db import migrations, models

MOMENT = {"blank": True, "editable": False, "null": True}
ADDRESS = {"blank": True, "default": "", "editable": False, "max_length": 254}


class Migration(migrations.Migration):
    dependencies = [("school", "0014_tablet_hours")]
    operations = [
        migrations.AddField("person", "new_email", models.EmailField(**ADDRESS)),
        migrations.AddField("person", "new_email_verified", models.BooleanField(default=False, editable=False)),
        migrations.AddField("person", "new_email_from", models.DateTimeField(**MOMENT)),
        migrations.AddField("person", "second_step_reset_from", models.DateTimeField(**MOMENT)),
        migrations.AddField("person", "earlier_email", models.EmailField(**ADDRESS)),
        migrations.AddField("person", "earlier_email_until", models.DateTimeField(**MOMENT)),
    ]
