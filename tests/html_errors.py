"""Say what is wrong in a page by the HTML standard: syntax, nesting, references, names, attributes.

Source: HTML Living Standard (WHATWG) for syntax (13.2; parse errors as tinyhtml5 finds them), content models (3.2.5)
and labels (4.10.4); HTML Media Capture (W3C) for the attribute of that name; WAI-ARIA in HTML for names on elements
without a role. The lists below are from memory.
"""

import re
from collections import Counter
from collections.abc import Callable, Iterator
from xml.etree.ElementTree import Element

from tinyhtml5.parser import HTMLParser

PHRASING_ONLY = {
    "abbr", "b", "button", "cite", "code", "em", "h1", "h2", "h3", "h4", "h5", "h6", "i", "kbd", "label", "output", "p",
    "small", "span", "strong", "summary", "time",
}  # fmt: skip
FLOW = {
    "address", "article", "aside", "blockquote", "details", "dialog", "div", "dl", "fieldset", "figure", "footer",
    "form", "h1", "h2", "h3", "h4", "h5", "h6", "header", "hr", "main", "nav", "ol", "p", "pre", "section", "table",
    "ul",
}  # fmt: skip
CHILDREN = {
    "ul": {"li", "script", "template"},
    "ol": {"li", "script", "template"},
    "dl": {"dt", "dd", "div", "script", "template"},
    "tr": {"td", "th", "script", "template"},
    "select": {"option", "optgroup", "hr"},
}
HEADINGS = ("h1", "h2", "h3", "h4", "h5", "h6")
LABELLED = {"button", "input", "meter", "output", "progress", "select", "textarea"}
NO_ROLE = {"abbr", "b", "code", "div", "em", "i", "kbd", "label", "p", "small", "span", "strong"}
ID_LISTS = ("aria-labelledby", "aria-describedby", "aria-controls", "aria-owns", "aria-details", "headers")
GLOBAL = {
    "id", "class", "title", "lang", "dir", "hidden", "tabindex", "accesskey", "role", "inert", "translate", "autofocus",
    "inputmode", "enterkeyhint", "spellcheck", "autocapitalize", "nonce", "xmlns",
}  # fmt: skip
FIELD = {"name", "disabled", "form", "required", "autocomplete", "readonly"}
LENGTHS = {"maxlength", "minlength", "placeholder"}
ATTRIBUTES = {
    "a": {"href", "rel", "download", "target", "hreflang", "type"},
    "button": {"name", "value", "type", "disabled", "form", "formaction", "formmethod", "formnovalidate"},
    "details": {"open", "name"},
    "dialog": {"open"},
    "fieldset": {"disabled", "form", "name"},
    "form": {"method", "action", "enctype", "novalidate", "autocomplete", "name", "target"},
    "img": {"src", "alt", "width", "height", "loading", "decoding"},
    "input": FIELD | LENGTHS | {
        "type", "value", "checked", "min", "max", "step", "pattern", "accept", "capture", "multiple", "list", "size",
    },
    "label": {"for"},
    "li": {"value"},
    "link": {"rel", "href", "type", "media", "sizes", "as", "crossorigin"},
    "meta": {"name", "content", "charset", "http-equiv", "media"},
    "ol": {"start", "reversed", "type"},
    "option": {"value", "selected", "disabled", "label"},
    "optgroup": {"label", "disabled"},
    "output": {"for", "form", "name"},
    "progress": {"value", "max"},
    "script": {"src", "type", "defer", "async", "crossorigin", "integrity"},
    "select": FIELD | {"multiple", "size"},
    "td": {"colspan", "rowspan", "headers"},
    "textarea": FIELD | LENGTHS | {"rows", "cols", "wrap"},
    "th": {"colspan", "rowspan", "headers", "scope", "abbr"},
    "col": {"span"},
    "colgroup": {"span"},
    "time": {"datetime"},
}  # fmt: skip
# By type of input what has no meaning for it.
NOT_FOR_TYPE = {
    "number": {"maxlength", "minlength", "pattern", "size"},
    "date": {"maxlength", "minlength", "pattern", "placeholder", "size"},
    "checkbox": LENGTHS | {"readonly", "pattern", "min", "max", "step", "size"},
    "radio": LENGTHS | {"readonly", "pattern", "min", "max", "step", "size"},
    "hidden": LENGTHS | {"required", "readonly", "pattern", "min", "max", "step", "size"},
    "file": LENGTHS | {"readonly", "pattern", "min", "max", "step", "size"},
}

Rule = Callable[["Page"], Iterator[str]]


class Page:
    """Hold a parsed page: its elements in order, each with those that it lies in, the outermost first."""

    def __init__(self, html: str) -> None:
        parser = HTMLParser(namespace_html_elements=False)
        self.root: Element = parser.parse(html)
        self.syntax = [f"{code} {data or ''} at {position}".strip() for position, code, data in parser.errors]
        self.elements: list[tuple[Element, tuple[Element, ...]]] = []
        self._walk(self.root, ())
        self.ids = Counter(element.get("id") for element, _ in self.elements if element.get("id") is not None)

    def _walk(self, element: Element, above: tuple[Element, ...]) -> None:
        if isinstance(element.tag, str):
            element.tag = element.tag.rpartition("}")[2]  # of SVG the name without its namespace
            self.elements.append((element, above))
            for child in element:
                self._walk(child, (*above, element))

    def of(self, *tags: str) -> Iterator[Element]:
        return (element for element, above in self.elements if element.tag in tags and not lies_in(above, "svg"))


def lies_in(above: tuple[Element, ...], tag: str) -> bool:
    return any(element.tag == tag for element in above)


def text_of(element: Element) -> str:
    """Return what is read aloud: the text, and what pictures in it are called."""
    named = [child.get("aria-label") or child.get("alt") or "" for child in element.iter() if child is not element]
    return " ".join(" ".join([*element.itertext(), *named]).split())


def show(element: Element) -> str:
    shown = " ".join(f'{name}="{element.get(name)}"' for name in ("id", "name", "class", "href") if element.get(name))
    return f"<{element.tag} {shown}>".replace(" >", ">")


def syntax(page: Page) -> Iterator[str]:
    yield from page.syntax


def nesting(page: Page) -> Iterator[str]:
    for element, above in page.elements:
        tags = [row.tag for row in above]
        if lies_in(above, "svg"):
            continue
        inside = next((tag for tag in reversed(tags) if tag not in ("a", "ins", "del")), "")
        heading_in_summary = inside == "summary" and element.tag in HEADINGS
        if element.tag in FLOW and inside in PHRASING_ONLY and not heading_in_summary:
            yield f"{show(element)} lies in <{inside}>"
        if tags and tags[-1] in CHILDREN and element.tag not in CHILDREN[tags[-1]]:
            yield f"{show(element)} is no child of <{tags[-1]}>"
        pressed = element.tag in ("button", "select", "textarea", "label", "details") or (
            (element.tag == "a" and element.get("href") is not None)
            or (element.tag == "input" and element.get("type") != "hidden")
        )
        if pressed and {"a", "button"} & set(tags):
            yield f"{show(element)} lies in another control"
        if element.tag == "label" and "label" in tags:
            yield f"{show(element)} lies in a label"
        if element.tag == "details" and (len(element) == 0 or element[0].tag != "summary"):
            yield f"{show(element)} does not begin with its summary"


def references(page: Page) -> Iterator[str]:
    yield from (f"the id {name!r} is given {count} times" for name, count in page.ids.items() if count > 1)
    yield from (f"the id {name!r} has a space or nothing" for name in page.ids if not re.fullmatch(r"\S+", name or ""))
    for element, _ in page.elements:
        named = [name for attribute in ID_LISTS for name in (element.get(attribute) or "").split()]
        named += [element.get("list") or "", element.get("form") or ""]
        href = element.get("href") or ""
        named += [href[1:]] if re.fullmatch(r"#[^#]+", href) and element.tag == "a" else []
        yield from (
            f"{show(element)} names {name!r}, which is not there" for name in named if name not in ("", *page.ids)
        )


def labels(page: Page) -> Iterator[str]:
    fields = {element.get("id"): element for element in page.of(*LABELLED) if element.get("type") != "hidden"}
    labelled = set()
    for label in page.of("label"):
        within = [child for child in label.iter() if child.tag in LABELLED and child.get("type") != "hidden"]
        target = label.get("for")
        if target is not None and target not in fields:
            yield f"{show(label)} is for {target!r}, which is no field here"
        if target is None and len(within) != 1:
            yield f"{show(label)} has {len(within)} fields"
        if target is not None and within and within != [fields.get(target)]:
            yield f"{show(label)} holds another field than {target!r}"
        labelled |= {id(fields.get(target))} if target is not None else {id(field) for field in within}
    for field in page.of("input", "select", "textarea"):
        silent = field.get("type") in ("hidden", "submit", "button")
        if not silent and id(field) not in labelled and not (field.get("aria-label") or field.get("aria-labelledby")):
            yield f"{show(field)} has no label"


def names(page: Page) -> Iterator[str]:
    for element, above in page.elements:
        named = element.get("aria-label") or element.get("aria-labelledby")
        if lies_in(above, "svg"):
            continue
        if element.tag in ("button", "summary", "title", *HEADINGS) and not (named or text_of(element)):
            yield f"{show(element)} says nothing"
        if element.tag == "a" and element.get("href") is not None and not (named or text_of(element)):
            yield f"{show(element)} says nothing"
        if element.tag in NO_ROLE and named and not element.get("role"):
            yield f"{show(element)} has a name and no role"
        if element.tag == "img" and element.get("alt") is None:
            yield f"{show(element)} has no alt"
        if element.get("role") == "img" and not named and not any("aria-hidden" in row.attrib for row in above):
            yield f"{show(element)} is a picture without a name"


def headings(page: Page) -> Iterator[str]:
    levels = [int(str(element.tag)[1]) for element in page.of(*HEADINGS)]
    if levels.count(1) != 1:
        yield f"{levels.count(1)} headings of level 1"
    yield from (
        f"a heading of level {now} follows one of level {before}"
        for before, now in zip([0, *levels], levels, strict=False)
        if now > before + 1
    )
    if sum(element.get("hidden") is None for element in page.of("main")) != 1:
        yield "not one main"


def attributes(page: Page) -> Iterator[str]:
    for element, above in page.elements:
        tag = str(element.tag)
        if tag == "svg" or lies_in(above, "svg"):
            continue
        known = GLOBAL | ATTRIBUTES.get(tag, set())
        for name in element.attrib:
            if name not in known and not name.startswith(("data-", "aria-", "hx-", "on")):
                yield f"{show(element)} has the attribute {name}"
        for name in NOT_FOR_TYPE.get(element.get("type") or "", set()) & set(element.attrib) if tag == "input" else ():
            yield f"{show(element)} of type {element.get('type')} has {name}"
        if tag == "select" and element.get("required") is not None and element.get("multiple") is None:
            first = next((child for child in element if child.tag == "option"), None)
            if first is None or first.get("value") != "":
                yield f"{show(element)} is required and has no empty first option"


def tables(page: Page) -> Iterator[str]:
    for table in page.of("table"):
        rows = [row for row in table.iter("tr")]
        open_spans: list[int] = []
        widths = []
        for row in rows:
            spans = [(int(cell.get("colspan") or 1), int(cell.get("rowspan") or 1)) for cell in row]
            widths.append(sum(columns for columns, _ in spans) + len(open_spans))
            open_spans = [left - 1 for left in open_spans if left > 1]
            open_spans += [rows_ - 1 for columns, rows_ in spans for _ in range(columns) if rows_ > 1]
        if len(set(widths)) > 1:
            yield f"{show(table)} has rows of {sorted(set(widths))} cells"
        for head in table.iter("th"):
            if head.get("scope") is None and not _is_column_head(table, head):
                yield f"{show(head)} {text_of(head)!r} heads a row and does not say so"


def _is_column_head(table: Element, head: Element) -> bool:
    """Return whether a header cell without a scope lies in a row of nothing else: then it heads its column."""
    return any(head in row and all(cell.tag == "th" for cell in row) for row in table.iter("tr"))


RULES: tuple[Rule, ...] = (syntax, nesting, references, labels, names, headings, attributes, tables)


def html_errors(html: str) -> list[str]:
    """Return what is wrong in a whole page, a sentence each; nothing where it is valid."""
    page = Page(html)
    return [f"{rule.__name__}: {words}" for rule in RULES for words in rule(page)]
