import uuid
from datetime import datetime, timedelta
from typing import ClassVar

from django.conf import settings
from django.db import models


class Invitation(models.Model):
    """An e-mail that lets a person set their password once. Only the newest invitation of a person is valid."""

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="invitations")
    # A copy: an invitation opens only while this is still the person's address.
    email = models.EmailField("sent to")
    invited_at = models.DateTimeField()
    invited_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    accepted_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["person", "invited_at"], name="invitation_newest")
        ]

    def __str__(self) -> str:
        return f"Invitation of {self.person}"

    @property
    def expires_at(self) -> datetime:
        return self.invited_at + timedelta(days=settings.INVITATION_DAYS)

    def is_open(self, at: datetime) -> bool:
        return self.accepted_at is None and at < self.expires_at
