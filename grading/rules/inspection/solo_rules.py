"""What solo flights rested on: release, endorsement, papers, knowledge test; and the instructor's certificate."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from datetime import date

from grading.rules.inspection.facts import Certificate, Endorsement, Lesson, Record
from grading.rules.inspection.finding import DAYS_OF_AN_ENDORSEMENT, Finding, Mender, Place, Weight
from grading.rules.inspection.lesson_rules import days_words, found
from grading.rules.readiness.checks.papers import medical_end
from grading.rules.readiness.dates import long_date
from grading.rules.readiness.standard import RequirementSpec


def solo_findings(record: Record, specs: Sequence[RequirementSpec], on: date) -> Iterator[Finding]:
    """specs: the requirements of the standard in force."""
    yield from against_releases(record)
    yield from endorsed(record)
    yield from under_releases(record, on)
    yield from papers(record, specs)
    yield from knowledge_test(record, specs)


def against_releases(record: Record) -> Iterator[Finding]:
    for lesson in record.solo_flights:
        if outside := record.outside.get(lesson.key):
            said = " ".join(outside)
            if lesson.reason.strip():
                reason = f"solo outside a release, with its reason. {said}"
                yield found("solo_with_reason", Weight.NOTE, lesson, reason)
            else:
                bare = f"solo outside a release, and no reason is written. {said}"
                yield found("solo_without_reason", Weight.MISSING, lesson, bare)


def endorsed(record: Record) -> Iterator[Finding]:
    """14 CFR 61.87(n), (p)(4): an endorsement for the type, at most 90 days old on the day of each solo flight."""
    without, old = [], []
    for lesson in record.solo_flights:
        standing = _newest(record.endorsements, lesson.aircraft_type or record.aircraft_type, lesson.on)
        if standing is None:
            without.append(lesson)
        elif (lesson.on - standing.on).days > DAYS_OF_AN_ENDORSEMENT:
            old.append(lesson)
    for lessons, lacks in (
        (without, "and no endorsement for this type stood then"),
        (old, f"more than {DAYS_OF_AN_ENDORSEMENT} days after the endorsement"),
    ):
        if lessons:
            days = days_words([lesson.on for lesson in lessons])
            yield _in_record(
                "solo_endorsement", record, f"Solo {days}, {lacks}.", lessons[0].on, Mender.CHIEF, Place.READINESS
            )


def under_releases(record: Record, on: date) -> Iterator[Finding]:
    """A release in force rests on an endorsement of the instructor it names."""
    for release in record.releases:
        if not release.in_force(on):
            continue
        theirs = [row for row in record.endorsements if row.by == release.by]
        standing = _newest(theirs, release.aircraft_type, on)
        given = f"The release of {long_date(release.valid_from)} is in force"
        if standing is None:
            withdrawn = [
                row.withdrawn for row in theirs if row.withdrawn and row.aircraft_type == release.aircraft_type
            ]
            what = (
                f"the endorsement of {release.by_name} under it was withdrawn on {long_date(max(withdrawn))}"
                if withdrawn
                else f"no endorsement of {release.by_name} is on record under it"
            )
            sentence = f"{given}, and {what}."
        elif (on - standing.on).days > DAYS_OF_AN_ENDORSEMENT:
            sentence = f"{given}, and the endorsement under it is {(on - standing.on).days} days old."
        else:
            continue
        yield _in_record("release_endorsement", record, sentence, release.valid_from, Mender.CHIEF, Place.READINESS)


def papers(record: Record, specs: Sequence[RequirementSpec]) -> Iterator[Finding]:
    """Papers that the law asks for, at each solo flight. Those recorded later count: they were held."""
    for spec in specs:
        if spec.kind != "legal" or spec.check not in ("paper", "medical"):
            continue
        without = [lesson.on for lesson in record.solo_flights if not _held(record, spec, lesson.on)]
        if without:
            sentence = f"Solo {days_words(without)} without this on record and in force: {spec.title.lower()}."
            yield _in_record("solo_paper", record, sentence, min(without), Mender.ADMIN, Place.RECORD)


def knowledge_test(record: Record, specs: Sequence[RequirementSpec]) -> Iterator[Finding]:
    """All topics tested for the type before the first solo."""
    spec = next((spec for spec in specs if spec.check == "knowledge_test"), None)
    solo = record.solo_flights
    if spec is None or not solo:
        return
    first = min(solo, key=lambda lesson: lesson.on)
    taken = {
        topic
        for test in record.tests
        if test.on <= first.on and test.aircraft_type == (first.aircraft_type or record.aircraft_type)
        for topic in test.topics
    }
    missing = [topic.replace("_", " ") for topic in spec.words("topics") if topic not in taken]
    if missing:
        topics = ", ".join(missing)
        sentence = f"First solo on {long_date(first.on)}, and no test taken before it on: {topics}."
        yield Finding(
            "solo_test", Weight.MISSING, sentence, first.on, Mender.INSTRUCTOR, record.enrolment, Place.READINESS,
            record.uid, record.instructor, record.instructor_name,
        )  # fmt: skip


def certificates(record: Record, held: Mapping[int, Sequence[Certificate]]) -> Iterator[Finding]:
    """held: by the key of the instructor."""
    without: dict[int, list[Lesson]] = defaultdict(list)
    for lesson in record.lessons:
        if lesson.signed_at and not any(
            paper.issued <= lesson.on <= paper.until for paper in held.get(lesson.instructor, ())
        ):
            without[lesson.instructor].append(lesson)
    for lessons in without.values():
        first = lessons[0]
        days = days_words([lesson.on for lesson in lessons])
        sentence = f"Lessons of {first.instructor_name} {days}: no certificate in force then is on record."
        yield Finding(
            "certificate", Weight.MISSING, sentence, first.on, Mender.ADMIN, record.enrolment, Place.LESSON, first.uid
        )


def _newest(endorsements: Sequence[Endorsement], aircraft_type: int, on: date) -> Endorsement | None:
    standing = [row for row in endorsements if row.aircraft_type == aircraft_type and row.stands(on)]
    return max(standing, key=lambda row: row.on, default=None)


def _held(record: Record, spec: RequirementSpec, on: date) -> bool:
    issued = [paper for paper in record.papers if paper.void_from is None and paper.issued <= on]
    if spec.check == "paper":
        kinds = spec.words("kinds")
        return any(p.kind in kinds and (p.expires is None or p.expires >= on) for p in issued)
    as_written = spec.values.get("as_written") == 1
    medicals = [p for p in issued if p.kind == "medical" and p.medical_class in spec.words("classes")]
    if not as_written and record.born is None and any(paper.expires is None for paper in medicals):
        return True  # its end cannot be computed: the missing date of birth is the finding
    return any(medical_end(paper, None if as_written else record.born) >= on for paper in medicals)


def _in_record(kind: str, record: Record, sentence: str, on: date, mender: Mender, place: Place) -> Finding:
    return Finding(kind, Weight.MISSING, sentence, on, mender, record.enrolment, place, record.uid)
