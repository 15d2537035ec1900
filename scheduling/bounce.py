"""Mail that comes back: which notice it was, and why it was not delivered.

Source: RFC 3464 (delivery status notifications), RFC 3462 (multipart/report).
"""

import re
from dataclasses import dataclass
from email import message_from_bytes, policy
from email.message import EmailMessage
from uuid import UUID

OURS = re.compile(r"<notice-([0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12})(?:\.\d+)?@")
LONGEST_REASON = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Bounce:
    """A notice that did not arrive, and what the last server said."""

    notice: UUID
    because: str


def read(content: bytes) -> Bounce | None:
    """The bounce of one of our notices; None for any other mail, and for a mere delay."""
    report = message_from_bytes(content, policy=policy.default)
    if report.get_content_type() != "multipart/report":
        return None
    because = _failure(report)
    match = OURS.search(_returned(report))
    if because is None or match is None:
        return None
    return Bounce(notice=UUID(match[1]), because=because[:LONGEST_REASON])


def _failure(report: EmailMessage) -> str | None:
    """What the status part says of a recipient that failed for good (RFC 3464, 2.3)."""
    for part in report.walk():
        if part.get_content_type() != "message/delivery-status":
            continue
        for fields in part.walk():
            if str(fields.get("Action", "")).strip().lower() == "failed":
                said = fields.get("Diagnostic-Code") or fields.get("Status") or "failed"
                return " ".join(str(said).split())
    return None


def _returned(report: EmailMessage) -> str:
    """The Message-ID of what came back: the whole message, or its headers alone."""
    for part in report.walk():
        if part is not report and part.get("Message-ID"):
            return str(part["Message-ID"])
        if part.get_content_type() == "text/rfc822-headers":
            return str(part.get_content())
    return ""
