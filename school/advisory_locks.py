"""Who wants what only one can have waits for a turn, until the transaction before has ended. No row stands for it yet.

A turn is taken after the rows that are locked, never before, so that no two wait for each other.
"""

from django.db import connection

# Any numbers: they name the locks.
NAMES_LOCK, EMAIL_LOCK = 6_187_145, 6_187_146


def lock_names() -> None:
    """Login names and school numbers, registrations and indicators of aerodromes: each is given once."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s)", [NAMES_LOCK])


def lock_email(email: str) -> None:
    """An e-mail address, confirmed for one person."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s, hashtext(%s))", [EMAIL_LOCK, email.lower()])
