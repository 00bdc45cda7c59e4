"""Seal the flight tracks of a lesson: with its signature, or each by itself where it came later."""

from collections.abc import Iterable
from datetime import datetime

from grading.evidence import chain
from grading.evidence.track_payload import build_track_payload
from grading.models import FlightTrack, Seal
from lessons.models import Lesson


def seal_tracks_of(lesson: Lesson, at: datetime) -> None:
    """Seal what was kept with a lesson that is being signed. One query where there is none."""
    tracks = FlightTrack.objects.filter(lesson=lesson).defer("positions", "ways")
    seal_tracks(tracks.select_related("lesson__enrolment__student", "aerodrome", "imported_by").order_by("pk"), at)


def seal_tracks(tracks: Iterable[FlightTrack], at: datetime) -> None:
    """Seal tracks, under the lock of the chain."""
    chain.append([chain.NewLink(Seal.Kind.TRACK, track.uid, build_track_payload(track)) for track in tracks], at)
