"""The level as which an attempt counts is one: in the seal, in the verdict, on paper. The rule is the project's own."""

import json
from datetime import timedelta
from io import BytesIO

import pytest
from pypdf import PdfReader

from grading.actions import corrections, sheets
from grading.models import Attempt, Seal, Sheet
from grading.reading.facts import facts_for
from lessons.models import Lesson
from lessons.rules.scale import Part
from tests.cast import Cast
from tests.factories import begin_lesson, record_circuit, record_entries, sign_lesson

REASON = "A gust at the gate"
# What is tapped in the landing beside Perform, and as what it counts. The round-out and the tail count from unit 10.
LANDINGS = [
    ({}, "perform"),
    ({"landing.help": "prompted"}, "practice"),
    ({"landing.help": "assisted"}, "practice"),
    ({"landing.help": "took_control"}, "explain"),
    ({"landing.fault.ground-loop": "on"}, "practice"),
    ({"landing.fault.bounced": "on"}, "perform"),
    ({"landing.criterion.held": "not_done"}, "practice"),
    ({"landing.criterion.held": "not_done", "landing.kept": REASON}, "perform"),
    ({"landing.measure.round-out.height": "60"}, "practice"),
    ({"landing.measure.round-out.height": "60", "landing.kept": REASON}, "perform"),
    ({"landing.fault.ground-loop": "on", "landing.kept": REASON}, "practice"),
]


def fly(cast: Cast, unit: int, **entries: str) -> Lesson:
    """Return a signed lesson of one circuit with these entries in it."""
    lesson = begin_lesson(cast, unit)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0"})
    record_circuit(cast, lesson, 1, **entries)
    graded = cast.units[unit].graded.filter(compulsory=True).exclude(manoeuvre__code__in=list(Part))
    codes = graded.values_list("manoeuvre__code", flat=True)
    record_entries(cast, lesson, **{f"manoeuvre.{code}.level": "perform" for code in codes})
    return sign_lesson(cast, lesson)


def counted_at_signing(lesson: Lesson, part: str) -> str:
    return str(Attempt.objects.get(lesson=lesson, part=part).counted)


def counted_in_the_verdict(cast: Cast, part: str) -> str:
    [lesson] = facts_for(cast.enrolment, cast.today).lessons
    return str(getattr(lesson.circuits[0].with_control_taken(), part).counted)


@pytest.mark.parametrize(("entries", "counted"), LANDINGS)
def test_seal_and_verdict_count_a_landing_alike(cast: Cast, entries: dict[str, str], counted: str) -> None:
    lesson = fly(cast, 11, **entries)
    sealed = json.loads(Seal.objects.get(kind=Seal.Kind.LESSON).canonical)["circuits"][0]["landing"]
    assert (counted_at_signing(lesson, "landing"), sealed["counted"]) == (counted, counted)
    assert sealed["kept"] == entries.get("landing.kept", "")
    assert counted_in_the_verdict(cast, "landing") == counted


@pytest.mark.parametrize(("unit", "counted"), [(8, "perform"), (9, "practice")])
def test_a_criterion_counts_from_its_unit_on_in_both(cast: Cast, unit: int, counted: str) -> None:
    """“Flies off in the right attitude” counts from unit 9."""
    lesson = fly(cast, unit, **{"takeoff.criterion.lift-off-attitude": "not_done"})
    assert counted_at_signing(lesson, "takeoff") == counted_in_the_verdict(cast, "takeoff") == counted


@pytest.mark.parametrize(("unit", "counted"), [(8, "perform"), (10, "practice")])
def test_a_number_counts_from_its_unit_on_in_both(cast: Cast, unit: int, counted: str) -> None:
    """The height of the round-out counts from unit 10."""
    lesson = fly(cast, unit, **{"landing.measure.round-out.height": "60"})
    assert counted_at_signing(lesson, "landing") == counted_in_the_verdict(cast, "landing") == counted


def test_the_complete_record_prints_what_lowers_a_level_and_why_one_was_kept(cast: Cast) -> None:
    fly(
        cast, 11,
        **{
            "approach.measure.final.speed": "53", "approach.kept": REASON, "landing.criterion.held": "not_done",
        },
    )  # fmt: skip
    made = sheets.print_sheet(
        kind=Sheet.Kind.COMPLETE, enrolment=cast.enrolment, on=cast.today, paper="A4", by=cast.frida, at=cast.at(17)
    )
    said = " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(bytes(made.pdf))).pages).split())
    assert f"kept as tapped: {REASON}" in said
    assert "counts as Practice" in said


def test_only_the_version_in_force_counts(cast: Cast) -> None:
    """A corrected lesson counts as it was corrected from the signature on, and as it was before on the days before."""
    lesson = begin_lesson(cast, 8, 5)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0"})
    record_circuit(cast, lesson, 1)
    sign_lesson(cast, lesson, 5)
    version = corrections.begin_correction(lesson=lesson, reason="It was practice", by=cast.bert, at=cast.at())
    record_entries(cast, version, **{"circuit.1.landing.level": "practice"})
    sign_lesson(cast, version, 2)
    for days_ago, counted in ((5, "perform"), (3, "perform"), (2, "practice"), (0, "practice")):
        [flown] = facts_for(cast.enrolment, cast.today - timedelta(days=days_ago)).lessons
        assert flown.circuits[0].landing is not None
        assert flown.circuits[0].landing.counted == counted
