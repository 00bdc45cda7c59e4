"""Apply an answer to a page as the browser does, by htmx or by taps.js, for comparing with the page loaded again."""

from collections.abc import Iterable

from django.http import HttpResponse
from lxml import html
from lxml.html import HtmlElement

OUT_OF_BAND = "hx-swap-oob"


def parse_page(text: str) -> HtmlElement:
    """Return the root of a page. lxml, because hundreds of lesson pages of 3,000 elements are read and compared."""
    return html.document_fromstring(text)


def apply_swap(page_html: str, response: HttpResponse, target_id: str | None, swap: str = "outerHTML") -> HtmlElement:
    """Apply an answer to a page: pieces out of band first, then what is left to the target.

    Only what this project uses: outerHTML, innerHTML, and hx-swap-oob="true". A piece or a target that
    the page does not have fails, as it would be lost in the browser without a word. `target_id` is None
    where the answer has pieces only.
    """
    page = parse_page(page_html)
    answer = html.fragment_fromstring(response.text, create_parent="div")
    for piece in answer.xpath(f"//*[@{OUT_OF_BAND}]"):
        assert piece.attrib.pop(OUT_OF_BAND) == "true", "a swap this helper does not know"
        _replace(_element(page, piece.get("id")), piece)
    if target_id is None:
        _assert_all_taken(answer)
        return page
    target = _element(page, target_id)
    if swap == "innerHTML":
        _fill(target, answer)
    else:
        assert swap == "outerHTML", f"a swap this helper does not know: {swap}"
        (only,) = answer
        _replace(target, only)
    return page


def apply_tap(page: HtmlElement, field: str, value: str) -> None:
    """Put a value into its input, as the finger has done before any answer comes."""
    for element in page.xpath("//*[@name=$field]", field=field):
        if element.tag == "textarea":
            element.text = value
        elif element.tag == "select":
            for option in element.iter("option"):
                _set_flag(option, "selected", option.get("value") == value)
        elif element.get("type") in ("radio", "checkbox"):
            _set_flag(element, "checked", element.get("value") == value)
        elif element.tag == "button" and "aria-pressed" in element.attrib:
            element.set("aria-pressed", str(element.get("value") == value).lower())
        elif element.tag == "input" and element.get("type") != "hidden":
            element.set("value", value)


def turn_pad(page: HtmlElement, number: int) -> None:
    """Turn the pad to a circuit in which nothing is noted, as turnTo() in padview.js does; its chips of kinds stay."""
    pad = _element(page, "now")
    old = pad.get("data-number")
    pad.set("data-number", str(number))
    for element in pad.iter(html.etree.Element):
        for name in ("name", "id", "for", "data-for"):
            if name in element.attrib:
                renamed = element.get(name).replace(f"circuit.{old}.", f"circuit.{number}.")
                element.set(name, renamed.replace(f"circuit-{old}-", f"circuit-{number}-"))
        if element.tag == "input" and element.get("type") in ("radio", "checkbox"):
            _set_flag(element, "checked", "checked" in element.attrib and "landing_kind" in element.get("name"))
        elif element.tag == "input" and element.get("name") == "circuit":
            element.set("value", str(number))
        elif element.tag == "input" and element.get("type") != "hidden":
            element.set("value", "")
        elif element.tag == "button" and "name" in element.attrib and element.get("aria-pressed") == "true":
            element.set("aria-pressed", str(".ending" in element.get("name")).lower())
        elif "said" in element.classes:
            _fill(element, html.Element("div"))


def _set_flag(element: HtmlElement, name: str, on: bool) -> None:
    if on:
        element.set(name, name)  # as it is read
    else:
        element.attrib.pop(name, None)


def apply_batch_pieces(page: HtmlElement, answer_html: str) -> set[str]:
    """Apply the pieces of a batch answer as `swap` in taps.js does and return their ids.

    A piece goes to the element with its id, and all of the work comes last. A live region stays the same element and
    takes over class and content. A piece that the page does not have fails here; the script would drop it in silence.
    """
    answer = html.fragment_fromstring(answer_html, create_parent="div")
    work, ids = answer.xpath("//*[@id='work']"), set()
    for piece in answer.xpath(f"//*[@{OUT_OF_BAND}]"):
        del piece.attrib[OUT_OF_BAND]
        ids.add(piece.get("id"))
        old = _element(page, piece.get("id"))
        if old.get("role") == "status":
            old.attrib.pop("class", None)
            if "class" in piece.attrib:
                old.set("class", piece.get("class"))
            piece.drop_tree()
            _fill(old, piece)
        else:
            _replace(old, piece)
    for whole in work:
        ids.add("work")
        _replace(_element(page, "work"), whole)
    _assert_all_taken(answer)
    return ids


def _assert_all_taken(answer: HtmlElement) -> None:
    left = answer.text_content().strip()
    assert not left, f"nothing takes this: {left[:80]}"


def _element(page: HtmlElement, name: str) -> HtmlElement:
    named = page.xpath("descendant-or-self::*[@id=$name]", name=name)
    assert len(named) == 1, f"the page has {len(named)} elements with the id {name}"
    return named[0]


def _replace(old: HtmlElement, new: HtmlElement) -> None:
    """Put one element, taken from where it is, into the place of another. The text behind either stays there."""
    if new.getparent() is not None:
        new.drop_tree()
    new.tail = old.tail
    old.getparent().replace(old, new)


def _fill(element: HtmlElement, source: HtmlElement) -> None:
    """Give an element the content of another one instead of its own."""
    element[:] = list(source)
    element.text = source.text


def comparable_lines(page: HtmlElement, part: str = "main", without: Iterable[str] = ()) -> list[str]:
    """A part of the page in lines, without what differs between any two loads: secrets of forms, white space."""
    apart = _element(page, part)
    secrets = apart.xpath(".//input[@name='csrfmiddlewaretoken']")
    lines: list[str] = []
    _add_lines(apart, {*secrets, *(_element(apart, name) for name in without)}, lines)
    return lines


def _add_lines(element: HtmlElement, without: set[HtmlElement], lines: list[str]) -> None:
    lines.append("".join((f"<{element.tag}", *(f" {name}={value!r}" for name, value in sorted(element.items())), ">")))
    _add_text(element.text, lines)
    for child in element:
        if child not in without and isinstance(child.tag, str):  # no comment
            _add_lines(child, without, lines)
        _add_text(child.tail, lines)
    lines.append(f"</{element.tag}>")


def _add_text(text: str | None, lines: list[str]) -> None:
    if text and (words := text.split()):
        before, behind = (" " if edge.isspace() else "" for edge in (text[0], text[-1]))
        lines.append(f"{before}{' '.join(words)}{behind}")
