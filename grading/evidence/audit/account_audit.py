"""Ask each seal for its account: the entry of the journal, the proof of its signature, the entries of its lesson.

From the opening of the register on: before it there was no proof, and entries could be removed before a lesson was
signed.
"""

import json
from collections import defaultdict
from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple
from uuid import UUID

from django.conf import settings
from django.db import models

from grading.evidence import lesson_state
from grading.evidence.lesson_payload import utc_timestamp
from grading.models import Erasure, Release, Seal, SetAside, Sheet, Signature
from grading.rules.entry_replay import differences, replay
from lessons.models import DiscardedLesson, Endorsement, Enrolment, KnowledgeTest, Lesson
from school import signature_keys
from school.models import JournalEntry


class Act(NamedTuple):
    """The row that an entry of the journal speaks of, and what it says was done."""

    model: type[models.Model]
    words: tuple[str, ...]


ACTS: dict[str, Act] = {
    Seal.Kind.LESSON: Act(Lesson, ("lesson signed",)),
    Seal.Kind.ACKNOWLEDGEMENT: Act(Signature, ("lesson acknowledged", "signature refused")),
    Seal.Kind.RELEASE: Act(Release, ("released for solo",)),
    Seal.Kind.WITHDRAWAL: Act(Release, ("release withdrawn",)),
    Seal.Kind.CONFIRMED: Act(Release, ("withdrawal confirmed",)),
    Seal.Kind.ENDORSEMENT: Act(Endorsement, ("endorsed",)),
    Seal.Kind.UNENDORSED: Act(Endorsement, ("endorsement withdrawn",)),
    Seal.Kind.TEST: Act(KnowledgeTest, ("test recorded",)),
    Seal.Kind.REVIEW: Act(KnowledgeTest, ("wrong answers reviewed",)),
    Seal.Kind.SET_ASIDE: Act(SetAside, ("requirement set aside",)),
    Seal.Kind.ASKED_AGAIN: Act(SetAside, ("requirement asked for again",)),
    Seal.Kind.END: Act(Enrolment, ("end of training certified",)),
    Seal.Kind.DISCARDED: Act(DiscardedLesson, ("lesson discarded",)),
    Seal.Kind.SHEET: Act(Sheet, tuple(f"{kind.label} printed" for kind in Sheet.Kind)),
    Seal.Kind.ERASURE: Act(Erasure, ("record erased",)),
}


class AccountFinding(NamedTuple):
    number: int | None
    words: str


class AccountAudit:
    """Walk along the seals in batches of their order."""

    def __init__(self) -> None:
        self._opened = False
        self.unproved = 0
        self._lost: dict[str, int] = defaultdict(int)
        self._unknown: dict[str, list[int]] = defaultdict(list)
        self._former: set[str] = set()
        self._newest = ""

    def batch(self, links: Sequence[Seal]) -> Iterator[AccountFinding]:
        """Yield what the seals of a batch lack, in a fixed number of queries for each kind."""
        since = [link for link in links if self._is_since_opening(link)]
        yield from self._proofs(links, {link.number for link in since})
        kinds: dict[str, list[Seal]] = defaultdict(list)
        for link in since:
            kinds[link.kind].append(link)
        for kind, rows in kinds.items():
            if kind in ACTS:
                yield from _missing_entries(ACTS[kind], rows)
        yield from _untapped(kinds[Seal.Kind.LESSON])

    def end(self) -> Iterator[AccountFinding]:
        for name, numbers in sorted(self._unknown.items()):
            words = f"its signature was made with the key {name}, which is not here ({len(numbers)} such signatures)"
            yield AccountFinding(numbers[0], words)

    def notes(self) -> list[str]:
        notes = [
            f"{count} signatures were made with the lost key {name}." for name, count in sorted(self._lost.items())
        ]
        if self.unproved:
            notes.append(f"{self.unproved} signatures are from before each was proved by a key outside the database.")
        return notes

    def _is_since_opening(self, link: Seal) -> bool:
        self._opened = self._opened or link.kind == Seal.Kind.REGISTER
        return self._opened and bool(link.canonical)

    def _proofs(self, links: Sequence[Seal], since: set[int]) -> Iterator[AccountFinding]:
        signed = {link: found for link in links if (found := _signature_of(link)) is not None}
        rows = {row.uid: row for row in Signature.objects.filter(uid__in=signed.values()).defer("drawn", "meaning")}
        for link, uid in signed.items():
            # One that is gone is found where the record is rebuilt.
            if uid in rows:
                yield from self._proof(link, rows[uid], link.number in since)

    def _proof(self, link: Seal, row: Signature, is_since: bool) -> Iterator[AccountFinding]:
        if not row.proof:
            self.unproved += not is_since
            if is_since:
                yield AccountFinding(link.number, f"the signature of {row.name} has no proof of this installation")
            return
        name = signature_keys.key_name(row.proof)
        if name in settings.LOST_SIGNATURE_KEYS and name not in signature_keys.key_names():
            self._lost[name] += 1
        elif name not in signature_keys.key_names():
            self._unknown[name].append(link.number)
        elif not signature_keys.is_proof_valid(row.proof, row.uid, row.person_id, row.signed_at, link.canonical):
            yield AccountFinding(link.number, f"the signature of {row.name} was not made by this installation")
        elif name in self._former:
            yield AccountFinding(
                link.number, f"the signature of {row.name} was made with a key that was replaced before"
            )
        if name != self._newest:
            self._former |= {self._newest} - {""}
            self._newest = name if name not in self._former else self._newest


def _signature_of(link: Seal) -> UUID | None:
    """Return the id of the signature in a sealed record; None where there is none."""
    if link.kind not in ACTS or not link.canonical:
        return None
    try:
        signature = json.loads(link.canonical).get("signature")
    except ValueError:
        return None  # the walk along the chain finds that its text was altered
    return UUID(signature["id"]) if isinstance(signature, dict) and "id" in signature else None


def _missing_entries(act: Act, links: Sequence[Seal]) -> Iterator[AccountFinding]:
    key = "lesson_id" if act.model is Signature else "pk"
    kind = (Lesson if act.model is Signature else act.model)._meta.label_lower
    keys: dict[UUID, int] = dict(
        act.model._default_manager.filter(uid__in=[link.subject for link in links]).values_list("uid", key)
    )
    entries = JournalEntry.objects.filter(subject_kind=kind, subject_id__in=keys.values(), what__in=act.words)
    told = {(subject, at) for subject, at in entries.values_list("subject_id", "at")}
    for link in links:
        if link.subject in keys and (keys[link.subject], link.sealed_at) not in told:
            words = f"no entry of the journal says “{act.words[0]}” at {utc_timestamp(link.sealed_at)}"
            yield AccountFinding(link.number, words)


def _untapped(links: Sequence[Seal]) -> Iterator[AccountFinding]:
    """Yield what stands in signed lessons and was not entered in them."""
    numbers = {link.subject: link.number for link in links}
    lessons = list(Lesson.objects.filter(uid__in=numbers).select_related("supersedes", "runway", "aircraft__type"))
    before = [lesson.supersedes for lesson in lessons if lesson.supersedes]
    states = lesson_state.load_states([*lessons, *before])
    entries = lesson_state.load_entries([lesson.pk for lesson in lessons])
    for lesson in lessons:
        # A correction begins as a copy of the version before it.
        begun: dict[str, Any] = states[lesson.supersedes.pk] if lesson.supersedes else {}
        entered = entries[lesson.pk]
        expected = replay(begun, entered)
        for sentence in differences(expected, states[lesson.pk], {entry.field for entry in entered}):
            yield AccountFinding(numbers[lesson.uid], f"Lesson {lesson.number}: {sentence}")
