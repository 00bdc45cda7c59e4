"""A fault or a criterion may belong to tailwheel, nosewheel or retractable types only; empty means every type."""

from django.db import migrations, models

GEARS = [
    ("", "every type"),
    ("tailwheel", "tailwheel types only"),
    ("nosewheel", "nosewheel types only"),
    ("retractable", "retractable types only"),
]


def gear_field() -> models.CharField:
    return models.CharField("landing gear it belongs to", blank=True, choices=GEARS, default="", max_length=12)


class Migration(migrations.Migration):
    dependencies = [("lessons", "0013_days_and_numbers_in_order")]
    operations = [
        migrations.AddField("fault", "gear", gear_field()),
        migrations.AddField("criterion", "gear", gear_field()),
    ]
