"""Refuse withdrawals before the endorsement, too many minutes, numbers below one."""

from datetime import UTC, timedelta

from django.db import migrations
from django.db.models import CheckConstraint, F, Q
from django.db.models.functions import TruncDate


def day_somewhere(moment: str) -> TruncDate:
    return TruncDate(F(moment) + timedelta(hours=14), tzinfo=UTC)


class Migration(migrations.Migration):
    dependencies = [("lessons", "0012_kinds_of_circuit")]
    operations = [
        migrations.AddConstraint(
            "lesson",
            CheckConstraint(
                condition=Q(
                    dual_minutes__lte=1440 - F("solo_minutes"),
                    night_minutes__lte=1440,
                    instrument_minutes__lte=1440,
                    ground_minutes__lte=1440,
                ),
                name="lesson_minutes_of_a_day",
            ),
        ),
        migrations.AddConstraint("lesson", CheckConstraint(condition=Q(number__gte=1), name="lesson_number_from_one")),
        migrations.AddConstraint(
            "circuit", CheckConstraint(condition=Q(number__gte=1), name="circuit_number_from_one")
        ),
        migrations.AddConstraint(
            "endorsement",
            CheckConstraint(
                condition=Q(withdrawn_at=None) | Q(given_on__lte=day_somewhere("withdrawn_at")),
                name="endorsement_withdrawn_after_given",
            ),
        ),
    ]
