"""What is typed into a field: what a form expects, and what it does not, as Hypothesis strategies of bytes."""

from datetime import date
from functools import cache

from hypothesis import strategies as st

from tests.cast import SECRET
from tests.fuzz.pages import Field

Typed = st.SearchStrategy[bytes]

DAYS = ["0001-01-01", "9999-12-31", "1899-12-31", "1900-01-01", "2100-12-31", "2101-01-01", "2023-02-29", "2024-02-29",
        "2026-13-01", "10000-01-01", "-1-01-01", "29/02/2024", "0000-00-00"]  # fmt: skip
NUMBERS = ["-1", "0", "32767", "32768", "2147483648", "9223372036854775808", str(10**30), "9" * 5000, "NaN", "inf",
           "-Infinity", "1e400", "1E+5", "0.05", "1.23456789", "١٢", "1_000", "0x10", "½", "1,5", "--1"]  # fmt: skip
TEXTS = [
    "O’Brien \U0001f469\U0001f3fd\u200d\u2708\ufe0f\U0001f6e9\ufe0f", "محمد العربي", "שרה אָבִיגַיִל",
    "a\u0301\u0323\u0308" * 20, "\u202eevil\u202c", "zero\u200bwidth\u2060\ufeff", "𝔘𝔫𝔦𝔠𝔬𝔡𝔢 \U0010ffff \ue000",
    "Donau" * 60, "<script>alert(1)</script>", "{{ 7|add:1 }}{% now 'Y' %}", "'; DROP TABLE x; --",
    "%s %(name)s {0}", "\t\r\n\x0b\x0c\x1f\x7f\x85\u2028", " \u00a0\u3000 ", "../../etc/passwd", "=1+1",
    "n" * 201, "n" * 301, "n" * 5001, "ß" * 100_000, "ﷺ" * 500,
]  # fmt: skip
# Half a surrogate in UTF-8, an overlong slash, a cut sequence, Latin-1: bytes that are no UTF-8; and NUL.
BROKEN = [b"\xed\xa0\x80", b"\xc0\xaf", b"abc\xe2\x82", b"caf\xe9", b"\xff\xfe", b"a\0b"]

any_text = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=80)
hostile: Typed = st.one_of(
    st.sampled_from([text.encode() for text in (*TEXTS, *NUMBERS, *DAYS, "")]),
    st.sampled_from(BROKEN),
    any_text.map(str.encode),
)
texts: Typed = st.sampled_from([text.encode() for text in TEXTS])
numbers: Typed = st.sampled_from([text.encode() for text in NUMBERS])
dates: Typed = st.sampled_from([text.encode() for text in DAYS])


def unexpected(field: Field) -> Typed:
    """Mostly what hurts an input of this type."""
    near = {"number": numbers, "date": dates}.get(field.type, texts)
    return st.one_of(near, near, hostile)


words = st.sampled_from(["Seen by me", "Proficient.", "Zoë Ångström-Łukasz", *TEXTS[:6]])


@cache
def days(today: date) -> st.SearchStrategy[str]:
    near = st.integers(-400, 40).map(lambda days: date.fromordinal(today.toordinal() + days).isoformat())
    return st.one_of(st.just(today.isoformat()), near)


def expected(field: Field, today: date) -> Typed:
    """What fits the input as a browser shows it."""
    if field.options:
        return st.sampled_from([option.encode() for option in field.options])
    if field.type == "file":
        return files
    if field.type == "password":
        return st.sampled_from([SECRET.encode()] * 4 + [b"guess"])
    if field.type == "date":
        return days(today).map(str.encode)
    if field.type == "number":
        return st.integers(0, 60).map(lambda number: str(number).encode())
    if field.type == "hidden":
        return st.just(field.value.encode())
    typed = words.map(str.encode)
    return st.one_of(st.just(field.value.encode()), typed) if field.value else typed


TABLES = [
    "School number,Given name,Family name,Born\nT-90,Zoë,محمد,2000-02-29\n",
    "Registration,Type\nQQ-XXC,tailwheel\n",
    "School number,Date,Taught,Dual,Instructor,Where the paper is kept\nT-4,2020-03-04,Ü,0:50,Old,p. 3\n",
    "School number,Date,Taught,Dual,Instructor,Where the paper is kept\nT-4,9999-12-31,Ü,9999,Old,p. 3\n",
    '"\n', ",,,\n,,,\n", "\ufeffa;b\n1;2\n", "a," * 5000, "x\n" * 300,
]  # fmt: skip
files: Typed = st.one_of(
    st.sampled_from([text.encode() for text in TABLES]),
    st.sampled_from([b"", b"PK\x03\x04" + b"\0" * 40, b"%PDF-1.7\n%%EOF", b"\x89PNG\r\n", b"{}", b"[" * 3000]),
    st.sampled_from([b"a: &a [*a]", b"\xff\xfe\0a"]),
    st.binary(max_size=200),
)
names_of_files = st.sampled_from(
    ["table.csv", "x.xlsx", "x.zip", "محمد.csv", "a/../b.csv", "n" * 300 + ".csv", "\u202evsc.exe", ""]
)
