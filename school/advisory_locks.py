"""Serialise transactions that claim a unique value for which there is no row to lock yet.

Take such a lock after row locks, never before: with one order for all, no two transactions wait for each other.
PostgreSQL releases it at the end of the transaction.
"""

from django.db import connection

# The keys are arbitrary; no other advisory lock of this database may use them.
NAMES_LOCK, EMAIL_LOCK = 6_187_145, 6_187_146


def lock_names() -> None:
    """Lock the giving of login names, school numbers, registrations and location indicators."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s)", [NAMES_LOCK])


def lock_email(email: str) -> None:
    """Lock an e-mail address, which is verified for one person only."""
    with connection.cursor() as cursor:
        # Two addresses may have one hash: they wait for each other then, which costs a moment and is never wrong.
        cursor.execute("SELECT pg_advisory_xact_lock(%s, hashtext(%s))", [EMAIL_LOCK, email.lower()])
