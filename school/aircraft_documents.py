"""Kinds of documents of an aircraft, and which of an aircraft's documents expire.

The kinds are common practice of general aviation: what an owner carries or has done at intervals. Which of them an
aircraft needs, and until when each is valid, the rules in force and the documents themselves say.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from school.formats import write_day
from school.models import Aircraft, AircraftPaper

# A caution on the pages of a lesson; the list of expiry dates and its e-mails look further ahead.
CAUTION_DAYS = 7


@dataclass(frozen=True)
class DocumentKind:
    """A kind of document; `often`: how often it is commonly renewed, or nothing."""

    code: str
    words: str
    often: str = ""


KINDS = (
    DocumentKind("registration", "registration"),
    DocumentKind("airworthiness", "certificate of airworthiness"),
    DocumentKind("airworthiness_review", "airworthiness review", "every 12 months, where the rules have it"),
    DocumentKind("annual", "annual inspection", "every 12 calendar months"),
    DocumentKind("hundred_hour", "100-hour inspection", "every 100 hours where instruction is given for hire"),
    DocumentKind("altimeter", "altimeter and static system test", "every 24 calendar months"),
    DocumentKind("transponder", "transponder test", "every 24 calendar months"),
    DocumentKind("locator", "emergency locator transmitter inspection", "every 12 calendar months"),
    DocumentKind("insurance", "insurance", "every year"),
    DocumentKind("radio", "radio station licence"),
    DocumentKind("weighing", "weight and balance report"),
    DocumentKind("noise", "noise certificate"),
    DocumentKind("other", "other document"),
)
KIND_WORDS = {kind.code: kind.words for kind in KINDS}


@dataclass(frozen=True)
class AircraftExpiry:
    """A document of an aircraft with its last day; `days` to go are below 0 once it has expired."""

    aircraft: Aircraft
    what: str
    until: date
    days: int

    @property
    def words(self) -> str:
        """Return 'Annual inspection expired' or '... expires in 3 days'."""
        if self.days < 0:
            return f"{self.what} expired"
        left = {0: "today", 1: "tomorrow"}.get(self.days, f"in {self.days} days")
        return f"{self.what} expires {left}"

    @property
    def reason(self) -> str:
        return f"{self.aircraft.registration}, last day {write_day(self.until)}."


def kind_words(code: str) -> str:
    """Return the words of a kind; a kind that left the list stays readable by its code."""
    return KIND_WORDS.get(code, code)


def newest_papers(papers: Iterable[AircraftPaper]) -> list[AircraftPaper]:
    """Return of each aircraft the newest document of each kind: a renewal takes the place of the one before."""
    newest = {(row.aircraft_id, row.kind): row for row in sorted(papers, key=lambda row: (row.issued, row.pk))}
    return list(newest.values())


def fleet_expiries(on: date, within: int, aircraft: Aircraft | None = None) -> list[AircraftExpiry]:
    """Return the documents that expire within this number of days, the nearest first. One query.

    Of every aircraft in service, or of the one named. Documents issued after the day do not exist on it yet.
    """
    papers = AircraftPaper.objects.in_force().filter(issued__lte=on)
    if aircraft is None:
        papers = papers.filter(aircraft__in_service=True).select_related("aircraft__type")
    else:
        papers = papers.filter(aircraft=aircraft)
    rows = [
        AircraftExpiry(aircraft or row.aircraft, kind_title(row), row.expires, (row.expires - on).days)
        for row in newest_papers(papers)
        if row.expires is not None and (row.expires - on).days <= within
    ]
    return sorted(rows, key=lambda row: (row.until, row.aircraft.registration, row.what))


def kind_title(paper: AircraftPaper) -> str:
    """Return the words of the kind of a document as a sentence begins; several others are told by their number."""
    words = kind_words(paper.kind)
    title = words[:1].upper() + words[1:]
    return f"{title} {paper.number}" if paper.kind == "other" and paper.number else title
