"""Check what solo flights rested on: release, endorsement, papers, knowledge test, instructor's certificate."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from datetime import date

from grading.rules.inspection.facts import InspectedCertificate, InspectedEndorsement, InspectedLesson, InspectedRecord
from grading.rules.inspection.finding import ENDORSEMENT_DAYS, CorrectionPage, Corrector, Finding, Weight
from grading.rules.inspection.lesson_rules import lesson_finding
from grading.rules.inspection.sentences import describe_days, say
from grading.rules.readiness.checks.papers import medical_last_day, most_recent_medical
from grading.rules.readiness.standard import RequirementSpec


def solo_findings(
    record: InspectedRecord, specs: Sequence[RequirementSpec], on: date, rule_set: str = "us"
) -> Iterator[Finding]:
    """Yield every finding about solo flights; specs: the requirements of the standard in force."""
    # The days of an endorsement are those of 14 CFR 61.87: no other rule that names any was read.
    days = ENDORSEMENT_DAYS if rule_set == "us" else None
    yield from after_withdrawal_findings(record)
    yield from release_breach_findings(record)
    yield from solo_endorsement_findings(record, days)
    yield from release_endorsement_findings(record, on, days)
    yield from solo_paper_findings(record, specs)
    yield from solo_test_findings(record, specs)


def after_withdrawal_findings(record: InspectedRecord) -> Iterator[Finding]:
    """Yield each solo after the release was withdrawn, at once: also while it is being written, and with a reason."""
    for lesson in record.lessons:
        if withdrawal := record.after_withdrawal.get(lesson.key):
            written = "" if lesson.signed_at else " The lesson is not signed yet."
            reason = f" Reason: {lesson.reason.strip()}" if lesson.reason.strip() else " No reason is written."
            said = f"solo after the release ended. {withdrawal}{reason}{written}"
            weight = Weight.ODD if lesson.reason.strip() else Weight.MISSING
            yield lesson_finding("solo_after_withdrawal", weight, lesson, said)


def release_breach_findings(record: InspectedRecord) -> Iterator[Finding]:
    """Yield each other solo outside the releases of its day; with a written reason it is a note, nothing missing."""
    for lesson in record.solo_flights:
        if lesson.key in record.after_withdrawal:
            continue
        if outside := record.outside.get(lesson.key):
            breaches = " ".join(outside)
            kind = "solo_with_reason" if lesson.reason.strip() else "solo_without_reason"
            weight = Weight.NOTE if lesson.reason.strip() else Weight.MISSING
            yield lesson_finding(kind, weight, lesson, say(kind, lesson=lesson.number, breaches=breaches))


def solo_endorsement_findings(record: InspectedRecord, most_days: int | None = ENDORSEMENT_DAYS) -> Iterator[Finding]:
    """Yield solo flights without an endorsement for the type, at most 90 days old then (14 CFR 61.87(n), (p)(4)).

    most_days: None where the rule set limits no age.
    """
    # One finding for all flights that lack the same thing: a list of thirty equal sentences hides the others.
    without, old = [], []
    for lesson in record.solo_flights:
        standing = _newest_endorsement(record.endorsements, lesson.aircraft_type or record.aircraft_type, lesson.on)
        if standing is None:
            without.append(lesson)
        elif most_days is not None and (lesson.on - standing.on).days > most_days:
            old.append(lesson)
    for lessons, key in ((without, "solo_unendorsed"), (old, "solo_endorsement_old")):
        if lessons:
            days = describe_days([lesson.on for lesson in lessons])
            yield _record_finding(
                "solo_endorsement",
                record,
                say(key, days=days, most=most_days),
                lessons[0].on,
                Corrector.CHIEF,
                CorrectionPage.READINESS,
            )


def release_endorsement_findings(
    record: InspectedRecord, on: date, most_days: int | None = ENDORSEMENT_DAYS
) -> Iterator[Finding]:
    """Yield each release in force that rests on no endorsement of the instructor it names, or on an old one."""
    for release in record.releases:
        if not release.is_in_force(on):
            continue
        # Of the instructor it names alone: a release ends with the endorsement it rests on, whatever others have
        # endorsed.
        theirs = [row for row in record.endorsements if row.by == release.by]
        standing = _newest_endorsement(theirs, release.aircraft_type, on)
        if standing is None:
            withdrawn = [
                row.withdrawn for row in theirs if row.withdrawn and row.aircraft_type == release.aircraft_type
            ]
            key = "release_withdrawn_endorsement" if withdrawn else "release_unendorsed"
            latest = max(withdrawn, default=None)
            sentence = say(key, day=release.valid_from, by=release.by_name, withdrawn=latest)
        elif most_days is not None and (on - standing.on).days > most_days:
            sentence = say("release_endorsement_old", day=release.valid_from, age=(on - standing.on).days)
        else:
            continue
        yield _record_finding(
            "release_endorsement", record, sentence, release.valid_from, Corrector.CHIEF, CorrectionPage.READINESS
        )


def solo_paper_findings(record: InspectedRecord, specs: Sequence[RequirementSpec]) -> Iterator[Finding]:
    """Yield papers that the law asks for and a solo flight lacked. One that was put on record later counts."""
    for spec in specs:
        # The school's own papers are its own decision and may have been set aside; an inspector asks for those of the
        # law.
        if spec.kind != "legal" or spec.check not in ("paper", "medical"):
            continue
        without = [lesson.on for lesson in record.solo_flights if not _had_valid_paper(record, spec, lesson.on)]
        if without:
            sentence = say("solo_paper", days=describe_days(without), document=spec.title.lower())
            yield _record_finding("solo_paper", record, sentence, min(without), Corrector.ADMIN, CorrectionPage.RECORD)


def solo_test_findings(record: InspectedRecord, specs: Sequence[RequirementSpec]) -> Iterator[Finding]:
    """Yield a first solo before which not all topics were tested for the type."""
    spec = next((spec for spec in specs if spec.check == "knowledge_test"), None)
    solo = record.solo_flights
    if spec is None or not solo:
        return
    first = min(solo, key=lambda lesson: lesson.on)
    # The type is that of the aeroplane flown; an old lesson without an aircraft has that of its enrolment.
    taken = {
        topic
        for test in record.tests
        if test.on <= first.on and test.aircraft_type == (first.aircraft_type or record.aircraft_type)
        for topic in test.topics
    }
    missing = [topic.replace("_", " ") for topic in spec.words("topics") if topic not in taken]
    if missing:
        sentence = say("solo_test", day=first.on, topics=", ".join(missing))
        yield Finding(
            "solo_test",
            Weight.MISSING,
            sentence,
            first.on,
            Corrector.INSTRUCTOR,
            record.enrolment,
            CorrectionPage.READINESS,
            record.uid,
            record.instructor,
            record.instructor_name,
        )


def certificate_findings(
    record: InspectedRecord, held: Mapping[int, Sequence[InspectedCertificate]]
) -> Iterator[Finding]:
    """Yield lessons signed without a certificate in force on record; held: by the key of the instructor."""
    without: dict[int, list[InspectedLesson]] = defaultdict(list)
    for lesson in record.lessons:
        if lesson.signed_at and not any(
            paper.issued <= lesson.on <= paper.until for paper in held.get(lesson.instructor, ())
        ):
            without[lesson.instructor].append(lesson)
    for lessons in without.values():
        first = lessons[0]
        days = describe_days([lesson.on for lesson in lessons])
        sentence = say("certificate", by=first.instructor_name, days=days)
        yield Finding(
            "certificate",
            Weight.MISSING,
            sentence,
            first.on,
            Corrector.ADMIN,
            record.enrolment,
            CorrectionPage.LESSON,
            first.uid,
        )


def _newest_endorsement(
    endorsements: Sequence[InspectedEndorsement], aircraft_type: int, on: date
) -> InspectedEndorsement | None:
    standing = [row for row in endorsements if row.aircraft_type == aircraft_type and row.is_in_force(on)]
    return max(standing, key=lambda row: row.on, default=None)


def _had_valid_paper(record: InspectedRecord, spec: RequirementSpec, on: date) -> bool:
    # By the day of issue and not of its entry: the student held it then, even where it was recorded later.
    issued = [paper for paper in record.papers if paper.void_from is None and paper.issued <= on]
    if spec.check == "paper":
        kinds = spec.words("kinds")
        return any(p.kind in kinds and (p.expires is None or p.expires >= on) for p in issued)
    as_written = spec.values.get("as_written") == 1
    medicals = [p for p in issued if p.kind == "medical" and p.medical_class in spec.words("classes")]
    if not as_written and record.born is None and any(paper.expires is None for paper in medicals):
        return True  # its end cannot be computed: the missing date of birth is the finding
    if not medicals:
        return False
    return medical_last_day(most_recent_medical(medicals), None if as_written else record.born) >= on


def _record_finding(
    kind: str, record: InspectedRecord, sentence: str, on: date, corrector: Corrector, place: CorrectionPage
) -> Finding:
    return Finding(kind, Weight.MISSING, sentence, on, corrector, record.enrolment, place, record.uid)
