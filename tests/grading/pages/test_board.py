"""The board: who must act stands first, the counts are filters, fifty rows a page by a fixed number of queries."""

import gzip
import re
from datetime import timedelta

import pytest
from bs4 import BeautifulSoup
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from grading.models import StoredVerdict
from grading.reading import verdict_cache
from grading.reading.next_act import NextAct
from lessons.models import Enrolment
from tests.cast import Cast
from tests.factories import add_students, begin_lesson, fly_lesson
from tests.ready_student import make_ready, sign_release

LARGEST_PAGE = 300_000  # bytes, as sent without compression


def names(page: str) -> list[str]:
    return [link.get_text(strip=True) for link in BeautifulSoup(page, "html.parser").select(".bt a.who")]


def counts(page: str) -> dict[str, int]:
    keys = BeautifulSoup(page, "html.parser").select(".filters a")
    return {key.select_one(".wide").get_text(): int(key.select_one(".f-count").get_text()) for key in keys}  # type: ignore[union-attr]


@pytest.mark.parametrize("students", [12, 80, 500])
def test_a_board_of_any_size_is_fifty_rows_by_the_same_queries(cast: Cast, client: Client, students: int) -> None:
    add_students(cast, students - 2)
    client.force_login(cast.amelia)
    client.get("/students/")  # derives what is missing
    with CaptureQueriesContext(
        connection,
    ) as asked:
        reply = client.get("/students/")
    assert len(asked) == 14, "\n".join(query["sql"][:200] for query in asked.captured_queries)
    assert counts(reply.text)["All students"] == students
    assert len(names(reply.text)) == min(students, 50)
    assert len(reply.content) < LARGEST_PAGE
    assert len(gzip.compress(reply.content)) < LARGEST_PAGE / 10
    pages = -(-students // 50)
    seen = {name for page in range(1, pages + 1) for name in names(client.get(f"/students/?page={page}").text)}
    assert len(seen) == students


def test_the_three_closest_of_five_hundred_are_the_first_of_one_filter(cast: Cast, client: Client) -> None:
    """Two actions: the board is opened, “Close” is chosen."""
    add_students(cast, 498)
    client.force_login(cast.amelia)
    client.get("/students/")
    chosen = list(StoredVerdict.objects.select_related("enrolment__student").order_by("-pk")[:5])
    for place, stored in enumerate(chosen):
        stored.row |= {
            "act": int(NextAct.CLOSE),
            "to_go": 5 - place,
            "gap": f"Landing 8 of 10: at least {5 - place} more",
        }
        stored.save(update_fields=["row"])
    board = BeautifulSoup(client.get("/students/").content, "html.parser")
    close = next(link for link in board.select(".filters a") if "Close" in link.get_text())
    assert close.select_one(".f-count").get_text() == "5"  # type: ignore[union-attr]
    page = client.get(str(close["href"])).text
    assert names(page)[:3] == [stored.enrolment.student.name for stored in chosen[::-1]][:3]
    assert 'aria-current="true"' in page


def test_who_must_act_stands_first_and_each_filter_counts_its_own(cast: Cast, client: Client) -> None:
    make_ready(cast)
    begin_lesson(cast, days_ago=2, enrolment=cast.other_enrolment)
    client.force_login(cast.amelia)
    page = client.get("/students/").text
    assert "2 students in training" in page
    assert "1 awaits your" in re.sub(r"\s+", " ", page)
    assert names(page) == ["Dora Example", "Emil Example"]
    assert counts(page) == {
        "All students": 2, "Awaiting decision": 1, "Close": 0, "Stuck": 0, "Slipped": 0, "Documents": 0,
        "Unsigned": 1, "Release expiring": 0, "Released": 0,
    }  # fmt: skip
    assert names(client.get("/students/?show=decision").text) == ["Dora Example"]
    assert names(client.get("/students/?show=unsigned").text) == ["Emil Example"]
    assert "No student matches" in client.get("/students/?show=stuck").text


def test_a_withdrawn_release_comes_first_with_its_reason(cast: Cast, client: Client) -> None:
    make_ready(cast)
    release = sign_release(cast)
    client.force_login(cast.amelia)
    assert "Released for solo" in client.get("/students/?show=released").text
    client.post(f"/releases/{release.uid}/withdraw/", {"reason": "two bounces solo"})
    page = client.get("/students/").text
    row = BeautifulSoup(page, "html.parser").select_one("tr.chief-acts")
    assert row is not None
    assert "Release withdrawn" in row.get_text()
    assert "two bounces solo" in row.get_text()
    assert names(page)[0] == "Dora Example"


def test_the_gap_is_the_fewest_good_attempts_and_marked_in_its_part(cast: Cast, client: Client) -> None:
    fly_lesson(cast, circuits=3, days_ago=1)
    client.force_login(cast.amelia)
    page = BeautifulSoup(client.get("/students/?q=dora").content, "html.parser")
    row = page.select_one(".bt tbody tr")
    assert row is not None
    # Three good ones: seven more fill the ten, none of them may be missed twice.
    assert "Takeoff 3 of 3: at least 7 more" in row.get_text()
    assert [len(cell.select("svg")) for cell in row.select(".bt-ten")] == [1, 1, 1, 1]
    assert len(row.select(".ten.next")) == 1


def test_the_board_narrows_by_instructor_and_keeps_the_filter(cast: Cast, client: Client) -> None:
    Enrolment.objects.filter(pk=cast.other_enrolment.pk).update(instructor=cast.amelia)
    client.force_login(cast.amelia)
    page = client.get(f"/students/?instructor={cast.amelia.pk}")
    assert names(page.text) == ["Emil Example"]
    assert f"show=close&amp;instructor={cast.amelia.pk}" in page.text
    assert names(client.get("/students/?instructor=x&unit=y&aircraft=z").text) == ["Dora Example", "Emil Example"]


def test_a_stored_row_of_yesterday_is_derived_before_it_is_counted(cast: Cast) -> None:
    verdict_cache.derive_and_store([cast.enrolment], cast.today - timedelta(days=1))
    verdict_cache.derive_missing(Enrolment.objects.active(cast.today), cast.today)
    assert set(StoredVerdict.objects.values_list("on", flat=True)) == {cast.today}


def test_a_view_of_ones_own_is_saved_on_the_account_and_rows_are_chosen(cast: Cast, client: Client) -> None:
    client.force_login(cast.amelia)
    page, save = "/students/?show=close&sort=flown", {"act": "save", "show": "close", "sort": "flown"}
    assert "Save this view" in client.get(page).text
    assert "Save this view" not in client.get("/students/").text  # the whole board needs no name
    saved = client.post("/students/view/", save | {"name": " Tired  and close ", "q": "dora"}, follow=True)
    assert saved.redirect_chain == [("/students/?show=close&q=dora&sort=flown", 302)]
    cast.amelia.refresh_from_db()
    # What was searched for is not in it: it names a student.
    assert cast.amelia.board_views == [{"name": "Tired and close", "asked": {"show": "close", "sort": "flown"}}]
    board = BeautifulSoup(client.get(page).text, "html.parser")
    assert board.select_one(".views > a[aria-current]")["href"] == "/students/?show=close&sort=flown"  # type: ignore[index]
    assert "Tired and close" in client.get("/students/").text
    for name, number in (("", 0), ("x" * 31, 0), ("whole", 0)):
        client.post("/students/view/", {"act": "save", "name": name} | ({"show": "close"} if name != "whole" else {}))
        cast.amelia.refresh_from_db()
        assert len(cast.amelia.board_views) == number + 1
    for number in range(9):
        client.post("/students/view/", save | {"name": f"View {number}"})
    cast.amelia.refresh_from_db()
    assert len(cast.amelia.board_views) == 8
    client.post("/students/view/", {"act": "remove", "name": "Tired and close"})
    kept = BeautifulSoup(client.get("/students/").text, "html.parser").select(".views > a")
    assert [link.get_text(strip=True) for link in kept] == [f"View {number}" for number in range(7)]
    assert client.post("/students/view/", {"act": "remove", "name": "None"}, follow=True).text.count("no longer there")
    client.force_login(cast.cleo)
    assert "View 1" not in client.get("/students/").text

    assert "bt roomy" not in client.get("/students/").text
    client.post("/students/view/", {"rows": "roomy"})
    assert "bt roomy" in client.get("/students/").text
    client.post("/students/view/", {"rows": "nonsense"})
    assert "bt roomy" in client.get("/students/").text


def test_a_long_reason_is_shortened_in_the_row_and_whole_in_the_csv(cast: Cast, client: Client) -> None:
    make_ready(cast)
    release = sign_release(cast)
    client.force_login(cast.amelia)
    reason = "two bounces solo and no go-around " * 20
    client.post(f"/releases/{release.uid}/withdraw/", {"reason": reason})
    row = BeautifulSoup(client.get("/students/").text, "html.parser").select_one("tr.chief-acts .bt-gap")
    assert row is not None
    assert len(row.get_text()) <= 110
    assert row.get_text().endswith(" …")
    assert reason.strip() in client.get("/students.csv?show=decision").text
