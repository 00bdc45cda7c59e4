"""The names of columns and of a choice, as they are shown. No row changes."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("lessons", "0018_power_at_gates"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AlterField(
            model_name="earliertraining",
            name="paper",
            field=models.CharField(blank=True, max_length=200, verbose_name="where the paper is kept"),
        ),
        migrations.AlterField(
            model_name="enrolment",
            name="instructor",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
                verbose_name="assigned instructor",
            ),
        ),
        migrations.AlterField(
            model_name="gatetarget",
            name="wind_rule",
            field=models.CharField(
                choices=[("none", "not changed by gusts"), ("half_gust", "plus half the gust")],
                default="none",
                max_length=10,
            ),
        ),
        migrations.AlterField(
            model_name="lesson",
            name="next_time",
            field=models.TextField(blank=True, verbose_name="for the next lesson"),
        ),
        migrations.AlterField(
            model_name="lesson",
            name="remarks",
            field=models.TextField(blank=True, verbose_name="remarks"),
        ),
        migrations.AlterField(
            model_name="unitmanoeuvre",
            name="compulsory",
            field=models.BooleanField(default=False, verbose_name="required: graded before signing"),
        ),
    ]
