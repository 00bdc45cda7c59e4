"""Signatures and seals of the academy, not written yet: each link made in Python as the actions make it."""

import json
import random
import uuid
from datetime import datetime
from typing import Any

import rfc8785

from grading.evidence.chain import link_digest
from grading.models import Seal, Signature
from school.models import Person
from tests.benchmarks.academy.generated_people import SimulatedInstructor

UUID_VERSION_7, UUID_VARIANT = 7 << 76, 2 << 62
RANDOM_BITS = (1 << 76) - 1 & ~(3 << 62)  # what is left to chance: all but the moment, the version and the variant
KINDS_WITH_FRACTIONS = {Seal.Kind.RELEASE}  # a verdict stands in it


def seeded_uuid_int(draw: random.Random, at: datetime) -> int:
    """A UUID as a number, the same every time, with its moment in front (the form of version 7).

    So the index of millions of them grows at its end, where numbers without order would touch every page of it.
    """
    milliseconds = int(at.timestamp() * 1000)
    return milliseconds << 80 | UUID_VERSION_7 | UUID_VARIANT | draw.getrandbits(128) & RANDOM_BITS


def seeded_uuid(draw: random.Random, at: datetime) -> uuid.UUID:
    return uuid.UUID(int=seeded_uuid_int(draw, at))


def fast_canonical_text(record: dict[str, Any]) -> str:
    """The RFC 8785 text of a record without fractions and with ASCII keys, six times as fast as for any value.

    Python writes and orders such values as the standard asks; the suite holds every text against the real thing.
    """
    return json.dumps(record, sort_keys=True, separators=(",", ":"), ensure_ascii=False)


class Chain:
    def __init__(self) -> None:
        self.number, self.digest = 0, ""

    def link(self, kind: Seal.Kind, subject: uuid.UUID, record: dict[str, Any], at: datetime) -> Seal:
        """The next link; links are made in the order of their moments."""
        canonical = rfc8785.dumps(record).decode() if kind in KINDS_WITH_FRACTIONS else fast_canonical_text(record)
        digest = link_digest(self.digest, canonical)
        made = Seal(
            number=self.number + 1,
            kind=kind.value,
            subject=subject,
            canonical=canonical,
            previous=self.digest,
            digest=digest,
            sealed_at=at,
        )
        self.number, self.digest = made.number, digest
        return made


def build_signature(
    uid: uuid.UUID,
    person: Person,
    capacity: Signature.Capacity,
    meaning: str,
    at: datetime,
    teacher: SimulatedInstructor | None = None,
    lesson_id: int | None = None,
    **more: Any,
) -> Signature:
    """`teacher`: whose certificate stands under it."""
    return Signature(
        uid=uid,
        lesson_id=lesson_id,
        capacity=capacity.value,
        meaning=meaning,
        person_id=person.pk,
        name=person.name,
        reference=person.reference,
        certificate_number=teacher.certificate if teacher else "",
        certificate_valid=teacher.certificate_valid if teacher else "",
        signed_at=at,
        **more,
    )
