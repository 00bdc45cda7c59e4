"""A lesson is not signed before its day, whatever code writes the row."""

from datetime import UTC, timedelta

from django.contrib.postgres.operations import AddConstraintNotValid
from django.db import migrations, models
from django.db.models.functions import TruncDate

CONSTRAINT = models.CheckConstraint(
    condition=models.Q(signed_at=None) | models.Q(on__lte=TruncDate("signed_at", tzinfo=UTC) + timedelta(days=1)),
    name="lesson_signed_not_before_its_day",
)


class Migration(migrations.Migration):
    dependencies = [("lessons", "0014_gear_of_faults_and_criteria")]
    # Not of the rows that are there: what is signed is final, and a wrong day in it would stop the migration for ever.
    operations = [AddConstraintNotValid("lesson", CONSTRAINT)]
