"""What has run out and only takes room: sessions, what is kept of them, and the counters of the limits."""

from datetime import datetime

from allauth.usersessions.models import UserSession
from django.conf import settings
from django.contrib.sessions.models import Session
from django.db import connection, transaction


@transaction.atomic
def delete_expired(at: datetime) -> tuple[int, int]:
    """How many sessions and counters went. Nothing of it is a record, so there is no journal entry."""
    gone, _ = Session.objects.filter(expire_date__lt=at).delete()
    UserSession.objects.exclude(session_key__in=Session.objects.values("session_key")).delete()
    table = connection.ops.quote_name(str(settings.CACHES["default"]["LOCATION"]))
    with connection.cursor() as cursor:
        cursor.execute(f"DELETE FROM {table} WHERE expires < %s", [at])  # noqa: S608 - a name of the settings
        return gone, cursor.rowcount
