"""A signed paper read again: its signature, the record inside and the digest it was issued under.

Needs no database and no network.
"""

import re
from dataclasses import dataclass
from datetime import datetime
from io import BytesIO

from pyhanko.pdf_utils.misc import PdfError
from pyhanko.pdf_utils.reader import PdfFileReader
from pyhanko.sign.validation import SignatureCoverageLevel, validate_pdf_signature
from pyhanko.sign.validation.errors import SignatureValidationError
from pyhanko_certvalidator import ValidationContext

from config.signing import Signer, in_own_thread, signer_in

IDENTIFIER = re.compile(rb"<dc:identifier>sha256:([0-9a-f]{64})</dc:identifier>")


class UnreadablePaper(ValueError):
    """Not a PDF that we could have made."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Seal:
    """What the one signature of a paper says.

    `whole`: it covers the whole file, and nothing of it was changed. `in_time`: the certificate was
    valid when the paper says that it was signed. Whether the signer is the one that it should be is
    another question: see `config.signing.known_fingerprints`.
    """

    signer: Signer
    signed_at: datetime | None
    whole: bool
    in_time: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Sealed:
    """`seal` is None for a paper without a signature, or with more than one."""

    seal: Seal | None
    record: bytes | None
    record_digest: str


def read(paper: bytes) -> Sealed:
    """What a paper bears; raises UnreadablePaper."""
    try:
        reader = PdfFileReader(BytesIO(paper))
        return Sealed(
            seal=_seal(reader),
            record=_record(reader),
            record_digest=_identifier(reader),
        )
    except (PdfError, SignatureValidationError, ValueError, KeyError, TypeError) as broken:
        raise UnreadablePaper(str(broken)) from broken


def _seal(reader: PdfFileReader) -> Seal | None:
    signatures = reader.embedded_signatures
    if len(signatures) != 1:
        return None
    signature = signatures[0]
    # It vouches for itself here: whether we know it is asked by its fingerprint.
    itself = ValidationContext(
        trust_roots=[signature.signer_cert],
        moment=signature.self_reported_timestamp,
        allow_fetching=False,
    )
    status = in_own_thread(validate_pdf_signature, signature, signer_validation_context=itself)
    certificate, at = status.signing_cert, status.signer_reported_dt
    covers_all = status.coverage == SignatureCoverageLevel.ENTIRE_FILE
    return Seal(
        signer=signer_in(certificate),
        signed_at=at,
        whole=status.intact and status.valid and covers_all,
        in_time=at is not None
        and certificate.not_valid_before <= at <= certificate.not_valid_after,
    )


def _record(reader: PdfFileReader) -> bytes | None:
    """The one file that is associated with the whole paper (ISO 19005-3, annex E)."""
    files = reader.root.get("/AF", [])
    return bytes(files[0]["/EF"]["/F"].data) if len(files) == 1 else None


def _identifier(reader: PdfFileReader) -> str:
    found = IDENTIFIER.search(reader.root["/Metadata"].data)
    return found[1].decode() if found else ""
