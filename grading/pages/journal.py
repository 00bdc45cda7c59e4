"""This module shows the journal and a lesson's taps: entries in words, with the page of their subject."""

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Any, NamedTuple

from django.db.models import Q
from django.urls import reverse

from grading.models import Sheet
from grading.rules.readiness.dates import long_date
from lessons.models import DiscardedLesson, Enrolment, GateSet, Lesson
from school import csv_text
from school.journal_words import act_in_words
from school.models import JournalEntry, Person
from school.models.journal import JournalQuerySet
from school.permissions import can_see_all_students

ENTRIES_PER_PAGE = 50
# Everybody's, every day: among them one finds nothing else. A refused password or code is no log-in.
LOG_INS = ("logged in", "logged out")
EVERY_ACT = "all"
CSV_CHUNK_SIZE = 2000
# Marks count whole microseconds from here: a float would lose the last digits, and entries with them.
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
CSV_COLUMNS = ("At (UTC)", "Who", "What", "Subject", "About", "Changes")


class FieldChange(NamedTuple):
    """One field of an entry, in words; `before` is None where it was empty."""

    name: str
    before: str | None
    after: str | None

    @property
    def words(self) -> str:
        if self.before is None:
            return f"{self.name}: {self.after}"
        return f"{self.name}: {self.before} → {'removed' if self.after is None else self.after}"


@dataclass(frozen=True)
class JournalRow:
    entry: JournalEntry
    changes: Sequence[FieldChange]
    address: str
    about: str

    @property
    def act(self) -> str:
        return act_in_words(self.entry.what)


def filter_entries(
    by: str = "", about: int | None = None, what: str = "", since: date | None = None, until: date | None = None
) -> JournalQuerySet:
    """Return entries newest first.

    by: key of a person, or "system"; what: an act, EVERY_ACT, or nothing for all but log-ins; days are whole days of
    UTC, both included.
    """
    rows = JournalEntry.objects.newest_first()
    if by:
        rows = rows.filter(person_id=None if by == "system" else int(by))
    if about is not None:
        rows = rows.filter(about_id=about)
    if what not in ("", EVERY_ACT):
        rows = rows.filter(what=what)
    elif not what:
        rows = rows.exclude(what__in=LOG_INS)
    if since:
        rows = rows.filter(at__gte=_midnight(since))
    if until:
        rows = rows.filter(at__lt=_midnight(until + timedelta(days=1)))
    return rows


def _midnight(day: date) -> datetime:
    return datetime.combine(day, time(), UTC)


def find_people(words: str) -> list[Person]:
    """Return the people a name or school number may mean, a dozen at most; only one if a number is exactly theirs."""
    # A full school number names one person: the reader need not choose among similar ones.
    exact = Person.objects.filter(reference__iexact=words.strip()).first()
    if exact is not None:
        return [exact]
    people = Person.objects.by_name()
    for word in words.split():
        people = people.filter(
            Q(family_name__icontains=word) | Q(given_name__icontains=word) | Q(reference__icontains=word)
        )
    return list(people[:12])


def read_page(rows: JournalQuerySet, mark: str, size: int = ENTRIES_PER_PAGE) -> tuple[list[JournalEntry], str]:
    """Return the entries after a mark, and the mark of the next page, which is empty on the last one.

    A mark names the last entry shown, so a page costs the same however far back it lies.
    """
    # Eighteen digits at most: a longer number is no mark of ours and overflows the integers of the database.
    if found := re.fullmatch(r"(\d{1,18})-(\d{1,18})", mark):
        rows = rows.older_than(EPOCH + timedelta(microseconds=int(found[1])), int(found[2]))
    # One more than is shown tells whether there is a next page, without counting the journal.
    entries = list(rows[: size + 1])
    return entries[:size], _page_mark(entries[size - 1]) if len(entries) > size else ""


def _page_mark(entry: JournalEntry) -> str:
    return f"{(entry.at - EPOCH) // timedelta(microseconds=1)}-{entry.pk}"


def journal_rows(entries: Sequence[JournalEntry], reader: Person) -> list[JournalRow]:
    """Return the entries as rows. Six queries at most, however many entries."""
    addresses = _SubjectLinks(entries, reader)
    return [
        JournalRow(entry, field_changes(entry), addresses.of(entry), addresses.names.get(entry.about_id or 0, ""))
        for entry in entries
    ]


class _SubjectLinks:
    """The pages of the subjects of entries, as far as the reader may open them."""

    def __init__(self, entries: Sequence[JournalEntry], reader: Person) -> None:
        self.staff = can_see_all_students(reader)
        lessons = Lesson.objects.filter(pk__in=_subject_keys(entries, Lesson))
        # A student reads signed lessons only, so an unsigned one gets no link.
        self.lessons = dict((lessons if self.staff else lessons.signed()).values_list("pk", "uid"))
        discarded = DiscardedLesson.objects.filter(pk__in=_subject_keys(entries, DiscardedLesson))
        self.discarded = dict(discarded.values_list("pk", "uid"))
        # Lists of an instructor's endorsements have other readers, so they get no link here.
        self.sheets = dict(
            Sheet.objects.filter(pk__in=_subject_keys(entries, Sheet), enrolment__isnull=False).values_list("pk", "uid")
        )
        self.types = dict(
            GateSet.objects.filter(pk__in=_subject_keys(entries, GateSet)).values_list("pk", "aircraft_type__code")
        )
        about = {entry.about_id for entry in entries if entry.about_id is not None}
        self.names = {person.pk: person.name for person in Person.objects.filter(pk__in=about)}
        # Oldest first, so that the latest enrolment of a student stays in the dict.
        enrolments = Enrolment.objects.filter(student__in=about).order_by("pk")
        self.students = dict(enrolments.values_list("student_id", "uid")) if self.staff else {}

    def of(self, entry: JournalEntry) -> str:
        match entry.subject_kind:
            case "lessons.lesson" if entry.subject_id in self.lessons:
                return reverse("grading:lesson", args=[self.lessons[entry.subject_id]])
            case "lessons.discardedlesson" if entry.subject_id in self.discarded:
                return reverse("grading:discarded_lesson", args=[self.discarded[entry.subject_id]])
            case "grading.sheet" if entry.subject_id in self.sheets:
                return reverse("grading:sheet_pdf", args=[self.sheets[entry.subject_id]])
            case "lessons.gateset" if self.staff and entry.subject_id in self.types:
                return reverse("lessons:gate_set", args=[self.types[entry.subject_id]])
            case "lessons.syllabus" if self.staff:
                return reverse("lessons:syllabus", args=[entry.subject_id])
            case "grading.standard" if self.staff:
                return reverse("grading:standard")
        student = self.students.get(entry.about_id) if entry.about_id is not None else None
        return reverse("grading:readiness", args=[student]) if student else ""


def _subject_keys(entries: Iterable[JournalEntry], model: Any) -> list[int]:
    return [entry.subject_id for entry in entries if entry.subject_kind == model._meta.label_lower]


def field_changes(entry: JournalEntry) -> list[FieldChange]:
    before, after = _as_mapping(entry.before), _as_mapping(entry.after)
    return [
        FieldChange(
            name.replace("_", " ").capitalize(),
            value_words(before[name]) if name in before else None,
            value_words(after[name]) if name in after else None,
        )
        for name in [*before, *(name for name in after if name not in before)]
        if before.get(name) or after.get(name)
    ]


def _as_mapping(values: Any) -> dict[str, Any]:
    return values if isinstance(values, dict) else {} if values is None else {"value": values}


def value_words(value: Any) -> str:
    """Return a value of the journal in words: days written out, lists with commas, nothing for an empty one."""
    if value in (None, "", [], {}):
        return "nothing"
    match value:
        case bool():
            return "yes" if value else "no"
        case list():
            return ", ".join(value_words(one) for one in value)
        case dict():
            return "; ".join(f"{str(key).replace('_', ' ')} {value_words(one)}" for key, one in value.items())
        case str() if re.fullmatch(r"\d{4}-\d\d-\d\d", value):
            return long_date(date.fromisoformat(value))
    return str(value)


def stream_csv(rows: JournalQuerySet) -> Iterator[str]:
    """Yield one line an entry, read in chunks, so that a million of them need no more memory than one chunk."""
    yield csv_text.format_line(CSV_COLUMNS)
    mark = ""
    while True:
        entries, mark = read_page(rows, mark, CSV_CHUNK_SIZE)
        about = {entry.about_id for entry in entries if entry.about_id is not None}
        names = {person.pk: person.name for person in Person.objects.filter(pk__in=about)}
        for entry in entries:
            changes = "; ".join(change.words for change in field_changes(entry))
            at = entry.at.astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")
            yield csv_text.format_line(
                (
                    at,
                    entry.person_name,
                    act_in_words(entry.what),
                    entry.subject_label,
                    names.get(entry.about_id or 0, ""),
                    changes,
                )
            )
        if not mark:
            return
