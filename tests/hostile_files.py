"""Files that make the libraries that read them work for long or fill the memory, as a stranger may send them."""

import io
import zipfile

import openpyxl

SHEET = "xl/worksheets/sheet1.xml"


def pdf_of(names: bytes) -> bytes:
    """A PDF of two objects with a table of their places: a catalogue, and its names, where attachments are."""
    out = io.BytesIO()
    out.write(b"%PDF-1.7\n")
    places = []
    for number, text in enumerate((b"<</Type/Catalog/Names 2 0 R>>", names), start=1):
        places.append(out.tell())
        out.write(b"%d 0 obj\n" % number + text + b"\nendobj\n")
    start = out.tell()
    out.write(b"xref\n0 3\n0000000000 65535 f \n" + b"".join(b"%010d 00000 n \n" % place for place in places))
    out.write(b"trailer\n<</Size 3/Root 1 0 R>>\nstartxref\n%d\n%%%%EOF\n" % start)
    return out.getvalue()


def long_list(kilobytes: int = 4000) -> bytes:
    """A PDF with a list of names of so many kilobytes, each an object for the reader: 9 s and 650 MB without limits."""
    names = b"(a)1 " * (kilobytes * 1000 // 5)
    return pdf_of(b"<</EmbeddedFiles<</Names[" + names + b"]>>>>")


def deep_list(depth: int = 400_000) -> bytes:
    """A PDF with lists in lists."""
    return pdf_of(b"<</EmbeddedFiles<</Names" + b"[" * depth + b"]" * depth + b">>>>")


def slow_workbook(megabytes: int = 19) -> bytes:
    """A workbook of 24 kB whose one row has 19 MB of empty cells: 17 s and 1.6 GB without limits."""
    made = openpyxl.Workbook()
    made.worksheets[0].append(["Registration", "Type"])
    plain, out = io.BytesIO(), io.BytesIO()
    made.save(plain)
    cells = b"<c/>" * (megabytes * 2**20 // 4)
    sheet = (
        b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData><row r="1">'
        + cells
        + b"</row></sheetData></worksheet>"
    )
    with zipfile.ZipFile(plain) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            new.writestr(name, sheet if name == SHEET else old.read(name))
    return out.getvalue()
