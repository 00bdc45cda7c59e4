"""Apply an answer to a page as the browser does, by htmx or by taps.js, for comparing with the page loaded again."""

import copy
import re
from collections.abc import Iterable

from bs4 import BeautifulSoup, Tag
from django.http import HttpResponse

OUT_OF_BAND = "hx-swap-oob"


def apply_swap(page_html: str, response: HttpResponse, target_id: str | None, swap: str = "outerHTML") -> BeautifulSoup:
    """Apply an answer to a page: pieces out of band first, then what is left to the target.

    Only what this project uses: outerHTML, innerHTML, and hx-swap-oob="true". A piece or a target that
    the page does not have fails, as it would be lost in the browser without a word. `target_id` is None
    where the answer has pieces only.
    """
    page = BeautifulSoup(page_html, "html.parser")
    answer = BeautifulSoup(response.content, "html.parser")
    for piece in answer.select(f"[{OUT_OF_BAND}]"):
        assert piece[OUT_OF_BAND] == "true", f"a swap this helper does not know: {piece[OUT_OF_BAND]}"
        del piece[OUT_OF_BAND]
        _element(page, str(piece["id"])).replace_with(piece.extract())
    if target_id is None:
        assert not answer.get_text().strip(), f"nothing takes this: {answer.get_text().strip()[:80]}"
        return page
    target = _element(page, target_id)
    if swap == "innerHTML":
        target.clear()
        target.extend(list(answer.contents))
    else:
        assert swap == "outerHTML", f"a swap this helper does not know: {swap}"
        target.replace_with(*list(answer.contents))
    return page


def apply_tap(page: BeautifulSoup, field: str, value: str) -> None:
    """Put a value into its input, as the finger has done before any answer comes."""
    for element in page.select(f'[name="{field}"]'):
        if element.name == "textarea":
            element.string = value
        elif element.name == "select":
            for option in element.find_all("option"):
                _set_flag(option, "selected", option["value"] == value)
        elif element.get("type") in ("radio", "checkbox"):
            _set_flag(element, "checked", element["value"] == value)
        elif element.name == "button" and "aria-pressed" in element.attrs:
            element["aria-pressed"] = str(element["value"] == value).lower()
        elif element.name == "input" and element.get("type") != "hidden":
            element["value"] = value


def turn_pad(page: BeautifulSoup, number: int) -> None:
    """Turn the pad to a circuit in which nothing is noted, as turnTo() in padview.js does; its chips of kinds stay."""
    pad = _element(page, "now")
    old, pad["data-number"] = str(pad["data-number"]), str(number)
    for element in (pad, *pad.find_all(True)):
        for name in ("name", "id", "for", "data-for"):
            if name in element.attrs:
                renamed = str(element[name]).replace(f"circuit.{old}.", f"circuit.{number}.")
                element[name] = renamed.replace(f"circuit-{old}-", f"circuit-{number}-")
        if element.name == "input" and element.get("type") in ("radio", "checkbox"):
            _set_flag(element, "checked", "checked" in element.attrs and "landing_kind" in element["name"])
        elif element.name == "input" and element["name"] == "circuit":
            element["value"] = str(number)
        elif element.name == "input" and element.get("type") != "hidden":
            element["value"] = ""
        elif element.name == "button" and "name" in element.attrs and element.get("aria-pressed") == "true":
            element["aria-pressed"] = str(".ending" in element["name"]).lower()
        elif "said" in (element.get("class") or ""):
            element.clear()


def _set_flag(element: Tag, name: str, on: bool) -> None:
    if on:
        element[name] = ""
    else:
        element.attrs.pop(name, None)


def apply_batch_pieces(page: BeautifulSoup, html: str) -> set[str]:
    """Apply the pieces of a batch answer as `swap` in taps.js does and return their ids.

    A piece goes to the element with its id, and all of the work comes last. A live region stays the same element and
    takes over class and content. A piece that the page does not have fails here; the script would drop it in silence.
    """
    answer = BeautifulSoup(html, "html.parser")
    work, ids = answer.find(id="work"), set()
    for piece in answer.select(f"[{OUT_OF_BAND}]"):
        del piece[OUT_OF_BAND]
        ids.add(str(piece["id"]))
        old = _element(page, str(piece["id"]))
        piece.extract()
        if old.get("role") == "status":
            old.attrs.pop("class", None)
            if "class" in piece.attrs:
                old.attrs["class"] = piece.attrs["class"]
            old.clear()
            old.extend(list(piece.contents))
        else:
            old.replace_with(piece)
    if isinstance(work, Tag):
        ids.add("work")
        _element(page, "work").replace_with(work.extract())
    left = answer.get_text().strip()
    assert not left, f"nothing takes this: {left[:80]}"
    return ids


def _element(page: Tag, name: str) -> Tag:
    found = page.find_all(id=name)
    assert len(found) == 1, f"the page has {len(found)} elements with the id {name}"
    element = found[0]
    assert isinstance(element, Tag)
    return element


def comparable_lines(page: BeautifulSoup, part: str = "main", without: Iterable[str] = ()) -> list[str]:
    """A part of the page in lines, without what differs between any two loads: secrets of forms, white space."""
    apart = copy.copy(_element(page, part))
    for field in apart.select("input[name=csrfmiddlewaretoken]"):
        field.decompose()
    for name in without:
        _element(apart, name).decompose()
    text = re.sub(r"\s+", " ", apart.decode())
    return [line.strip() for line in re.sub(r"> ?<", ">\n<", text).split("\n")]
