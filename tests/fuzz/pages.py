"""The forms a page shows, read out of its HTML, and bodies as a browser would send them."""

from collections.abc import Iterable
from dataclasses import dataclass
from urllib.parse import quote_from_bytes, urljoin

from bs4 import BeautifulSoup, Tag

BOUNDARY = "----one-part-and-the-next"
Pair = tuple[str, bytes]


@dataclass(frozen=True)
class Field:
    name: str
    type: str
    value: str = ""
    options: tuple[str, ...] = ()
    many: bool = False


@dataclass(frozen=True)
class Form:
    """`page`: where it was found; `keys`: the names and values of its buttons."""

    page: str
    action: str
    method: str
    multipart: bool
    fields: tuple[Field, ...]
    keys: tuple[tuple[str, str], ...]


def forms_of(html: str, page: str) -> list[Form]:
    soup = BeautifulSoup(html, "html.parser")
    return [_form(found, page, soup) for found in soup.find_all("form")]


def _form(form: Tag, page: str, soup: BeautifulSoup) -> Form:
    inputs = form.select("input, select, textarea")
    if form.get("id"):
        inputs += soup.select(f'input[form="{form["id"]}"], select[form="{form["id"]}"], textarea[form="{form["id"]}"]')
    fields: dict[str, Field] = {}
    for found in inputs:
        if found.get("name") and found["name"] != "csrfmiddlewaretoken" and not found.has_attr("disabled"):
            _add(fields, found)
    keys = tuple((str(key["name"]), str(key.get("value", ""))) for key in form.select("button[name]"))
    method = str(form.get("method", "get")).lower()
    multipart = form.get("enctype") == "multipart/form-data"
    action = urljoin(page, str(form.get("action") or page))
    return Form(page, action, method, multipart, tuple(fields.values()), keys)


def _add(fields: dict[str, Field], found: Tag) -> None:
    name = str(found["name"])
    if found.name == "select":
        options = tuple(str(option.get("value", option.text)) for option in found.select("option"))
        fields[name] = Field(name, "select", options=options, many=found.has_attr("multiple"))
    elif found.name == "textarea":
        fields[name] = Field(name, "textarea", found.text.removeprefix("\n"))
    elif (kind := str(found.get("type", "text"))) in ("radio", "checkbox"):
        before = fields[name].options if name in fields else ()
        fields[name] = Field(name, kind, options=(*before, str(found.get("value", "on"))), many=kind == "checkbox")
    else:
        fields[name] = Field(name, kind, str(found.get("value", "")))


def field_values(html: str) -> dict[str, set[str]]:
    """What stands in the text fields of an answer, by name."""
    found: dict[str, set[str]] = {}
    for form in forms_of(html, "/"):
        for field in form.fields:
            found.setdefault(field.name, set()).add(field.value)
    return found


def urlencoded(pairs: Iterable[Pair]) -> bytes:
    return "&".join(f"{quote_from_bytes(name.encode())}={quote_from_bytes(value)}" for name, value in pairs).encode()


def multipart(pairs: Iterable[Pair], files: Iterable[tuple[str, str, bytes]]) -> bytes:
    """`files`: name of the field, name of the file, content."""
    parts = [f'Content-Disposition: form-data; name="{name}"\r\n\r\n'.encode() + value for name, value in pairs]
    for name, file, content in files:
        head = f'Content-Disposition: form-data; name="{name}"; filename="{file}"\r\nContent-Type: text/csv\r\n\r\n'
        parts.append(head.encode() + content)
    return b"".join(f"--{BOUNDARY}\r\n".encode() + part + b"\r\n" for part in parts) + f"--{BOUNDARY}--\r\n".encode()
