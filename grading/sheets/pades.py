"""Sign a printed file, and read one back. It knows neither Django nor the database. Files of strangers are read by it
in a process of their own (school.file_reader).

A signature is PAdES baseline B-B (ETSI EN 319 142-1): an ETSI.CAdES.detached signature in an incremental update
over the whole file; with a timestamp server B-T.
"""

import urllib.request
from dataclasses import asdict, replace
from datetime import datetime
from io import BytesIO
from typing import TYPE_CHECKING, Any

from asn1crypto import keys as asn1_keys
from asn1crypto import tsp
from asn1crypto import x509 as asn1_x509
from cryptography.hazmat.primitives import serialization
from pyhanko.pdf_utils.extensions import DeveloperExtension
from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
from pyhanko.pdf_utils.misc import PdfError
from pyhanko.pdf_utils.reader import PdfFileReader
from pyhanko.sign.fields import SigFieldSpec, SigSeedSubFilter
from pyhanko.sign.signers import PdfSignatureMetadata, PdfSigner, SimpleSigner
from pyhanko.sign.signers.pdf_signer import PdfSigningSession
from pyhanko.sign.timestamps import TimeStamper
from pyhanko.sign.timestamps.common_utils import TimestampRequestError as TimestampRequestError
from pyhanko.sign.validation import ValidationContext, validate_pdf_signature
from pyhanko.sign.validation.errors import SignatureValidationError
from pyhanko.sign.validation.status import SignatureCoverageLevel
from pyhanko_certvalidator.registry import SimpleCertificateStore

from grading.sheets.pdf_inspection import PdfInspection

if TYPE_CHECKING:
    from school.signing_keys import SchoolKey

SIGNATURE_FIELD = "SchoolSignature"
RECORD_ATTACHMENT_NAME = "record.json"
# The person who prints waits for it inside a transaction that holds the lock on the number of the sheet.
TIMESTAMP_TIMEOUT_SECONDS = 10
# A reply is a few kilobytes; a server that sends without end must not fill the memory.
MAX_TIMESTAMP_BYTES = 100_000


class MetadataPreservingWriter(IncrementalPdfFileWriter):
    """Write without changing metadata and version, which are those of the printing.

    PDF/A-3 is PDF 1.7 (ISO 19005-3, 6.1.2) and its two sets of metadata must agree; pyHanko would change the date in
    one of them, and would declare PDF 2.0 with its extension for elliptic curves, which CMS in a PAdES signature does
    not need.
    """

    def _update_meta(self) -> None:
        return

    def ensure_output_version(self, version: tuple[int, int]) -> None:
        return

    def register_extension(self, ext: DeveloperExtension) -> None:
        if ext.prefix_name == "/ESIC":
            super().register_extension(ext)


class PrintTimeSigner(PdfSigner):
    """Write the time of printing as the time of signing."""

    def __init__(self, *args: Any, at: datetime, **options: Any) -> None:
        super().__init__(*args, **options)
        self.at = at

    def init_signing_session(self, *args: Any, **options: Any) -> PdfSigningSession:
        session = super().init_signing_session(*args, **options)
        # The sealed content names this moment as well: two times of signing on one sheet would contradict each other.
        session.system_time = self.at
        return session


class RefuseRedirectHandler(urllib.request.HTTPRedirectHandler):
    """Query the server of the settings alone, and no other to which it redirects."""

    def redirect_request(self, *args: Any, **options: Any) -> None:
        return None


def _opener() -> urllib.request.OpenerDirector:
    return urllib.request.build_opener(RefuseRedirectHandler)


class TimestampServer(TimeStamper):
    """Query a timestamp server: RFC 3161 over HTTP."""

    def __init__(self, url: str) -> None:
        super().__init__()
        self.url = url

    async def async_request_tsa_response(self, req: tsp.TimeStampReq) -> tsp.TimeStampResp:
        headers = {"Content-Type": "application/timestamp-query", "Accept": "application/timestamp-reply"}
        asked = urllib.request.Request(self.url, data=req.dump(), headers=headers)  # noqa: S310 - of the settings
        try:
            with _opener().open(asked, timeout=TIMESTAMP_TIMEOUT_SECONDS) as reply:
                return tsp.TimeStampResp.load(reply.read(MAX_TIMESTAMP_BYTES))
        # One error for the caller, who refuses to print: a sheet without the timestamp that the school asked for is not
        # made.
        except (OSError, ValueError) as error:
            raise TimestampRequestError(f"the timestamp server {self.url} gave no answer") from error


def sign_pdf(pdf: bytes, key: "SchoolKey", *, school: str, at: datetime, timestamp_server: str = "") -> bytes:
    """Return the file with the school's signature appended; raise TimestampRequestError when that server fails."""
    meta = PdfSignatureMetadata(
        field_name=SIGNATURE_FIELD,
        md_algorithm="sha256",
        subfilter=SigSeedSubFilter.PADES,
        name=school,
        reason="This is the sheet as the school sealed it.",
    )
    server = TimestampServer(timestamp_server) if timestamp_server else None
    signer = PrintTimeSigner(
        meta, _signer(key), timestamper=server, new_field_spec=SigFieldSpec(SIGNATURE_FIELD), at=at
    )
    out = BytesIO()
    signer.sign_pdf(MetadataPreservingWriter(BytesIO(pdf)), output=out)
    return out.getvalue()


def _signer(key: "SchoolKey") -> SimpleSigner:
    # Unencrypted in memory only, to pass the key from one library to the other; nothing writes it anywhere.
    private = key.private.private_bytes(
        serialization.Encoding.DER, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    return SimpleSigner(_certificate(key.certificate), asn1_keys.PrivateKeyInfo.load(private), SimpleCertificateStore())


def _certificate(certificate: Any) -> asn1_x509.Certificate:
    return asn1_x509.Certificate.load(certificate.public_bytes(serialization.Encoding.DER))


def describe_pdf(pdf: bytes) -> dict[str, Any]:
    """Return what inspect_pdf() says, as a mapping for JSON."""
    return asdict(inspect_pdf(pdf))


def inspect_pdf(pdf: bytes) -> PdfInspection:
    """Read a file that anybody may have made; no content raises an error."""
    try:
        reader = PdfFileReader(BytesIO(pdf), strict=False)
        said = PdfInspection(readable=True, record=_attached_record(reader))
        signatures = reader.embedded_regular_signatures
    except (MemoryError, SystemError):  # it takes too much, as with time: whoever set the limits says so
        raise
    except Exception:  # a parser over hostile bytes: whatever it trips over, the file is unreadable
        return PdfInspection(readable=False)
    if not signatures:
        return said
    said = replace(said, is_signed=True)
    try:
        # The last one has to cover all that is in the file, and earlier signatures with it.
        last = signatures[-1]
        signer = last.signer_cert
        said = replace(said, certificate=signer.sha256.hex(), signer=signer.subject.human_friendly)
        # Whose certificate it is is asked of the school's list, not here: here it need only fit the signature.
        trusted = ValidationContext(trust_roots=[signer], allow_fetching=False)
        # No comparison of revisions: anything appended after the signature already fails `covers_all`. Nothing is
        # fetched either, or a stranger's file could make the server send requests.
        status = validate_pdf_signature(last, trusted, skip_diff=True)
        covers = status.coverage == SignatureCoverageLevel.ENTIRE_FILE
        return replace(said, holds=bool(status.intact and status.valid), covers_all=covers)
    except (SignatureValidationError, PdfError, ValueError, LookupError, TypeError, AttributeError):
        return said  # a signature that cannot be read does not hold


def _attached_record(reader: PdfFileReader) -> str | None:
    """Return the text of the attached record; None when there is no such attachment."""
    try:
        names = reader.root["/Names"]["/EmbeddedFiles"]["/Names"]
    except KeyError:
        return None
    # The tree is a flat list: a name, then its file.
    for place in range(0, len(names) - 1, 2):
        if str(names[place]) == RECORD_ATTACHMENT_NAME:
            data: bytes = names[place + 1]["/EF"]["/F"].data
            return data.decode()
    return None
