"""Setting aside, releasing, withdrawing; a verdict from the database; a printed sheet."""

import re
from datetime import date, timedelta
from io import BytesIO
from typing import Any

import pytest
from bs4 import BeautifulSoup
from django.db import DatabaseError, connection, transaction
from django.test import Client
from pypdf import PdfReader

from grading.actions import corrections, decisions, endorsements, sheets
from grading.evidence.sheet_payload import content_fingerprint
from grading.models import Release, SetAside
from grading.reading.facts import facts_for
from grading.rules.readiness.json_format import facts_from_json, facts_to_json
from grading.sheets import pdf
from school.errors import Refusal
from tests.cast import SECRET, Cast
from tests.factories import begin_lesson, fly_lesson, record_circuit, record_entries, sign_lesson
from tests.ready_student import make_limits, make_ready, sign_release
from tests.shared_state import shared_state


@shared_state
def ready(cast: Cast) -> Cast:
    make_ready(cast)
    return cast


@pytest.mark.usefixtures("ready")
def test_ready_then_released_then_withdrawn(cast: Cast) -> None:
    verdict = decisions.derive_verdict(cast.enrolment, cast.today)
    assert [row.sentence for row in verdict.unmet] == []
    assert verdict.headline.startswith("All 21 requirements are met since")
    released = sign_release(cast)
    assert released.verdict["ready"] is True
    decisions.withdraw_release(release=released, reason="Slipped back", by=cast.bert, at=cast.at(16))
    assert not Release.objects.in_force(cast.today).exists()
    with pytest.raises(DatabaseError, match="final"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("UPDATE grading_release SET withdrawn_at = NULL, withdrawn_by_id = NULL, withdrawal_reason = ''")


@pytest.mark.usefixtures("ready")
def test_limits_of_a_release_cannot_be_changed(cast: Cast) -> None:
    sign_release(cast)
    with pytest.raises(DatabaseError, match="final"), transaction.atomic():
        Release.objects.update(max_wind_kt=40)


def test_an_unmet_legal_requirement_refuses_a_release_whatever_the_reason(cast: Cast) -> None:
    make_ready(cast, but="medical")
    with pytest.raises(Refusal, match="Required by law and not met: Medical"):
        sign_release(cast, reason="She flies well")
    with pytest.raises(Refusal, match="cannot be set aside"):
        decisions.set_aside_requirement(
            enrolment=cast.enrolment, requirement="medical", reason="x", by=cast.amelia, at=cast.at()
        )


def test_an_open_school_requirement_needs_a_written_reason(cast: Cast) -> None:
    make_ready(cast, but="second_instructor")
    with pytest.raises(Refusal, match="Stage check with a second instructor"):
        sign_release(cast)
    assert sign_release(cast, reason="I flew with her myself").reason == "I flew with her myself"


def test_setting_aside_is_shown_with_its_reason_and_can_be_taken_back(cast: Cast) -> None:
    make_ready(cast, but="second_instructor")
    decided = decisions.set_aside_requirement(
        enrolment=cast.enrolment, requirement="second_instructor", reason="Seen by me", by=cast.amelia, at=cast.at()
    )
    assert "set aside" in decisions.derive_verdict(cast.enrolment, cast.today).headline
    decisions.reinstate_requirement(requirement_set_aside=decided, by=cast.amelia, at=cast.at(13))
    assert not decisions.derive_verdict(cast.enrolment, cast.today).ready
    assert SetAside.objects.count() == 1


@pytest.mark.usefixtures("ready")
@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"valid_until": date(2100, 1, 1)}, "cannot reach past"),
        ({"by": "bert"}, "Only the chief"),
        ({"secret": "guess"}, "Wrong password"),
        ({"endorsed_by": "amelia"}, "gave the training"),
        ({"limits": 13}, "demonstrated in 12 kt"),
    ],
)
def test_what_a_release_refuses(cast: Cast, change: dict, sentence: str) -> None:
    if "by" in change or "endorsed_by" in change:
        change = {key: getattr(cast, value) for key, value in change.items()}
    if "limits" in change:
        change = {"limits": make_limits(cast, change["limits"])}
    with pytest.raises(Refusal, match=sentence):
        sign_release(cast, **change)
    assert not Release.objects.exists()


@pytest.mark.usefixtures("ready")
def test_a_release_reaches_the_90th_day_after_training_and_not_the_91st(cast: Cast) -> None:
    """14 CFR 61.87(n), (p)(4): after the earlier of last training and endorsement."""
    endorsed, last = cast.today - timedelta(days=50), cast.today - timedelta(days=2)
    with pytest.raises(Refusal, match=r"endorsed this student .* cannot reach past"):
        sign_release(cast, valid_until=endorsed + timedelta(days=91))
    endorsements.endorse_for_solo(
        enrolment=cast.enrolment, text="Trained.", on=cast.today, secret=SECRET, by=cast.bert, at=cast.at(14),
        limitations="Runway 18 only.",
    )  # fmt: skip
    with pytest.raises(Refusal, match=r"last gave training .* cannot reach past"):
        sign_release(cast, valid_until=last + timedelta(days=91))
    assert sign_release(cast, valid_until=last + timedelta(days=90))


@pytest.mark.usefixtures("ready")
def test_a_release_reaches_the_90th_day_after_the_endorsement(cast: Cast) -> None:
    """14 CFR 61.87(p)(4)."""
    assert sign_release(cast, valid_until=cast.today + timedelta(days=40))  # endorsed 50 days ago


@pytest.mark.usefixtures("ready")
def test_limitations_and_the_items_given_are_shown_beside_the_decision(cast: Cast, client: Client) -> None:
    """14 CFR 61.89(a)(8), 61.195(d)(1)."""
    client.force_login(cast.bert)
    sent = {"on": str(cast.today), "text": "Trained.", "limitations": "Runway 18 only.", "secret": SECRET}
    assert client.post(f"/students/{cast.enrolment.uid}/solo-endorsement/", sent).status_code == 302
    client.force_login(cast.amelia)
    text = client.get(f"/students/{cast.enrolment.uid}/").text
    assert text.count("Limitations: Runway 18 only.") == 2
    # Under both endorsements, and in the decision under the newer one.
    assert text.count("gave 15 of the 15 items of") == 3


def test_facts_from_the_database_survive_their_json_form(cast: Cast) -> None:
    fly_lesson(cast, 2)
    facts = facts_for(cast.enrolment, cast.today)
    assert facts_from_json(facts_to_json(facts)) == facts


def test_an_unsigned_lesson_counts_for_nothing(cast: Cast) -> None:
    lesson = begin_lesson(cast)
    record_circuit(cast, lesson, 1)
    assert facts_for(cast.enrolment, cast.today).lessons == ()


def test_a_verdict_of_a_past_day_stays_when_a_lesson_is_corrected(cast: Cast) -> None:
    lesson = fly_lesson(cast, 2, days_ago=5)
    before = decisions.derive_verdict(cast.enrolment, cast.today - timedelta(days=3))
    version = corrections.begin_correction(lesson=lesson, reason="wrong", by=cast.bert, at=cast.at())
    record_entries(cast, version, **{"circuit.2.landing.level": "explain"})
    sign_lesson(cast, version)
    assert decisions.derive_verdict(cast.enrolment, cast.today - timedelta(days=3)) == before
    assert decisions.derive_verdict(cast.enrolment, cast.today) != before


@pytest.mark.usefixtures("ready")
@pytest.mark.parametrize(("paper", "size"), [("A4", (595, 842)), ("Letter", (612, 792))])
def test_the_printed_sheet_says_what_an_inspector_looks_for(cast: Cast, paper: str, size: tuple[int, int]) -> None:
    """14 CFR 141.101(a): enrolment date; log of attendance, subjects, flight operations, grades."""
    sign_release(cast)
    made = sheets.print_progress_sheet(
        enrolment=cast.enrolment, on=cast.today, paper=paper, by=cast.frida, at=cast.at(17)
    )
    read = PdfReader(BytesIO(bytes(made.pdf)))
    assert tuple(round(float(v)) for v in read.pages[0].mediabox[2:]) == size
    said = " ".join(" ".join(page.extract_text() for page in read.pages).split())
    for expected in (
        "School of the Tests", "Dora Example, T-4", "Bert Example", "certificate C-1", "C-2",
        "All 21 requirements are met since", "9 of the last 10 landings to standard:", "Release for solo",
        "crosswind up to 5 kt", "Circuits to standard", "I judge this student fit", "Not a substitute for",
        "No figure on this sheet is a permission to fly",
    ):  # fmt: skip
        assert expected in said, expected
    assert content_fingerprint(made.content)[:4] in said
    fonts = {font for page in read.pages for font in _fonts(page)}
    assert any("Atkinson" in name for name, embedded in fonts)
    assert all(embedded for _, embedded in fonts)


def _fonts(page: Any) -> set[tuple[str, bool]]:
    found = set()
    for font in page["/Resources"]["/Font"].values():
        child = font.get_object()["/DescendantFonts"][0].get_object()
        descriptor = child["/FontDescriptor"].get_object()
        found.add((str(child["/BaseFont"]), any(key.startswith("/FontFile") for key in descriptor)))
    return found


def test_a_practice_square_is_printed_part_filled(cast: Cast) -> None:
    fly_lesson(cast, level="practice")
    made = sheets.print_progress_sheet(enrolment=cast.enrolment, on=cast.today, paper="A4", by=cast.frida, at=cast.at())
    html = pdf.render_sheet_html("print/progress_sheet.html", made.content, "0" * 64, "A4")
    assert "var(--" not in html
    rows = BeautifulSoup(html, "html.parser").select(".grades .line svg")
    filled = [box for row in rows for box in row.find_all("path", fill="currentColor")]
    assert len(filled) == 4  # takeoff, downwind, approach, landing
    for box in filled:  # three fifths of ink of a square of 6 points, from below
        up = re.search(r"v-?([0-9.]+)", box["d"], re.IGNORECASE)
        assert up, box["d"]
        assert 0.5 < float(up[1]) / 6 < 0.7


def test_a_text_that_looks_like_a_colour_of_a_drawing_is_printed_as_written(cast: Cast) -> None:
    fly_lesson(cast, level="practice")
    made = sheets.print_progress_sheet(enrolment=cast.enrolment, on=cast.today, paper="A4", by=cast.frida, at=cast.at())
    name = 'Dora var(--accent) fill="var(--paper)" stroke="var(--hair)'
    content = made.content | {"student": made.content["student"] | {"name": name}}
    html = pdf.render_sheet_html("print/progress_sheet.html", content, "0" * 64, "A4")
    page = BeautifulSoup(html, "html.parser")
    assert name in page.get_text()
    assert not [row for row in page.select("svg *") if "var(" in row.get("fill", "") + row.get("stroke", "")]


def test_a_stored_sheet_is_served_as_the_same_bytes(cast: Cast, client: Client) -> None:
    fly_lesson(cast)
    client.force_login(cast.frida)
    reply = client.post(f"/records/{cast.enrolment.uid}/sheets/", {"kind": "progress", "paper": "A4"}, follow=True)
    again = client.get(reply.request["PATH_INFO"])
    assert again.content == reply.content
    assert again.content.startswith(b"%PDF")


def test_the_chief_decides_on_the_page(cast: Cast, client: Client) -> None:
    make_ready(cast, but="second_instructor")
    client.force_login(cast.amelia)
    page = f"/students/{cast.enrolment.uid}/"
    assert "Not ready for first solo yet: 1 of 21 requirements is open." in client.get(page).text
    sent = {
        "kind": "day", "aerodrome": cast.runway.aerodrome_id,
        "runways": "18", "max_wind_kt": 10, "max_crosswind_kt": 5, "min_visibility_sm": 5, "min_ceiling_ft": 2000,
        "endorsed_by": cast.bert.pk, "valid_from": cast.today, "valid_until": cast.today + timedelta(days=20),
        "reason": "", "secret": SECRET,
    }  # fmt: skip
    refused = client.post(page + "release/", sent)
    assert refused.status_code == 422
    assert "write the reason" in refused.text
    assert client.post(page + "release/", sent | {"reason": "Flown with me"}).status_code == 302
    assert "Released for solo until" in client.get(page).text
    assert client.post(page + "release/", sent | {"min_visibility_sm": 2}).status_code == 422
