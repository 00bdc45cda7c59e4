"""Solo within a release, releases of other kinds, reminders, the board, stored verdicts, any past day.

Sources: 14 CFR 61.87(n), (o), 61.89(a)(6), 61.93(b)(1), 61.195(d)(1), eCFR text read in a copy. The rest is the
project's own.
"""

import csv
import re
from datetime import date, timedelta
from io import StringIO
from typing import Any

import pytest
from bs4 import BeautifulSoup
from django.core import mail
from django.core.management import CommandError, call_command
from django.test import Client
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from grading.actions import decisions, endorsements, withdrawals
from grading.actions.decisions import ReleaseLimits
from grading.models import Release, StoredVerdict
from grading.reading import verdict_cache
from grading.reading.expiring import expiries_of_instructors, expiries_of_students
from grading.reading.facts import facts_for, standard_in_force
from grading.reading.release_limits import release_breaches, wind_breaches
from grading.reading.student_summary import summarise_students
from grading.rules.readiness.facts import AircraftTypeFact, AttemptFact, CircuitFact, Facts, LessonFact, StudentFact
from grading.rules.readiness.history import History
from grading.rules.readiness.json_format import standard_from_json, verdict_to_json
from grading.rules.readiness.next_steps import _step, next_steps
from grading.rules.readiness.relapse import find_slips
from grading.rules.readiness.stored_form import verdict_from_plain
from grading.simulation.demo.demo_school import FIXTURES
from lessons import actions as lesson_actions
from lessons.models import Endorsement, Enrolment
from lessons.models import Lesson as Flown
from lessons.rules.scale import Ending, Help, Level
from lessons.rules.wind import Wind
from school import actions as school_actions
from school.errors import Refusal
from school.models import Aerodrome, Paper, Person, Runway, School
from tests.cast import SECRET, Cast
from tests.factories import begin_lesson, fly_lesson, record_circuit, record_entries, sign_lesson
from tests.ready_student import make_ready
from tests.shared_state import shared_state


def make_limits(cast: Cast, **changes: Any) -> ReleaseLimits:
    usual = {
        "aerodrome": cast.runway.aerodrome, "runways": "18", "max_wind_kt": 12, "max_crosswind_kt": 5,
        "min_visibility_sm": 5, "min_ceiling_ft": 2000,
    }  # fmt: skip
    return ReleaseLimits(**(usual | changes))


def sign_release(cast: Cast, kind: Release.Kind = Release.Kind.DAY, **changes: Any) -> Release:
    return decisions.sign_release(
        enrolment=cast.enrolment, limits=make_limits(cast, **changes), valid_from=cast.today,
        valid_until=cast.today + timedelta(days=20), endorsed_by=cast.bert, reason="", secret=SECRET, by=cast.amelia,
        at=cast.at(13), kind=kind,
    )  # fmt: skip


@shared_state
def ready(cast: Cast) -> Cast:
    make_ready(cast)
    return cast


# Solo


def fly_solo(cast: Cast, **details: str) -> Flown:
    lesson = begin_lesson(cast, 17)
    calm = {"lesson.solo_minutes": "0.5", "lesson.wind_direction": "180", "lesson.wind_speed_kt": "5"}
    record_entries(cast, lesson, **calm)
    record_entries(cast, lesson, **{f"lesson.{name}": text for name, text in details.items()})
    return Flown.objects.for_pages().get(pk=lesson.pk)


def test_solo_without_a_release_is_refused_until_it_is_explained(cast: Cast) -> None:
    lesson = fly_solo(cast)
    assert release_breaches(lesson) == ["No release for solo was in force on that day."]
    with pytest.raises(Refusal, match="Solo outside a release: No release"):
        sign_lesson(cast, lesson)
    record_entries(cast, lesson, **{"lesson.outside_release": "Landed by himself after I fell ill."})
    assert sign_lesson(cast, lesson).is_signed


@pytest.mark.parametrize(
    ("details", "said"),
    [
        ({}, None),
        ({"wind_direction": "180", "wind_speed_kt": "12"}, None),
        ({"wind_direction": "180", "wind_speed_kt": "13"}, "Wind up to 13 kt, released for 12 kt."),
        ({"wind_direction": "240", "wind_speed_kt": "6"}, "Crosswind up to 5.2 kt, released for 5 kt."),
        ({"wind_direction": "210", "wind_speed_kt": "10"}, None),
        ({"wind_direction": "180", "wind_speed_kt": "8", "wind_gust_kt": "14"}, "Wind up to 14 kt"),
        ({"night_minutes": "0.3"}, "by day (14 CFR 61.87(o))"),
    ],
)
def test_solo_within_the_limits_and_just_outside(ready: Cast, details: dict[str, str], said: str | None) -> None:
    """A crosswind of 6 kt at 60 degrees is 5.2 kt: outside 5, and it does not read as 5."""
    sign_release(ready)
    found = release_breaches(fly_solo(ready, **details))
    assert (found == []) is (said is None)
    assert said is None or said in " ".join(found)


@given(st.integers(1, 360), st.integers(0, 40), st.integers(0, 20))
def test_the_crosswind_that_is_shown_is_more_than_the_limit(direction: int, speed: int, limit: int) -> None:
    lesson = Flown(runway=Runway(heading_magnetic=180))
    release = Release(max_wind_kt=99, max_crosswind_kt=limit)
    for sentence in wind_breaches(lesson, release, Wind(direction, speed)):
        shown = sentence.removeprefix("Crosswind up to ").split(" kt")[0]
        assert limit < float(shown) <= speed


def test_solo_on_another_runway_or_at_another_aerodrome(ready: Cast) -> None:
    sign_release(ready)
    home = ready.runway.aerodrome
    other = Aerodrome.objects.create(ident="ZZZY", name="Far Field", elevation_ft=10)
    for where, said in ((home, "Runway 36 is not in the release"), (other, "flown was from Far Field (ZZZY)")):
        runway = Runway.objects.create(aerodrome=where, designator="36", heading_magnetic=360, length_ft=3000)
        assert said in " ".join(release_breaches(fly_solo(ready, runway=str(runway.pk))))


def test_a_release_at_night_covers_no_flight_by_day_and_falls_with_the_one_by_day(ready: Cast) -> None:
    by_day = sign_release(ready)
    lesson = begin_lesson(ready, 8)
    record_entries(ready, lesson, **{"lesson.dual_minutes": "1.0", "lesson.night_minutes": "1.0"})
    record_circuit(ready, lesson, 1)
    sign_lesson(ready, lesson)
    endorse_there(ready, endorsements.endorse_for_night, ready.runway.aerodrome)
    sign_release(ready, Release.Kind.NIGHT)
    decisions.withdraw_release(release=by_day, reason="Crosswind first", by=ready.amelia, at=ready.at(14))
    assert "every other one rests on it" in release_breaches(fly_solo(ready))[0]
    assert "every other one rests on it" in release_breaches(fly_solo(ready, night_minutes="0.3"))[0]


def test_solo_without_wind_or_runway_is_not_held_to_be_within(ready: Cast) -> None:
    sign_release(ready)
    assert "No wind is recorded" in release_breaches(fly_solo(ready, wind_speed_kt=""))[0]
    assert "runway are not recorded" in release_breaches(fly_solo(ready, runway=""))[0]


def test_a_dual_flight_is_asked_nothing(cast: Cast, django_assert_num_queries: Any) -> None:
    lesson = Flown.objects.for_pages().get(pk=begin_lesson(cast).pk)
    with django_assert_num_queries(0):
        assert release_breaches(lesson) == []


# Releases at night and elsewhere


def test_a_night_release_needs_day_night_training_and_five_miles(ready: Cast) -> None:
    with pytest.raises(Refusal, match="by day must be in force first"):
        sign_release(ready, Release.Kind.NIGHT)
    sign_release(ready)
    with pytest.raises(Refusal, match=r"no signed night training.*61\.87\(o\)"):
        sign_release(ready, Release.Kind.NIGHT)
    lesson = begin_lesson(ready, 8)
    record_entries(ready, lesson, **{"lesson.dual_minutes": "1.0", "lesson.night_minutes": "1.0"})
    record_circuit(ready, lesson, 1)
    sign_lesson(ready, lesson)
    with pytest.raises(Refusal, match=r"not endorsed .* solo at night .*61\.87\(o\)\(3\)"):
        sign_release(ready, Release.Kind.NIGHT)
    endorse_there(ready, endorsements.endorse_for_night, ready.runway.aerodrome)
    with pytest.raises(Refusal, match="at least 5 SM"):
        sign_release(ready, Release.Kind.NIGHT, min_visibility_sm=4)
    assert sign_release(ready, Release.Kind.NIGHT).kind == "night"
    assert release_breaches(fly_solo(ready, night_minutes="0.3")) == []


def test_a_release_for_another_aerodrome_needs_training_there(ready: Cast) -> None:
    other = Aerodrome.objects.create(ident="ZZZY", name="Near Field", elevation_ft=10)
    runway = Runway.objects.create(aerodrome=other, designator="09", heading_magnetic=90, length_ft=3000)
    with pytest.raises(Refusal, match="not the home aerodrome"):
        sign_release(ready, aerodrome=other)
    sign_release(ready)
    with pytest.raises(Refusal, match="That is the home aerodrome"):
        sign_release(ready, Release.Kind.NEARBY)
    with pytest.raises(Refusal, match=r"no signed training at Near Field.*61\.93\(b\)"):
        sign_release(ready, Release.Kind.NEARBY, aerodrome=other, runways="09")
    lesson = begin_lesson(ready, 8)
    record_entries(ready, lesson, **{"lesson.dual_minutes": "1.0", "lesson.runway": str(runway.pk)})
    record_circuit(ready, lesson, 1)
    sign_lesson(ready, lesson)
    with pytest.raises(Refusal, match=r"not endorsed .* Near Field.*61\.93\(b\)\(1\)"):
        sign_release(ready, Release.Kind.NEARBY, aerodrome=other, runways="09")
    given = endorse_there(ready, endorsements.endorse_for_nearby, other)
    nearby = sign_release(ready, Release.Kind.NEARBY, aerodrome=other, runways="09")
    assert release_breaches(fly_solo(ready, runway=str(runway.pk))) == []
    withdrawals.withdraw_endorsement(endorsement=given, reason="Runway closed", by=ready.bert, at=ready.at(16))
    nearby.refresh_from_db()
    assert nearby.withdrawn_at
    assert Release.objects.filter(withdrawn_at=None, kind=Release.Kind.DAY).exists()


def endorse_there(cast: Cast, act: Any, aerodrome: Aerodrome) -> Endorsement:
    given: Endorsement = act(
        enrolment=cast.enrolment, aerodrome=aerodrome, text="Trained there.", confirmed="So it is.", on=cast.today,
        secret=SECRET, by=cast.bert, at=cast.at(14),
    )  # fmt: skip
    return given


def test_the_endorsement_there_is_of_the_one_who_trained(ready: Cast) -> None:
    """14 CFR 61.87(o)(3): both trained the student at night, and the release rests on the one who endorsed it."""
    sign_release(ready)
    for teacher in (ready.bert, ready.cleo):
        lesson = begin_lesson(ready, 8, instructor=teacher)
        record_entries(ready, lesson, **{"lesson.dual_minutes": "1.0", "lesson.night_minutes": "1.0"})
        record_circuit(ready, lesson, 1)
        sign_lesson(ready, lesson)
    endorsements.endorse_for_night(
        enrolment=ready.enrolment, aerodrome=ready.runway.aerodrome, text="Trained there.", confirmed="So it is.",
        on=ready.today, secret=SECRET, by=ready.cleo, at=ready.at(14),
    )  # fmt: skip
    with pytest.raises(Refusal, match="Bert Example has not endorsed"):
        sign_release(ready, Release.Kind.NIGHT)


@pytest.mark.parametrize(
    ("act", "said"),
    [
        (endorsements.endorse_for_night, "no signed night training"),
        (endorsements.endorse_for_nearby, "home aerodrome"),
    ],
)
def test_who_did_not_train_there_does_not_endorse(ready: Cast, act: Any, said: str) -> None:
    """14 CFR 61.87(o)(3), 61.93(b)(1)."""
    with pytest.raises(Refusal, match=said):
        endorse_there(ready, act, ready.runway.aerodrome)
    other = Aerodrome.objects.create(ident="ZZZY", name="Near Field", elevation_ft=10)
    with pytest.raises(Refusal, match=r"no signed .*training at Near Field"):
        endorse_there(ready, act, other)


def test_what_no_record_shows_is_confirmed_by_a_tick_and_signed(ready: Cast, client: Client) -> None:
    lesson = begin_lesson(ready, 8)
    record_entries(ready, lesson, **{"lesson.dual_minutes": "1.0", "lesson.night_minutes": "1.0"})
    record_circuit(ready, lesson, 1)
    sign_lesson(ready, lesson)
    client.force_login(ready.bert)
    page = f"/students/{ready.enrolment.uid}/solo-at-night/"
    sent = {"aerodrome": ready.runway.aerodrome_id, "on": str(ready.today), "text": "Trained.", "secret": SECRET}
    assert client.post(page, sent).status_code == 422
    assert client.post(page, sent | {"confirmed": "on"}).status_code == 302
    given = Endorsement.objects.get(kind=Endorsement.Kind.SOLO_AT_NIGHT)
    assert given.text == "Trained. I gave navigation training at night in the vicinity of this aerodrome."


def test_a_renewal_begins_from_the_last_release(ready: Cast, client: Client) -> None:
    sign_release(ready, max_wind_kt=9)
    client.force_login(ready.amelia)
    page = client.get(f"/students/{ready.enrolment.uid}/")
    assert page.context["form"]["max_wind_kt"].value() == 9
    assert "“Trained.”" in page.text


# Endorsement and countersignature


def test_a_release_rests_on_the_signed_endorsement_of_its_instructor(ready: Cast, client: Client) -> None:
    """14 CFR 61.195(d)(1): by an instructor who gave the training."""
    asked: dict[str, Any] = {
        "enrolment": ready.enrolment, "limits": make_limits(ready), "valid_from": ready.today, "reason": "",
        "valid_until": ready.today + timedelta(days=5), "secret": SECRET, "at": ready.at(13),
    }  # fmt: skip
    with pytest.raises(Refusal, match=r"Cleo Example has not endorsed.*61\.87\(n\)"):
        decisions.sign_release(**asked, endorsed_by=ready.cleo, by=ready.amelia)
    with pytest.raises(Refusal, match="no signed training in this type"):
        endorsements.endorse_for_solo(
            enrolment=ready.other_enrolment, text="x", on=ready.today, secret=SECRET, by=ready.cleo, at=ready.at(12)
        )
    client.force_login(ready.cleo)
    page = f"/students/{ready.enrolment.uid}/solo-endorsement/"
    sent = {"on": str(ready.today), "text": "Trained and found safe.", "secret": "guess"}
    assert "Wrong password" in client.post(page, sent).text
    assert client.post(page, sent | {"secret": SECRET}).status_code == 302
    assert decisions.sign_release(**asked, endorsed_by=ready.cleo, by=ready.amelia).endorsed_by == ready.cleo


def test_a_school_without_countersignature_lets_the_endorser_release_and_nobody_else(
    ready: Cast, client: Client
) -> None:
    client.force_login(ready.bert)
    page = f"/students/{ready.enrolment.uid}/"
    assert "Sign the release" not in client.get(page).text
    assert client.post(page + "release/").status_code == 403
    School.objects.update(chief_countersigns=False)
    assert "Sign the release" in client.get(page).text
    asked: dict[str, Any] = {
        "enrolment": ready.enrolment, "limits": make_limits(ready), "valid_from": ready.today, "reason": "",
        "valid_until": ready.today + timedelta(days=5), "secret": SECRET, "at": ready.at(13), "endorsed_by": ready.bert,
    }  # fmt: skip
    with pytest.raises(Refusal, match="on their own endorsement"):
        decisions.sign_release(**asked, by=ready.cleo)
    released = decisions.sign_release(**asked, by=ready.bert)
    assert released.signatures.get().capacity == "instructor"


# Reminders


def test_papers_are_reminded_of_sixty_thirty_and_seven_days_ahead(cast: Cast) -> None:
    Paper.objects.create(
        person=cast.dora, kind="medical", medical_class="3", issued=cast.today, expires=cast.today + timedelta(days=90),
        recorded_at=cast.at(), recorded_by=cast.frida,
    )  # fmt: skip
    Person.objects.filter(pk=cast.dora.pk).update(email="dora@example.invalid")
    Person.objects.filter(pk=cast.amelia.pk).update(email="amelia@example.invalid")
    sent = {}
    for ahead in (91, 60, 59, 30, 8, 7, 0, -1, -2):
        out = StringIO()
        mail.outbox.clear()
        call_command("send_reminders", "--on", str(cast.today + timedelta(days=90 - ahead)), stdout=out)
        sent[ahead] = sorted(message.to[0] for message in mail.outbox)
    both = ["amelia@example.invalid", "dora@example.invalid"]
    assert sent == {91: [], 60: both, 59: [], 30: both, 8: [], 7: both, 0: [], -1: both, -2: []}


def test_what_runs_out_is_said_in_days(cast: Cast, client: Client) -> None:
    Paper.objects.create(
        person=cast.dora, kind="medical", medical_class="3", issued=cast.today, expires=cast.today + timedelta(days=1),
        recorded_at=cast.at(), recorded_by=cast.frida,
    )  # fmt: skip
    row = summarise_students([Enrolment.objects.for_pages().get(pk=cast.enrolment.pk)], cast.today)[0]
    found = expiries_of_students([row], cast.today)
    assert ["expires tomorrow" in reminder.words for reminder in found] == [True]
    client.force_login(cast.dora)
    assert found[0].words in client.get("/me/").text
    client.force_login(cast.amelia)
    calendar = client.get("/expiry-dates/").text
    assert found[0].what in calendar
    assert "Dora Example" in calendar
    paper = cast.bert.papers.get()
    school_actions.void_paper(paper=paper, reason="renewed", by=cast.frida, at=cast.at())
    school_actions.record_paper(
        person=cast.bert, kind=paper.kind, number=paper.number, issued=paper.issued, by=cast.frida, at=cast.at(),
        recent_experience_until=cast.today + timedelta(days=20),
    )  # fmt: skip
    assert [reminder.holder for reminder in expiries_of_instructors(cast.today)] == [cast.bert]
    assert "Recent experience as an instructor: expires in 20 days" in client.get("/students/").text


# The board


def test_the_board_finds_filters_and_orders(cast: Cast, client: Client) -> None:
    client.force_login(cast.amelia)
    fly_lesson(cast)
    begin_lesson(cast, days_ago=2)
    assert "Emil Example" not in client.get("/students/?q=dor").text
    assert "Dora Example" in client.get("/students/?q=t-4").text
    unsigned = client.get("/students/?show=unsigned").text
    assert "Dora Example" in unsigned
    assert re.search(r"Unsigned.*?Example 1<", unsigned, re.DOTALL)  # by whom
    assert "Emil Example" not in unsigned
    order = client.get("/students/?sort=flown").text
    assert order.index("Emil Example") < order.index("Dora Example")  # who has not flown for longest
    assert "No student matches" in client.get("/students/?q=nobody").text


def test_the_board_names_the_unit_that_the_student_page_draws(cast: Cast, client: Client) -> None:
    fly_lesson(cast)
    client.force_login(cast.amelia)
    board = BeautifulSoup(client.get("/students/?q=dora").content, "html.parser")
    own = BeautifulSoup(client.get(f"/students/{cast.enrolment.uid}/").content, "html.parser")
    drawn = [li["class"] for li in own.select("ol.band")[0].find_all("li")]
    assert len(drawn) == 18
    here = next(place for place, classes in enumerate(drawn, 1) if "here" in classes)
    assert [cell.get_text(strip=True) for cell in board.select("td.bt-unit")] == [str(here)]


def test_the_board_as_a_file_says_the_same_and_starts_no_formula(cast: Cast, client: Client) -> None:
    Person.objects.filter(pk=cast.dora.pk).update(given_name="=HYPERLINK(1)")
    client.force_login(cast.frida)
    reply = client.get("/students.csv?q=example")
    rows = list(csv.DictReader(StringIO(reply.text)))
    assert [row["Student"] for row in rows] == ["'=HYPERLINK(1) Example", "Emil Example"]
    assert reply["Content-Disposition"].endswith('.csv"')
    assert rows[1]["State"] == "no circuits yet"
    assert rows[1]["Nearest gap"] == "No circuits flown yet"


def test_three_lessons_without_progress_are_stuck(cast: Cast) -> None:
    # More than ten circuits before the last three lessons: nothing is met by counting them alone.
    for day in range(9, 0, -1):
        fly_lesson(cast, circuits=2, days_ago=day, level="practice")
    row = summarise_students([Enrolment.objects.for_pages().get(pk=cast.enrolment.pk)], cast.today)[0]
    assert row.is_stuck
    fly_lesson(cast, circuits=2)
    row = summarise_students([Enrolment.objects.for_pages().get(pk=cast.enrolment.pk)], cast.today)[0]
    assert not row.is_stuck


DAY = date(2026, 6, 1)
STANDARD = standard_from_json((FIXTURES / "standards/us.json").read_text())


def landing_history(*levels: Level) -> History:
    circuits = tuple(
        CircuitFact(number, Ending.FULL_STOP, landing=AttemptFact("landing", level, Help.NONE))
        for number, level in enumerate(levels, start=1)
    )
    lesson = LessonFact(1, DAY, "Bert", signed=DAY, aircraft_type="t", circuits=circuits)
    facts = Facts(StudentFact("Dora"), AircraftTypeFact("t", "T", True), lessons=(lesson,))

    return History.from_facts(facts, STANDARD, DAY)


def test_who_was_at_standard_and_no_longer_is_has_slipped() -> None:
    good, bad = Level.PERFORM, Level.PRACTICE
    assert find_slips(landing_history(bad, bad, bad, bad)) == {}  # never was at standard
    at_standard = [good] * 10
    assert find_slips(landing_history(*at_standard, bad)) == {}  # once is no slip
    slip = find_slips(landing_history(*at_standard, bad, bad, bad))["landing"]
    assert slip.circuit is not None
    assert slip.circuit.number in (12, 13)
    assert find_slips(landing_history(*at_standard, bad, bad, bad, *[good] * 10)) == {}


# Next steps


def test_what_next_names_the_nearest_gaps_with_the_attempts_missing(cast: Cast) -> None:
    lesson = begin_lesson(cast, days_ago=1)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0"})
    record_circuit(cast, lesson, 1)
    record_circuit(cast, lesson, 2, "practice", **{"landing.fault.bounced": "on"})
    record_circuit(cast, lesson, 3)
    sign_lesson(cast, lesson, 1)
    row = summarise_students([Enrolment.objects.for_pages().get(pk=cast.enrolment.pk)], cast.today)[0]
    steps = next_steps(row.verdict, row.history)
    assert len(steps) == 3
    landing = [step for step in all_next_steps(row) if step.outcome.key == "landings_to_standard"]
    assert [(step.missing, [fault.code for fault in step.faults]) for step in landing] == [(7, ["bounced"])]
    assert steps == sorted(steps, key=lambda step: step.missing if step.missing is not None else 99)


def all_next_steps(row: Any) -> list[Any]:

    return [_step(outcome, row.history) for outcome in row.verdict.unmet]


# Stored, and any past day


def test_stored_verdicts_follow_each_change_and_equal_those_derived(ready: Cast) -> None:
    call_command("derive_verdicts", stdout=StringIO())
    stored = StoredVerdict.objects.get(enrolment=ready.enrolment)
    assert verdict_from_plain(stored.content).ready is True
    out = StringIO()
    call_command("derive_verdicts", "--check", stdout=out)
    assert "2 stored verdicts equal those derived afresh." in out.getvalue()
    forged = stored.content | {"requirements": stored.content["requirements"][1:]}
    StoredVerdict.objects.filter(pk=stored.pk).update(content=forged)
    with pytest.raises(CommandError, match="1 of 2 stored verdicts differ"):
        call_command("derive_verdicts", "--check", stdout=out)
    assert "stored “All 20 requirements are met since" in out.getvalue()
    assert "derived “All 21 requirements are met since" in out.getvalue()


def test_every_kind_of_change_marks_what_is_stored_as_stale(ready: Cast, client: Client) -> None:
    """And the board derives it anew before it shows it."""
    enrolment = Enrolment.objects.for_pages().get(pk=ready.enrolment.pk)
    paper = Paper.objects.get(person=ready.dora, kind="english")
    now = {"by": ready.frida, "at": ready.at(14)}
    changes: dict[str, Any] = {
        "lesson": lambda: fly_lesson(ready),
        "paper": lambda: school_actions.void_paper(paper=paper, reason="x", **now),
        "test": lambda: lesson_actions.record_knowledge_test(
            enrolment=enrolment, aircraft_type=ready.type, taken_on=ready.today, topics=["rules"], questions=5, wrong=0,
            reviewed_on=None, given_by=ready.bert, **now,
        ),
        "release": lambda: sign_release(ready),
        "instructor": lambda: lesson_actions.change_instructor(enrolment=enrolment, instructor=ready.cleo, **now),
    }  # fmt: skip
    changes = {"release": changes.pop("release")} | changes
    client.force_login(ready.amelia)
    for what, change in changes.items():
        verdict_cache.derive_and_store([enrolment], ready.today)
        change()
        assert StoredVerdict.objects.get(enrolment=enrolment).stale, what
        page = client.get("/students/").text
        row = summarise_students([enrolment], ready.today)[0]
        kept = StoredVerdict.objects.get(enrolment=enrolment)
        assert (kept.stale, kept.row) == (False, verdict_cache.board_row_content(row)), what
        assert row.enrolment.student.name in page
    other = StoredVerdict.objects.get(enrolment=ready.other_enrolment)
    assert not other.stale


@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(days=st.lists(st.integers(0, 30), min_size=1, max_size=3), asked=st.integers(1, 40))
def test_a_past_day_answers_the_same_after_later_lessons(cast: Cast, days: list[int], asked: int) -> None:
    """Lessons signed after the day asked for change nothing of its verdict."""
    on = cast.today - timedelta(days=asked)
    enrolment = Enrolment.objects.for_pages().get(pk=cast.enrolment.pk)
    before = verdict_to_json(decisions.derive_verdict(enrolment, on))
    for day in (day for day in days if day < asked):
        fly_lesson(cast, days_ago=day, level="practice")
    assert verdict_to_json(decisions.derive_verdict(enrolment, on)) == before


def test_the_page_of_a_past_day_decides_nothing(ready: Cast, client: Client) -> None:
    client.force_login(ready.amelia)
    page = f"/students/{ready.enrolment.uid}/"
    assert "Sign the release" in client.get(page).text
    past = client.get(page, {"on": str(ready.today - timedelta(days=150))}).text
    assert "from lessons signed by then" in past
    assert "Sign the release" not in past
    assert "from lessons signed by then" not in client.get(page, {"on": str(ready.today + timedelta(days=3))}).text


def test_facts_carry_the_numbers_as_deviations_of_their_day(cast: Cast) -> None:
    """68 kt and half of a 10 kt gust factor are 73 kt; 80 kt are 7 kt fast."""
    lesson = begin_lesson(cast, 14)
    record_entries(
        cast, lesson,
        **{
            "lesson.dual_minutes": "1.0", "lesson.wind_speed_kt": "10", "lesson.wind_gust_kt": "20",
            "circuit.1.takeoff.level": "perform", "circuit.1.approach.level": "practice",
            "circuit.1.downwind.level": "perform", "circuit.1.landing.level": "perform",
            "circuit.1.approach.measure.final.speed": "80",
        },
    )  # fmt: skip
    sign_lesson(cast, lesson)
    facts = facts_for(cast.enrolment, cast.today)
    numbers = History.from_facts(facts, standard_in_force(School.objects.get(), cast.today), cast.today).numbers()
    [(_, number)] = numbers["final.speed"]
    assert (number.amount, number.over, number.under, number.unit) == (7.0, 10.0, 5.0, "kt")
