"""Compare a moment with a day, as far as the database must be sure of the order."""

from datetime import UTC, timedelta

from django.db.models import F
from django.db.models.functions import TruncDate

# No zone is further ahead of UTC (from memory), so it is a day there at the earliest.
EARLIEST_ZONE = timedelta(hours=14)


def day_somewhere(moment: str) -> TruncDate:
    """Return the latest day that it is anywhere on Earth at the moment in a field.

    A day is that of a school's own zone, which a constraint does not know: this refuses only what is wrong in each.
    """
    return TruncDate(F(moment) + EARLIEST_ZONE, tzinfo=UTC)
