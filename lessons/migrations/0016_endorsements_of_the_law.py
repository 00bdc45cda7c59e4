"""Endorsements for complex and high-performance types, at night and nearby, with their limitations; LAPL students."""

import django.db.models.deletion
from django.db import migrations, models

KINDS = [
    ("tailwheel", "tailwheel aeroplanes"),
    ("complex", "complex aeroplanes"),
    ("high_performance", "high-performance aeroplanes"),
    ("pre_solo_training", "pre-solo flight training"),
    ("solo_at_night", "solo at night"),
    ("solo_nearby", "solo at another aerodrome within 25 NM"),
]


class Migration(migrations.Migration):
    dependencies = [("lessons", "0015_signed_not_before_its_day"), ("school", "0012_type_features")]
    operations = [
        migrations.AddField(
            "endorsement",
            "aerodrome",
            models.ForeignKey(
                "school.aerodrome",
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
            ),
        ),
        migrations.AddField(
            "endorsement", "limitations", models.TextField(blank=True, default=""), preserve_default=False
        ),
        migrations.AddField("enrolment", "for_lapl", models.BooleanField("trains for a LAPL", default=False)),
        migrations.AlterField("endorsement", "kind", models.CharField(max_length=20, choices=KINDS)),
    ]
