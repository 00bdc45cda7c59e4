"""Delete expired sessions, their list entries and the counters of the rate limits."""

from datetime import datetime

from allauth.usersessions.models import UserSession
from django.conf import settings
from django.contrib.sessions.models import Session
from django.db import connection, transaction


@transaction.atomic
def delete_expired(at: datetime) -> tuple[int, int]:
    """Delete what expired and return the numbers of sessions and counters. They are no records: no journal entry."""
    sessions, _ = Session.objects.filter(expire_date__lt=at).delete()
    # After the sessions themselves: otherwise people would see sessions in their list that nobody can use.
    UserSession.objects.exclude(session_key__in=Session.objects.values("session_key")).delete()
    # Plain SQL, because the cache itself deletes expired rows only at a write past MAX_ENTRIES.
    table = connection.ops.quote_name(str(settings.CACHES["default"]["LOCATION"]))
    with connection.cursor() as cursor:
        cursor.execute(f"DELETE FROM {table} WHERE expires < %s", [at])  # noqa: S608 - a name of the settings
        return sessions, cursor.rowcount
