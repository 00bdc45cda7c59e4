"""A school under the European rules sees no paragraph of 14 CFR, and none is enforced there."""

import re

import pytest
from bs4 import BeautifulSoup
from django.test import Client

from grading.actions import decisions, endorsements
from grading.reading.inspection_facts import collect_findings
from lessons.models import Endorsement, Lesson
from school.models import School
from tests.cast import SECRET, Cast
from tests.factories import begin_lesson
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
