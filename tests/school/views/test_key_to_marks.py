"""The key to marks explains what the pictures of a circuit and of the wind are drawn with."""

from bs4 import BeautifulSoup
from django.test import Client

from school.marks.ground import ground_key
from school.marks.wind import wind_key
from tests.cast import Cast

EXPLAINED = (
    "Flown", "Before", "Target", "Not noted", "Touchdown", "Threshold", "Aiming point", "Obstacle", "North",
    "Wind triangle",
)  # fmt: skip


def test_each_mark_of_the_pictures_is_named_and_drawn(cast: Cast, client: Client) -> None:
    client.force_login(cast.dora)
    page = BeautifulSoup(client.get("/marks/").text, "html.parser")
    # The words beside the drawing, which may have a letter of its own.
    rows = {"".join(row.dt.find_all(string=True, recursive=False)).strip(): row for row in page.select(".legend-row")}
    for name in EXPLAINED:
        assert rows[name].dt.svg is not None, name
        assert len(rows[name].dd.text.split()) >= 3, name
    assert "outside the target" in rows["Target"].dd.text


def test_a_mark_of_the_key_is_drawn_within_its_frame() -> None:
    drawn = [ground_key(name) for name in ("obstacle", "north", "threshold", "aiming", "touchdown")] + [wind_key()]
    assert len(set(drawn)) == len(drawn)
    for svg in drawn:
        assert "nan" not in svg
        assert 'aria-hidden="true"' in svg  # a word stands beside each
