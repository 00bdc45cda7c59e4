"""A school under the European rules sees no paragraph of 14 CFR, and none is enforced there."""

import re
from collections.abc import Iterator
from typing import Any

import pytest
from bs4 import BeautifulSoup
from django.test import Client

from grading.actions import decisions, endorsements, sheets
from grading.models import Sheet
from grading.models.record import LogbookForm
from grading.reading.inspection_facts import collect_findings
from grading.rules.inspection.finding import FINDING_KINDS
from grading.sheets import pdf
from lessons.models import Endorsement, Lesson
from school.citations import own_law
from school.models import School
from tests import page_targets
from tests.access_matrix import ACCESS_MATRIX, PERMITTED_FORMS
from tests.cast import SECRET, Cast
from tests.factories import begin_lesson
from tests.page_requests import PageRequests
from tests.ready_student import make_ready

FOREIGN = re.compile(r"\bCFR\b|\b61\.\d|\b141\.\d")


@pytest.fixture
def european(cast: Cast) -> Cast:
    make_ready(cast)
    School.objects.update(rule_set="eu")
    return cast


def test_no_page_of_a_european_school_cites_14_cfr(european: Cast, client: Client) -> None:
    cast = european
    uid = cast.enrolment.uid
    signed = Lesson.objects.filter(enrolment=cast.enrolment, unit__number=14).first()
    assert signed is not None
    open_lesson = begin_lesson(cast, 8, 0)
    student = f"/students/{uid}/"
    forms = ("tailwheel", "complex", "high-performance", "solo-endorsement", "solo-at-night", "solo-nearby")
    pages = [
        "/students/", student, f"/lessons/{signed.uid}/", f"/lessons/{open_lesson.uid}/", "/findings/", "/standard/",
        *(f"{student}{name}/" for name in (*forms, "written-test")),
    ]  # fmt: skip
    client.force_login(cast.amelia)
    for page in pages:
        reply = client.get(page)
        assert reply.status_code == 200, page
        text = BeautifulSoup(reply.content, "html.parser").get_text(" ")
        # What was signed under other rules keeps its words: the endorsements that this student holds already.
        for row in Endorsement.objects.all():
            text = text.replace(f"({row.paragraph})", "")
        assert not FOREIGN.search(text), (page, FOREIGN.search(text))


# The settings offer the rule sets by their names.
NAME_OF_THE_OTHER_RULE_SET = "United States, 14 CFR part 61"


def texts_of_all_pages(ask: PageRequests) -> Iterator[tuple[str, str]]:
    """Yield each page and each answer to a form, sent empty and as a refused one is, to the first who reaches it."""
    for name, row in ACCESS_MATRIX.items():
        for (method, target), rungs in row.answers.items():
            who = next((person for person, rung in rungs.items() if not rung.refused), None)
            if who is None or method not in ("GET", "POST"):
                continue
            for form in [None] if method == "GET" else [{}, PERMITTED_FORMS.get(name)]:
                reply = ask(who, name, method, target, form)
                if "html" in reply.get("Content-Type", "") and not reply.streaming:
                    text = BeautifulSoup(reply.content, "html.parser").get_text(" ")
                    yield f"{method} {name} {target} by {who}", text.replace(NAME_OF_THE_OTHER_RULE_SET, "")
                elif "json" in reply.get("Content-Type", "") and name == "grading:own_personal_data":
                    yield f"{name} by {who}", reply.text


def test_no_page_and_no_refusal_of_a_european_school_cites_14_cfr(cast: Cast, settings: Any) -> None:
    """Every page of the ladder with something on it, as whoever may see it, and every form with what it refuses."""
    settings.CHECKS_A_MINUTE = 10_000
    School.objects.update(rule_set="eu")
    ask = PageRequests(cast, page_targets.create_page_targets(cast))
    found, read = [], 0
    for page, text in texts_of_all_pages(ask):
        read += 1
        found += [(page, text[max(match.start() - 60, 0) : match.end() + 20]) for match in FOREIGN.finditer(text)]
    assert found == []
    assert read > 200


def test_no_finding_and_no_sheet_of_a_european_school_cites_14_cfr(european: Cast) -> None:
    assert not [key for key, kind in FINDING_KINDS.items() if FOREIGN.search(kind.source_under("eu"))]
    printed = {}
    asked: dict[str, Any] = {"on": european.today, "paper": "A4", "by": european.frida, "at": european.at(17)}
    for made in (
        sheets.print_sheet(kind=Sheet.Kind.PROGRESS, enrolment=european.enrolment, **asked),
        sheets.print_sheet(kind=Sheet.Kind.COMPLETE, enrolment=european.enrolment, **asked),
        *(sheets.print_logbook(enrolment=european.enrolment, form=form, **asked) for form in LogbookForm),
        sheets.print_endorsements(instructor=european.bert, **asked),
    ):
        html = pdf.render_sheet_html(sheets.TEMPLATES[Sheet.Kind(made.kind)], made.content, "0" * 64, "A4")
        text = BeautifulSoup(html, "html.parser").get_text(" ")
        # What was signed under other rules keeps its words.
        for row in Endorsement.objects.all():
            text = text.replace(row.paragraph, "")
        printed[str(made)] = [text[max(row.start() - 60, 0) : row.end() + 20] for row in FOREIGN.finditer(text)]
    assert not any(printed.values()), printed


def test_a_text_that_was_published_is_shown_without_the_other_law(european: Cast) -> None:
    assert own_law("14 CFR 61.87(d), in the broad order of AMC1 FCL.210 exercises 1 to 14") == (
        "in the broad order of AMC1 FCL.210 exercises 1 to 14"
    )
    assert (own_law("61.87(d)(1), 61.87(d)(4):level"), own_law("FAA-S-ACS-6C PA.IV.A")) == ("", "FAA-S-ACS-6C PA.IV.A")
    School.objects.update(rule_set="us")
    assert own_law("61.87(d)(1)") == "61.87(d)(1)"


def test_what_14_cfr_asks_for_is_not_enforced_in_a_european_school(european: Cast) -> None:
    cast = european
    keys = {row.key for row in decisions.derive_verdict(cast.enrolment, cast.today).requirements}
    assert not keys & {"complex_endorsement", "high_performance_endorsement", "tailwheel_endorsement"}
    assert "radio_and_systems" in keys
    given = endorsements.endorse_for_solo(
        enrolment=cast.enrolment, text="Trained.", on=cast.today, secret=SECRET, by=cast.bert, at=cast.at(14)
    )
    assert given.paragraph == "the school's own"
    kinds = {row.kind for row in collect_findings([cast.enrolment], cast.at(20, -200), whole_school=True)}
    assert "over_eight_hours" not in kinds


def test_the_same_pages_cite_it_under_its_own_rules(cast: Cast, client: Client) -> None:
    make_ready(cast)
    client.force_login(cast.amelia)
    for page in (f"/students/{cast.enrolment.uid}/", "/findings/", "/standard/"):
        assert FOREIGN.search(client.get(page).text), page
