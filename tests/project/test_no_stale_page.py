"""Whatever a verdict rests on: once it changed every page shows it, and nothing kept between requests shows another."""

import re
from collections.abc import Callable
from datetime import date, timedelta
from functools import partial
from typing import Any
from unittest import mock

from django.test import Client
from django.utils import timezone

from grading.actions import corrections, credit, decisions, endorsements, signing, training, withdrawals
from grading.actions.school import change_school
from grading.exchange import import_table, receiving
from grading.models import Release, SetAside, Standard, StoredVerdict
from grading.reading import facts
from lessons import actions as lesson_actions
from lessons.models import Endorsement, Enrolment, KnowledgeTest, Lesson
from school import actions as school_actions
from school.fragment_cache import fragments
from school.models import Paper
from tests.cast import SECRET, Cast
from tests.databases import clear_published_caches
from tests.factories import begin_lesson, fly_lesson, record_entries, sign_lesson
from tests.ready_student import make_limits, make_ready

PAST = (
    "School number,Date,Taught,Dual,Solo,Night (included),Takeoffs,Landings,Instructor,Where the paper is kept\n"
    "T-4,2020-03-04,Exercise 4,1:12,,0.2,3,3,Old Hand,Box 3\n"
)
READINESS = "/students/{enrolment}/"
PAGES = (
    ("amelia", "/students/"),
    ("amelia", READINESS),
    ("bert", READINESS),
    ("dora", "/me/"),
    ("bert", "/lessons/"),
    ("bert", "/lessons/{writing}/"),
)
# New in every answer, whatever it shows.
TOKENS = re.compile(r'csrfmiddlewaretoken" value="\w+"|"X-CSRFToken": "\w+"|nonce="[^"]+"|\d\d:\d\d:\d\d UTC')
NOW = timezone.now()


def current_enrolment(cast: Cast) -> Enrolment:
    return Enrolment.objects.for_pages().get(pk=cast.enrolment.pk)


def correct(cast: Cast) -> None:
    last = Lesson.objects.filter(enrolment=cast.enrolment).signed().for_pages().newest_first()[0]
    version = corrections.begin_correction(lesson=last, reason="Another one.", by=cast.bert, at=cast.at(12))
    record_entries(cast, version, **{"circuit.1.landing.level": "explain"})
    sign_lesson(cast, version)


def acknowledge(cast: Cast) -> None:
    last = Lesson.objects.filter(enrolment=cast.enrolment).signed().current().for_pages().newest_first()[0]
    signing.acknowledge_lesson(lesson=last, secret=SECRET, by=cast.dora, at=cast.at(12))


def void_paper(cast: Cast) -> None:
    paper = Paper.objects.get(person=cast.dora, kind="english")
    school_actions.void_paper(paper=paper, reason="Mistyped.", by=cast.frida, at=cast.at(12))


def record_paper(cast: Cast) -> None:
    school_actions.record_paper(person=cast.dora, kind="english", issued=cast.today, by=cast.frida, at=cast.at(12))


def withdraw_endorsement(cast: Cast, kind: str) -> None:
    held = Endorsement.objects.get(enrolment=cast.enrolment, kind=kind, withdrawn_at=None)
    withdrawals.withdraw_endorsement(endorsement=held, reason="Given too early.", by=cast.bert, at=cast.at(12))


def endorse(cast: Cast) -> None:
    endorsements.endorse_for_tailwheel(
        enrolment=current_enrolment(cast),
        text="Proficient.",
        on=cast.today,
        secret=SECRET,
        by=cast.bert,
        at=cast.at(12),
    )


def record_test(cast: Cast) -> None:
    training.record_written_test(
        enrolment=cast.enrolment,
        aircraft_type=cast.type,
        taken_on=cast.today,
        topics=["rules"],
        questions=9,
        wrong=2,
        reviewed_on=None,
        given_by=cast.bert,
        by=cast.bert,
        at=cast.at(12),
    )


def review_test(cast: Cast) -> None:
    test = KnowledgeTest.objects.get(enrolment=cast.enrolment, reviewed_on=None)
    training.review_test(test=test, on=cast.today, by=cast.bert, at=cast.at(13))


def set_aside(cast: Cast) -> None:
    enrolment = current_enrolment(cast)
    wanted = next(row for row in decisions.derive_verdict(enrolment, cast.today).unmet if row.kind != "legal")
    decisions.set_aside_requirement(
        enrolment=enrolment, requirement=wanted.key, reason="Seen by me.", by=cast.amelia, at=cast.at(13)
    )


def ask_again(cast: Cast) -> None:
    decided = SetAside.objects.get(enrolment=cast.enrolment, withdrawn_at=None)
    decisions.reinstate_requirement(requirement_set_aside=decided, by=cast.amelia, at=cast.at(14))


def credit_unit(cast: Cast) -> None:
    upload = receiving.save_upload(
        kind="past_lessons", name="old.csv", content=PAST.encode(), by=cast.frida, at=cast.at(8)
    )
    import_table.import_table(upload=upload, on=cast.today, by=cast.frida, at=cast.at(9))
    credit.decide_credit(
        enrolment=current_enrolment(cast),
        units={cast.units[9]: "Flown elsewhere."},
        counted={"dual_minutes": 60},
        reason="Read the logbook.",
        by=cast.amelia,
        at=cast.at(12),
    )


def release(cast: Cast) -> None:
    decisions.sign_release(
        enrolment=current_enrolment(cast),
        limits=make_limits(cast),
        valid_from=cast.today,
        secret=SECRET,
        by=cast.amelia,
        valid_until=cast.today + timedelta(days=30),
        endorsed_by=cast.bert,
        reason="Seen by me.",
        at=cast.at(14),
    )


def withdraw_release(cast: Cast) -> None:
    released = Release.objects.get(enrolment=cast.enrolment)
    decisions.withdraw_release(release=released, reason="Unwell.", by=cast.bert, at=cast.at(15))


def change_instructor(cast: Cast) -> None:
    lesson_actions.change_instructor(
        enrolment=current_enrolment(cast), instructor=cast.cleo, by=cast.frida, at=cast.at(15)
    )


def raise_standard(cast: Cast) -> None:
    """Ten of the last ten landings from tomorrow on."""
    old = Standard.objects.get(rule_set="us")
    asked = [
        row | ({"values": row["values"] | {"good": 10}} if row["key"] == "landings_to_standard" else {})
        for row in old.content["requirements"]
    ]
    tomorrow = (cast.today + timedelta(days=1)).isoformat()
    content = old.content | {"key": "more", "valid_from": tomorrow, "requirements": asked}
    Standard.objects.create(key="more", rule_set="us", valid_from=tomorrow, content=content)


def change_units(cast: Cast) -> None:
    change_school(changes={"speed_unit": "km/h", "length_unit": "m"}, by=cast.frida, at=cast.at(16))


def change_rules(cast: Cast) -> None:
    change_school(changes={"rule_set": "eu"}, by=cast.amelia, at=cast.at(16))


# What changes, and how many days later it is looked at than what changed before it.
CHANGES: tuple[tuple[str, int, Callable[[Cast], Any]], ...] = (
    ("a lesson is signed", 0, fly_lesson),
    ("a correction is signed", 0, correct),
    ("the student signs a lesson", 0, acknowledge),
    ("a paper is voided", 0, void_paper),
    ("a paper is recorded", 0, record_paper),
    ("an endorsement is withdrawn", 0, partial(withdraw_endorsement, kind="tailwheel")),
    ("an endorsement is given", 0, endorse),
    ("a test is recorded", 0, record_test),
    ("a test is reviewed", 0, review_test),
    ("a requirement is set aside", 0, set_aside),
    ("a requirement is asked for again", 0, ask_again),
    ("earlier training is credited", 0, credit_unit),
    ("a release is given", 0, release),
    ("a release is withdrawn", 0, withdraw_release),
    ("the instructor changes", 0, change_instructor),
    ("a new standard comes in force", 1, raise_standard),
    ("the school flies by other units", 0, change_units),
    ("weeks pass", 40, lambda cast: None),
    ("the school goes by other rules", 0, change_rules),
)


def test_every_page_shows_each_change_at_once(cast: Cast) -> None:
    """Each page as it is answered equals the one drawn when everything kept between requests was thrown away."""
    make_ready(cast)
    writing, day = begin_lesson(cast, 14), cast.today
    clients = {who: Client() for who, _ in PAGES}
    for who, client in clients.items():
        client.force_login(getattr(cast, who))
    read = partial(_read_pages, clients, enrolment=cast.enrolment.uid, writing=writing.uid)
    before = read(day)
    for what, days, change in CHANGES:
        day += timedelta(days=days)
        change(cast)
        seen = read(day)
        _clear_caches()
        anew = read(day)
        for page in seen:
            assert seen[page] == anew[page], f"{page} does not show at once that {what}"
        assert any(seen[page] != before[page] for page in seen), f"nothing shows that {what}"
        before = seen


def _read_pages(clients: dict[str, Client], day: date, **named: Any) -> dict[tuple[str, str], str]:
    """The text of each page on a day. The clock of the pages stands: a minute that passes is no change."""
    read = {}
    with (
        mock.patch("school.current.day_of", return_value=day),
        mock.patch.object(timezone, "now", return_value=NOW),
    ):
        for who, page in PAGES:
            reply = clients[who].get(page.format(**named))
            assert reply.status_code == 200, page
            read[who, page] = TOKENS.sub("", reply.text)
    return read


def _clear_caches() -> None:
    assert StoredVerdict.objects.exists()
    fragments.clear()
    StoredVerdict.objects.all().delete()
    clear_published_caches()
    facts._standard.cache_clear()
