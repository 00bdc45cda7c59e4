"""Each rule of the findings at its boundary: just inside nothing is found, just outside it is.

Values with a source: 14 CFR 61.87(n) and (p)(4), 90 days; 61.195(a), 8 hours in 24; 61.23(d)(3)(i), the end of
the 60th month; 61.51(b) and (h), what a lesson must say; 141.101(a) and (c). Numbers as in the eCFR text, read in a
copy. The others are the school's practice, the policy of its standard.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Any
from uuid import UUID

import pytest

from grading.rules.inspection import (
    FINDING_KINDS,
    Corrector,
    Finding,
    InspectedCertificate,
    InspectedLesson,
    InspectedRecord,
    Weight,
    inspect_records,
    instructor_hours_finding,
)
from grading.rules.inspection.facts import InspectedDiscard, InspectedEndorsement, InspectedRelease, WrittenTest
from grading.rules.inspection.overlaps import overlapping_pairs
from grading.rules.readiness.facts import PaperFact
from grading.rules.readiness.standard import Policy, RequirementSpec
from lessons.rules.instructor_limits import TrainingPeriod, find_excesses

NOON = datetime(2026, 6, 10, 12, tzinfo=UTC)
DAY = NOON.date()
BERT, CLEO = 7, 8
SPECS = [
    RequirementSpec("m", "medical", "Medical in force", "papers", "legal", "61.23", {"classes": ("1", "2", "3")}),
    RequirementSpec("s", "paper", "Student certificate", "papers", "legal", "", {"kinds": ("student_certificate",)}),
    RequirementSpec("k", "knowledge_test", "Test", "papers", "legal", "61.87(b)", {"topics": ("rules", "aerodrome")}),
]  # fmt: skip
CERTIFICATE = {BERT: [InspectedCertificate(date(2020, 1, 1), date(2030, 1, 1))]}


def lesson(key: int = 1, on: date = DAY, begin: int = 9 * 60, minutes: int = 60, **changed: Any) -> InspectedLesson:
    """A dual lesson of an hour with nothing wrong: signed when it ended, and answered."""
    off = datetime.combine(on, datetime.min.time(), UTC) + timedelta(minutes=begin)
    end = off + timedelta(minutes=minutes)
    values: dict[str, Any] = {
        "key": key, "uid": UUID(int=key), "enrolment": 1, "student": 100, "number": key, "version": 1, "on": on,
        "unit_kind": "dual", "instructor": BERT, "instructor_name": "Bert Example", "aircraft": 3,
        "registration": "QQ-XXA", "aircraft_type": 5, "runway": 2, "off_blocks": off, "on_blocks": end,
        "dual": minutes, "solo": 0, "night": 0, "instrument": 0, "ground": 0, "takeoffs": 3, "landings": 3,
        "reason": "", "begun_at": off, "signed_at": end, "answer": "signed", "circuits": 0, "landed": 0, "before": None,
    }  # fmt: skip
    midnight = datetime.combine(on + timedelta(days=1), datetime.min.time(), UTC)
    return InspectedLesson(**{"day_end": midnight} | values | changed)


def solo(key: int = 1, on: date = DAY, **changed: Any) -> InspectedLesson:
    return lesson(key, on, **{"unit_kind": "solo", "dual": 0, "solo": 60} | changed)


def record(*lessons: InspectedLesson, **changed: Any) -> InspectedRecord:
    """A record with nothing wrong: papers, test and endorsement are there for who flies alone."""
    values: dict[str, Any] = {
        "enrolment": 1, "uid": UUID(int=9), "student": 100, "student_name": "Dora Example", "born": date(2000, 5, 5),
        "instructor": BERT, "instructor_name": "Bert Example", "aircraft_type": 5, "type_name": "Trainer",
        "enrolled_on": DAY - timedelta(days=20), "lessons": lessons,
        "papers": [
            PaperFact("medical", date(2025, 1, 15), medical_class="3"),
            PaperFact("student_certificate", date(2025, 1, 15)),
        ],
        "tests": [WrittenTest(DAY - timedelta(days=15), "Pre-solo", ("rules", "aerodrome"), 5, 0, None)],
        "endorsements": [InspectedEndorsement(DAY - timedelta(days=5), BERT, 5, None)],
    }  # fmt: skip
    return InspectedRecord(**values | changed)


def findings_of(
    rec: InspectedRecord, at: datetime = NOON, held: Any = None, neighbours: Iterable[InspectedLesson] = ()
) -> list[Finding]:
    certificates = CERTIFICATE if held is None else held
    names = {100: "Dora Example", 101: "Emil Example"}
    return inspect_records([rec], list(neighbours), SPECS, certificates, names, at, at.date())


def finding_kinds(rec: InspectedRecord, at: datetime = NOON, **more: Any) -> list[str]:
    return [finding.kind for finding in findings_of(rec, at, **more)]


def test_a_whole_record_has_no_finding() -> None:
    assert findings_of(record(lesson(1), solo(2, begin=11 * 60))) == []


MINUTE = timedelta(minutes=1)
A_DAY = timedelta(days=1)
END = datetime(2026, 6, 10, 10, tzinfo=UTC)  # of the lesson


@pytest.mark.parametrize(
    ("changed", "at", "kind"),
    [
        ({"signed_at": None, "answer": None}, END + A_DAY, None),
        ({"signed_at": None, "answer": None}, END + A_DAY + MINUTE, "unsigned"),
        ({"signed_at": END + A_DAY}, END + A_DAY, None),
        ({"signed_at": END + A_DAY + MINUTE}, END + 2 * A_DAY, "signed_late"),
        ({"answer": None}, END + 7 * A_DAY, None),
        ({"answer": None}, END + 7 * A_DAY + MINUTE, "student_waits"),
        ({"answer": "refused"}, END, "refused"),
        ({"version": 2, "signed_at": None, "begun_at": END}, END + A_DAY, None),
        ({"version": 2, "signed_at": None, "begun_at": END}, END + A_DAY + MINUTE, "correction_open"),
        ({"version": 2, "signed_at": END + 9 * A_DAY}, END + 9 * A_DAY, None),  # a correction is late by its nature
    ],
)
def test_signatures(changed: dict[str, Any], at: datetime, kind: str | None) -> None:
    assert finding_kinds(record(lesson(**changed)), at) == ([kind] if kind else [])


@pytest.mark.parametrize(("entries", "weight"), [(0, Weight.NOTE), (1, Weight.ODD)])
def test_a_discarded_lesson_is_named_with_its_reason(entries: int, weight: Weight) -> None:
    (finding,) = findings_of(record(discarded=[InspectedDiscard(UUID(int=4), 2, 1, DAY, "Bert", entries, "Rain")]))
    assert (finding.kind, finding.weight, finding.corrector) == ("discarded", weight, Corrector.CHIEF)
    said = "after 1 entry" if entries else "with nothing entered"
    assert finding.sentence == f"Lesson 2: discarded by Bert {said}. Reason: Rain"


def test_without_block_times_a_lesson_ends_with_its_day() -> None:
    untimed = lesson(off_blocks=None, on_blocks=None, signed_at=None, answer=None)
    midnight = datetime(2026, 6, 11, tzinfo=UTC)
    assert finding_kinds(record(untimed), midnight + A_DAY) == []
    assert finding_kinds(record(untimed), midnight + A_DAY + MINUTE) == ["unsigned"]


@pytest.mark.parametrize(
    ("changed", "expected"),
    [
        ({"dual": 0}, ["no_hours"]),
        ({"aircraft": None, "registration": None, "aircraft_type": None}, ["no_aircraft"]),
        ({"runway": None}, ["no_place"]),
        ({"off_blocks": None}, ["no_block_times"]),
        ({"on_blocks": None}, ["no_block_times"]),
        ({"takeoffs": 0, "circuits": 0}, []),
        ({"takeoffs": 0, "circuits": 1}, ["no_counts"]),
        ({"landings": 0, "circuits": 1, "landed": 0}, []),  # a go-around
        ({"landings": 0, "circuits": 1, "landed": 1}, ["no_counts"]),
        ({"dual": 66}, []),
        ({"dual": 67}, ["times_differ"]),
        ({"dual": 54}, []),
        ({"dual": 53}, ["times_differ"]),
        ({"dual": 30, "solo": 30}, []),
        ({"night": 60}, []),
        ({"night": 61}, ["parts_above_total"]),
        ({"instrument": 60}, []),
        ({"instrument": 61}, ["parts_above_total"]),
        ({"aircraft_type": 6}, ["other_type"]),
    ],
)
def test_the_contents_of_a_flight(changed: dict[str, Any], expected: list[str]) -> None:
    endorsed = [InspectedEndorsement(DAY, BERT, kind, None) for kind in (5, 6)]
    assert finding_kinds(record(lesson(**changed), endorsements=endorsed)) == expected


def test_a_ground_lesson_needs_its_time_and_nothing_of_a_flight() -> None:
    ground = {"unit_kind": "ground", "dual": 0, "aircraft": None, "aircraft_type": None, "runway": None}
    nothing: dict[str, Any] = {"off_blocks": None, "on_blocks": None}
    assert finding_kinds(record(lesson(**ground | nothing | {"ground": 30}))) == []
    assert finding_kinds(record(lesson(**ground | nothing | {"ground": 0}))) == ["no_ground_time"]


def test_block_times_may_lie_on_the_neighbouring_day_of_utc_and_no_further() -> None:
    moved = [lesson(on=DAY, begin=9 * 60 - days * 24 * 60) for days in (1, 2)]
    assert finding_kinds(record(moved[0])) == []
    assert finding_kinds(record(moved[1])) == ["other_day"]


@pytest.mark.parametrize(("enrolled", "ended", "expected"), [
    (DAY, None, []),
    (DAY + A_DAY, None, ["outside_enrolment"]),
    (DAY, DAY, []),
    (DAY - A_DAY, DAY - A_DAY, ["outside_enrolment"]),
])  # fmt: skip
def test_a_lesson_lies_in_its_enrolment(enrolled: date, ended: date | None, expected: list[str]) -> None:
    rec = record(lesson(), enrolled_on=enrolled, ended_on=ended, end="completed" if ended else "", certified=True)
    assert finding_kinds(rec) == expected


def test_gaps_of_more_than_thirty_days() -> None:
    long_ago = {"enrolled_on": DAY - timedelta(days=40)}
    assert finding_kinds(record(lesson(2, before=DAY - timedelta(days=30)), **long_ago)) == []
    assert finding_kinds(record(lesson(2, before=DAY - timedelta(days=31)), **long_ago)) == ["long_gap"]


def test_the_days_and_hours_are_those_of_the_policy() -> None:
    """Each limit of the policy moves its own boundary, to the minute or the day."""
    policy = Policy(hours_to_sign=30, days_to_acknowledge=9, days_to_review=3, max_days_between_lessons=20)
    late, silent = END + timedelta(hours=30), END + 9 * A_DAY
    unsigned, waits = ({"signed_at": None, "answer": None}, {"answer": None})
    assert finding_kinds(record(lesson(**unsigned), policy=policy), late) == []
    assert finding_kinds(record(lesson(**unsigned), policy=policy), late + MINUTE) == ["unsigned"]
    assert finding_kinds(record(lesson(**waits), policy=policy), silent) == []
    assert finding_kinds(record(lesson(**waits), policy=policy), silent + MINUTE) == ["student_waits"]
    long_ago = {"enrolled_on": DAY - timedelta(days=40), "policy": policy}
    assert finding_kinds(record(lesson(2, before=DAY - timedelta(days=20)), **long_ago)) == []
    assert finding_kinds(record(lesson(2, before=DAY - timedelta(days=21)), **long_ago)) == ["long_gap"]
    assert finding_kinds(record(lesson(), policy=policy), NOON + 20 * A_DAY) == []
    assert finding_kinds(record(lesson(), policy=policy), NOON + 21 * A_DAY) == ["long_without"]
    for days, kinds in ((3, []), (4, ["test_not_reviewed"])):
        tests = [WrittenTest(DAY - timedelta(days=days), "Weather", (), 5, 2, None)]
        assert finding_kinds(record(lesson(), tests=tests, policy=policy)) == kinds


def test_long_without_a_lesson_while_enrolled() -> None:
    at_thirty, after = NOON + timedelta(days=30), NOON + timedelta(days=31)
    assert finding_kinds(record(lesson()), at_thirty) == []
    assert finding_kinds(record(lesson()), after) == ["long_without"]
    assert finding_kinds(record(lesson(), ended_on=DAY, end="completed", certified=True), after) == []
    assert finding_kinds(record(enrolled_on=DAY), at_thirty) == []
    assert finding_kinds(record(enrolled_on=DAY), after) == ["long_without"]


@pytest.mark.parametrize(
    ("flown", "weight"),
    [
        (solo(), Weight.MISSING),
        (solo(signed_at=None), Weight.MISSING),
        (solo(reason="Ferry."), Weight.ODD),
        (solo(reason="Ferry.", signed_at=None), Weight.ODD),
    ],
)
def test_solo_after_a_withdrawal_is_found_signed_or_not(flown: InspectedLesson, weight: Weight) -> None:
    after = {1: "Release withdrawn on 9 Jun 2026 by Bert Example."}
    found = findings_of(record(flown, outside={1: ["No release."]}, after_withdrawal=after))
    [finding] = [row for row in found if row.kind.startswith("solo_")]
    assert (finding.kind, finding.weight) == ("solo_after_withdrawal", weight)
    assert after[1] in finding.sentence
    assert ("not signed yet" in finding.sentence) == (flown.signed_at is None)


def test_solo_against_its_release() -> None:
    outside = {1: ["Runway 36 is not in the release (18)."]}
    assert finding_kinds(record(solo(), outside={1: []})) == []
    [bare] = findings_of(record(solo(), outside=outside))
    assert (bare.kind, bare.weight) == ("solo_without_reason", Weight.MISSING)
    assert "Runway 36 is not in the release" in bare.sentence
    [reasoned] = findings_of(record(solo(reason="The wind turned."), outside=outside))
    assert (reasoned.kind, reasoned.weight) == ("solo_with_reason", Weight.NOTE)


@pytest.mark.parametrize(("endorsement", "expected"), [
    # 61.87(n): within the 90 days before the flight
    (InspectedEndorsement(DAY - timedelta(days=90), BERT, 5, None), []),
    (InspectedEndorsement(DAY - timedelta(days=91), BERT, 5, None), ["solo_endorsement"]),
    (InspectedEndorsement(DAY - timedelta(days=5), BERT, 5, DAY + A_DAY), []),
    (InspectedEndorsement(DAY - timedelta(days=5), BERT, 5, DAY), ["solo_endorsement"]),
    (InspectedEndorsement(DAY - timedelta(days=5), BERT, 6, None), ["solo_endorsement"]),  # of another make and model
    (InspectedEndorsement(DAY + A_DAY, BERT, 5, None), ["solo_endorsement"]),
])  # fmt: skip
def test_the_endorsement_at_solo(endorsement: InspectedEndorsement, expected: list[str]) -> None:
    assert finding_kinds(record(solo(), endorsements=[endorsement])) == expected


def release(**changed: Any) -> InspectedRelease:
    values: dict[str, Any] = {
        "valid_from": DAY - timedelta(days=3), "valid_until": DAY, "withdrawn": None, "aircraft_type": 5, "by": BERT,
        "by_name": "Bert Example",
    }  # fmt: skip
    return InspectedRelease(**values | changed)


@pytest.mark.parametrize(("endorsement", "made", "sentence"), [
    (InspectedEndorsement(DAY - timedelta(days=90), BERT, 5, None), release(), None),
    (InspectedEndorsement(DAY - timedelta(days=91), BERT, 5, None), release(), "91 days old"),
    (InspectedEndorsement(DAY - timedelta(days=9), BERT, 5, DAY), release(), "was withdrawn on 10 Jun 2026"),
    (InspectedEndorsement(DAY - timedelta(days=9), BERT, 5, DAY + A_DAY), release(), None),
    (InspectedEndorsement(DAY - timedelta(days=9), CLEO, 5, None), release(), "no endorsement of Bert Example"),
    (InspectedEndorsement(DAY - timedelta(days=9), BERT, 5, DAY), release(valid_until=DAY - A_DAY), None),
    (InspectedEndorsement(DAY - timedelta(days=9), BERT, 5, DAY), release(withdrawn=DAY), None),
])  # fmt: skip
def test_a_release_in_force_rests_on_an_endorsement(
    endorsement: InspectedEndorsement, made: InspectedRelease, sentence: str | None
) -> None:
    findings = findings_of(record(endorsements=[endorsement], releases=[made]))
    assert [finding.kind for finding in findings] == (["release_endorsement"] if sentence else [])
    assert sentence is None or sentence in findings[0].sentence


@pytest.mark.parametrize(("born", "on", "expected"), [
    (date(2000, 5, 5), date(2030, 1, 31), []),  # 61.23(d)(3)(i): examined in January 2025, under 40
    (date(2000, 5, 5), date(2030, 2, 1), ["solo_paper"]),
    (date(1980, 5, 5), date(2027, 1, 31), []),  # 61.23(d)(3)(ii): 40 or more on that day
    (date(1980, 5, 5), date(2027, 2, 1), ["solo_paper"]),
])  # fmt: skip
def test_the_medical_at_solo(born: date, on: date, expected: list[str]) -> None:
    rec = record(
        solo(on=on), born=born, enrolled_on=on,
        endorsements=[InspectedEndorsement(on, BERT, 5, None)],
    )  # fmt: skip
    held = {BERT: [InspectedCertificate(date(2020, 1, 1), date(2040, 1, 1))]}
    assert finding_kinds(rec, datetime(on.year, on.month, on.day, 12, tzinfo=UTC), held=held) == expected


def test_papers_missing_at_solo_are_said_once_with_the_days() -> None:
    rec = record(
        solo(1), solo(2, DAY - A_DAY), papers=[PaperFact("medical", date(2025, 1, 15), medical_class="3")],
        outside={},
    )  # fmt: skip
    [finding] = findings_of(rec)
    assert finding.sentence == (
        "Solo on 9 Jun 2026 and 1 later day without this on record and in force: student certificate."
    )
    void = PaperFact("student_certificate", date(2025, 1, 15), void_from=DAY)
    assert finding_kinds(record(solo(), papers=[rec.papers[0], void])) == ["solo_paper"]
    assert finding_kinds(record(lesson(), papers=[rec.papers[0]])) == []  # nobody flew alone


def test_the_knowledge_test_before_solo() -> None:
    after = [WrittenTest(DAY + A_DAY, "Pre-solo", ("rules", "aerodrome"), 5, 0, None)]
    same_day = [WrittenTest(DAY, "Pre-solo", ("rules", "aerodrome"), 5, 0, None)]
    half = [WrittenTest(DAY, "Pre-solo", ("rules",), 5, 0, None)]
    assert finding_kinds(record(solo(), tests=same_day)) == []
    assert finding_kinds(record(solo(), tests=after)) == ["solo_test"]
    assert "on: aerodrome." in findings_of(record(solo(), tests=half))[0].sentence


@pytest.mark.parametrize(("taken", "reviewed", "alone", "expected"), [
    (7, None, False, None),
    (8, None, False, Weight.ODD),
    (8, 0, False, None),
    (8, 0, True, None),
    (2, None, True, Weight.MISSING),  # 61.87(b)(2)(ii): before solo, however few days
    (2, -1, True, Weight.MISSING),  # reviewed the day after
])  # fmt: skip
def test_wrong_answers_are_reviewed(taken: int, reviewed: int | None, alone: bool, expected: Weight | None) -> None:
    day = None if reviewed is None else DAY - timedelta(days=reviewed)
    test = WrittenTest(DAY - timedelta(days=taken), "Pre-solo", ("rules", "aerodrome"), 5, 2, day)
    flown = solo() if alone else lesson()
    assert [(f.kind, f.weight) for f in findings_of(record(flown, tests=[test]))] == (
        [("test_not_reviewed", expected)] if expected else []
    )


def test_a_test_has_a_name() -> None:
    assert finding_kinds(record(tests=[WrittenTest(DAY, " ", (), 5, 0, None)])) == ["test_unnamed"]


def test_the_instructors_certificate_at_the_time() -> None:
    last = {BERT: [InspectedCertificate(DAY - timedelta(days=9), DAY)]}
    assert finding_kinds(record(lesson()), held=last) == []
    assert finding_kinds(record(lesson(on=DAY + A_DAY)), NOON + A_DAY, held=last) == ["certificate"]
    assert finding_kinds(record(lesson(on=DAY - timedelta(days=10))), held=last) == ["certificate"]
    assert finding_kinds(record(lesson()), held={CLEO: last[BERT]}) == ["certificate"]


def test_the_student_and_the_end() -> None:
    assert finding_kinds(record(born=None)) == ["no_birth"]
    assert finding_kinds(record(papers=[])) == ["no_papers"]
    ended = {"ended_on": DAY, "end": "completed"}
    assert finding_kinds(record(**ended)) == ["end_not_certified"]
    assert finding_kinds(record(**ended, certified=True)) == []


def test_lessons_overlap_by_a_minute_and_do_not_when_one_ends_as_the_other_begins() -> None:
    first = lesson(1, begin=540)
    [same] = findings_of(record(first, lesson(2, begin=599)))
    assert same.sentence == "Lesson 2: 09:59 to 10:59 UTC overlaps lesson 1 of the same student, 09:00 to 10:00."
    assert findings_of(record(first, lesson(2, begin=600))) == []
    other = {"enrolment": 2, "student": 101}
    near = lesson(5, begin=599, **other)
    [theirs] = findings_of(record(first), neighbours=[near])
    assert "overlaps lesson 5 of Emil Example, with Bert Example and in QQ-XXA" in theirs.sentence
    assert theirs.mends == BERT
    assert findings_of(record(first), neighbours=[lesson(5, begin=600, **other)]) == []
    assert findings_of(record(first), neighbours=[near._replace(instructor=CLEO, aircraft=4)]) == []


def test_a_student_alone_leaves_the_instructor_free_but_not_the_aircraft() -> None:
    rec = record(lesson(1, begin=540))
    alone = solo(5, begin=560, enrolment=2, student=101)
    assert finding_kinds(rec, neighbours=[alone]) == ["overlap"]
    assert findings_of(rec, neighbours=[alone._replace(aircraft=4)]) == []


def test_a_long_lesson_overlaps_all_that_lie_in_it() -> None:
    around = lesson(1, begin=540, minutes=300)
    inside = [lesson(key, begin=540 + 70 * (key - 1), student=key, enrolment=key) for key in (2, 3, 4)]
    assert [(a.key, b.key) for a, b in overlapping_pairs([around, *inside])] == [(1, 2), (1, 3), (1, 4)]


def test_a_draft_of_a_correction_does_not_overlap_what_it_corrects() -> None:
    draft = lesson(2, number=1, version=2, signed_at=None, begun_at=NOON)
    assert finding_kinds(record(lesson(1), draft)) == []


@dataclass
class LessonOfInstructor:
    pk: int
    name: str


def test_more_than_eight_hours_in_twenty_four_is_said_of_the_instructor() -> None:
    """14 CFR 61.195(a); the boundary itself is tested with lessons/rules/instructor_limits.py."""
    rows = [TrainingPeriod(END + timedelta(hours=n), END + timedelta(hours=n + 1), 60, f"lesson {n}") for n in range(9)]
    [excess] = find_excesses(rows)
    finding = instructor_hours_finding((LessonOfInstructor(BERT, "Bert Example"), excess), DAY)
    assert finding.sentence.startswith("Bert Example gave 9:00 h of flight training in the 24 hours from")
    assert (finding.enrolment, finding.corrector, finding.mends) == (None, Corrector.CHIEF, BERT)


def test_the_latest_day_stands_first_and_every_kind_is_known() -> None:
    rec = record(
        lesson(1, DAY - timedelta(days=3), runway=None), lesson(2, aircraft=None, aircraft_type=None), born=None
    )
    findings = findings_of(rec)
    assert [finding.on for finding in findings] == sorted((finding.on for finding in findings), reverse=True)
    assert {finding.kind for finding in findings} <= set(FINDING_KINDS)
