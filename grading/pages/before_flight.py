"""This module says first what must not be missed before a flight: release, documents, aircraft, faults, wind."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from grading.actions.endorsements import SOLO_ENDORSEMENT_DAYS
from grading.models import Release
from grading.pages.before_lesson import PreLessonContext
from grading.reading.facts import releases_given
from grading.reading.release_limits import Breach, BreachKind, breaches_at_beginning, knots_above, wind_breaches
from grading.reading.release_status import ReleasePhase, ReleaseStatus, release_status
from grading.rules.readiness import Outcome, State
from grading.rules.readiness.sentences import capital
from grading.rules.readiness.wording import describe_days_ago
from lessons.conditions import lesson_wind
from lessons.models import Endorsement, Lesson
from lessons.rules.scale import UnitKind
from lessons.rules.wind import worst_crosswind_kt
from school.aircraft_documents import CAUTION_DAYS, fleet_expiries
from school.citations import cite, follows_us_rules
from school.formats import write_day


@dataclass(frozen=True)
class FlightWarning:
    """One thing to settle before a flight: what it is in a few words, and the reason in a sentence."""

    words: str
    reason: str


@dataclass(frozen=True)
class FlightWarnings:
    """Everything to settle before a flight, the release first.

    `unreleased`: a solo that no release allows; `release`: what is in force and not about to expire, in a sentence.
    """

    rows: tuple[FlightWarning, ...] = ()
    unreleased: bool = False
    release: str = ""

    @property
    def rest(self) -> tuple[FlightWarning, ...]:
        return self.rows[1:]

    @property
    def more(self) -> int:
        """Return how many follow the first."""
        return len(self.rest)


def warnings_before_flight(
    lesson: Lesson, student: PreLessonContext, brief: Mapping[str, Any], breaches: Sequence[Breach]
) -> FlightWarnings:
    """Return what must be settled before this lesson is flown; nothing for one on the ground.

    `brief`: of LessonPage, the releases in force on its day and their status; `breaches`: what find_breaches() says.
    One query for the aircraft, and one more for a solo under US rules.
    """
    if lesson.unit.kind == UnitKind.GROUND:
        return FlightWarnings()
    solo, status = lesson.unit.kind == UnitKind.SOLO, brief["release_status"]
    released = _release_warnings(lesson, breaches, status) if solo else []
    rows = [
        # Before a dual lesson too: it is where a student without a release may be sent off alone.
        *(released or _status_warnings(status)),
        *_document_warnings(student.requirements, lesson.on, solo=solo),
        *(_endorsement_warnings(lesson) if solo else ()),
        *_aircraft_warnings(lesson),
        *_fault_warnings(student.critical_faults),
        *_wind_warnings(lesson, () if solo else brief["releases_in_force"]),
    ]
    in_force = status.headline if status and status.phase is ReleasePhase.RELEASED else ""
    return FlightWarnings(tuple(rows), _is_unreleased(breaches) if solo else False, in_force)


def warnings_at_beginning(lesson: Lesson) -> FlightWarnings:
    """Return why a solo that is about to begin lies outside the releases. `lesson` may be unsaved. Three queries."""
    if lesson.unit.kind != UnitKind.SOLO:
        return FlightWarnings()
    breaches = breaches_at_beginning(lesson)
    status = release_status(releases_given(lesson.enrolment), lesson.on) if breaches else None
    rows = _release_warnings(lesson, breaches, status)
    return FlightWarnings(tuple(rows), unreleased=_is_unreleased(breaches))


def _is_unreleased(breaches: Iterable[Breach]) -> bool:
    """Return whether the solo needs a written reason: not where the wind is merely not entered yet."""
    return any(breach.kind is not BreachKind.NOT_COMPARED for breach in breaches)


def _status_warnings(status: ReleaseStatus | None) -> list[FlightWarning]:
    """Return what the life of the release calls for: it is over, or about to expire."""
    if status is None or status.phase is ReleasePhase.RELEASED:
        return []
    if status.phase is ReleasePhase.EXPIRING:
        day = write_day(status.release.valid_until)
        return [FlightWarning(f"Release for solo expires {status.days_words}", f"Its last day is {day}.")]
    return [FlightWarning(f"No solo: release {status.phase}", _over_words(status))]


def _over_words(status: ReleaseStatus) -> str:
    return f"{status.words}: {status.reason}" if status.reason else f"{status.words}."


def _release_warnings(lesson: Lesson, breaches: Sequence[Breach], status: ReleaseStatus | None) -> list[FlightWarning]:
    kinds = {breach.kind for breach in breaches}
    if BreachKind.NO_RELEASE in kinds:
        none = f"No release of {lesson.enrolment.student.name} for solo by day is in force on {write_day(lesson.on)}."
        over = f" {_over_words(status)}" if status and status.is_over else ""
        return [FlightWarning("Not released for this solo", f"{none}{over}")]
    titles = {
        BreachKind.TERMS: "Not released for this solo",
        BreachKind.WIND: "Wind beyond the release",
        BreachKind.NOT_COMPARED: "Not compared with the release yet",
    }
    return [
        FlightWarning(words, " ".join(breach.sentence for breach in breaches if breach.kind is kind))
        for kind, words in titles.items()
        if kind in kinds
    ]


def _document_warnings(requirements: Iterable[Outcome], on: date, *, solo: bool) -> Iterator[FlightWarning]:
    """Yield documents that have expired and, before a solo, whatever the law requires and is not met."""
    for row in requirements:
        if row.group == "papers" and row.state is State.LAPSED and row.until:
            words = "Medical expired" if row.key == "medical" else f"{row.title}: expired"
            yield FlightWarning(words, f"{write_day(row.until)}, {describe_days_ago((on - row.until).days)}.")
        elif solo and row.kind == "legal" and not row.state.counts:
            yield FlightWarning(row.title, f"{capital(row.how_far)}.")


def _aircraft_warnings(lesson: Lesson) -> Iterator[FlightWarning]:
    """Yield documents of the aircraft that have expired on the day of the lesson or soon will."""
    if lesson.aircraft is not None:
        for row in fleet_expiries(lesson.on, CAUTION_DAYS, lesson.aircraft):
            yield FlightWarning(row.words, row.reason)


def _endorsement_warnings(lesson: Lesson) -> Iterator[FlightWarning]:
    """Yield a solo without an endorsement for the type in force on its day (14 CFR 61.87(n))."""
    # Only this rule names an endorsement and its days.
    if not follows_us_rules():
        return
    kind = lesson.aircraft.type_id if lesson.aircraft else lesson.enrolment.aircraft_type_id
    rows = Endorsement.objects.filter(
        enrolment=lesson.enrolment_id,
        kind=Endorsement.Kind.PRE_SOLO_TRAINING,
        aircraft_type=kind,
        given_on__lte=lesson.on,
        withdrawn_at=None,
    )
    last = rows.order_by("-given_on").values_list("given_on", flat=True).first()
    paragraph = cite("14 CFR 61.87(n)")
    if last is None:
        yield FlightWarning("No endorsement for solo in force", f"None for this type is on record{paragraph}.")
    elif (lesson.on - last).days > SOLO_ENDORSEMENT_DAYS:
        reason = f"The last one is of {write_day(last)}, more than {SOLO_ENDORSEMENT_DAYS} days ago{paragraph}."
        yield FlightWarning("No endorsement for solo in force", reason)


def _fault_warnings(faults: Iterable[dict[str, Any]]) -> Iterator[FlightWarning]:
    for fault in faults:
        circuit = f", circuit {fault['circuit']}" if fault["circuit"] else ""
        reason = f"Lesson {fault['lesson']}{circuit}. Attempts without it since: {fault['clean']} of {fault['needed']}."
        name = fault["name"]
        yield FlightWarning(f"Critical fault open: {name[:1].lower()}{name[1:]}", reason)


def _wind_warnings(lesson: Lesson, releases: Iterable[Release]) -> Iterator[FlightWarning]:
    """Yield a wind, gusts included, beyond what was demonstrated for the type or what a release in force allows."""
    wind = lesson_wind(lesson)
    if wind is None:
        return
    limit = flown.demonstrated_crosswind_kt if (flown := lesson.type_flown) else None
    if lesson.runway is not None and limit is not None:
        across = worst_crosswind_kt(wind, lesson.runway.heading_magnetic)
        if across > limit:
            gusts = " with the gust" if wind.gust_kt else ""
            shown = f"crosswind up to {knots_above(across)} kt{gusts}, demonstrated {limit} kt"
            yield FlightWarning(
                "Wind beyond the demonstrated crosswind", f"Runway {lesson.runway.designator}: {shown}."
            )
    # Which release a flight uses is not known before it: the one with the narrowest limits speaks.
    worst = max((wind_breaches(lesson, release, wind) for release in releases), key=len, default=[])
    if worst:
        yield FlightWarning("Wind beyond the release for solo", " ".join(worst))
