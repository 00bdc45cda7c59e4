"""Define what the reader of PDF files (grading.sheets.pades) reports; its caller does not load that library."""

from dataclasses import dataclass


@dataclass(frozen=True)
class PdfInspection:
    """What a file says about itself; none of it is trusted yet.

    `certificate` is that of the (last) signature, its SHA-256 in hex, `signer` the name in it. `holds`: the bytes
    under the signature are those that were signed. `covers_all`: nothing was appended after it. `record`: the text
    of the attached record.
    """

    readable: bool
    is_signed: bool = False
    holds: bool = False
    covers_all: bool = False
    certificate: str = ""
    signer: str = ""
    record: str | None = None
