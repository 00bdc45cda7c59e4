from datetime import datetime
from typing import ClassVar, Self

from django.db import connections, models

# A loose index scan: SELECT DISTINCT would read every entry.
DISTINCT_ACTS_SQL = """
WITH RECURSIVE acts AS (
    (SELECT what FROM school_journalentry ORDER BY what LIMIT 1)
    UNION ALL
    SELECT (SELECT what FROM school_journalentry WHERE what > acts.what ORDER BY what LIMIT 1)
    FROM acts WHERE acts.what IS NOT NULL
)
SELECT what FROM acts WHERE what IS NOT NULL
"""


class JournalQuerySet(models.QuerySet["JournalEntry"]):
    def about(self, subject: models.Model) -> Self:
        return self.filter(subject_kind=subject._meta.label_lower, subject_id=subject.pk)

    def newest_first(self) -> Self:
        return self.order_by("-at", "-pk")

    def older_than(self, at: datetime, pk: int) -> Self:
        """Return what follows an entry of that moment and key in the order newest first."""
        # The condition on `at` alone can be looked up in an index; the other one only sorts out entries of the same
        # moment.
        return self.filter(models.Q(at__lt=at) | models.Q(pk__lt=pk), at__lte=at)

    def distinct_acts(self) -> list[str]:
        """Return every word of `what` that occurs, in order, by one step of the index each."""
        with connections[self.db].cursor() as cursor:
            cursor.execute(DISTINCT_ACTS_SQL)
            return [what for (what,) in cursor.fetchall()]


class JournalEntry(models.Model):
    """Who did what, append-only: the database refuses to change or remove a row.

    No foreign keys: an entry outlives whatever it speaks of. `about_id` is the person whom it concerns,
    a student for the most part.
    """

    at = models.DateTimeField()
    person_id = models.BigIntegerField(null=True)
    person_name = models.CharField(max_length=210)
    what = models.CharField(max_length=60)
    subject_kind = models.CharField(max_length=60)
    subject_id = models.BigIntegerField()
    about_id = models.BigIntegerField(null=True)
    subject_label = models.CharField(max_length=200)
    before = models.JSONField(null=True)
    after = models.JSONField(null=True)

    objects = JournalQuerySet.as_manager()

    class Meta:
        verbose_name_plural = "journal entries"
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["subject_kind", "subject_id"], name="journal_subject"),
            models.Index(fields=["at"], name="journal_at"),
            models.Index(fields=["about_id", "at"], name="journal_about"),
            models.Index(fields=["person_id", "at"], name="journal_person"),
            models.Index(fields=["what", "at"], name="journal_what"),
        ]

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d %H:%M} {self.person_name}: {self.what} {self.subject_label}"
