"""This model holds files of flight tracks that wait for the person who uploaded them."""

import uuid
from typing import ClassVar

from django.db import models

from school.models import Person


class TrackUpload(models.Model):
    """A file of a logger that is read in the background and kept with a lesson once its person confirms it.

    The row is deleted when the track is kept, discarded, or has waited too long (grading/actions/track_uploads.py).
    content: the file, compressed, because another lesson is measured with another wind and other gates. told: what is
    in it; found: what it would be kept as (grading.exchange.flight_tracks.TrackFound). problem: why there is none.
    """

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    name = models.CharField("name of the file", max_length=200)
    sha256 = models.CharField(max_length=64)
    content = models.BinaryField()
    uploaded_at = models.DateTimeField()
    uploaded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    # By its uid and no key: a lesson that is discarded or erased meanwhile does not wait for this row.
    lesson_uid = models.UUIDField("lesson", null=True, blank=True)
    read_at = models.DateTimeField(null=True, blank=True)
    told = models.JSONField(null=True, blank=True)
    found = models.JSONField(null=True, blank=True)
    problem = models.CharField(max_length=500, blank=True)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            # The same file chosen twice is one file.
            models.UniqueConstraint(fields=["uploaded_by", "sha256"], name="trackupload_file_once"),
            models.CheckConstraint(
                condition=models.Q(read_at__isnull=False) | models.Q(found=None, problem=""), name="trackupload_read"
            ),
        ]
        indexes: ClassVar[list[models.Index]] = [models.Index(fields=["uploaded_at"], name="trackupload_at")]

    def __str__(self) -> str:
        return f"track file {self.name}"
