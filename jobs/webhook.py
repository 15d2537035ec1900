"""What is sent to other systems, and how they know that it comes from us.

Headers and signature follow the open specification Standard Webhooks (from memory): HMAC-SHA256
over `id.timestamp.body`, base64, `v1,` before it; secrets are base64 with `whsec_` before them.
"""

from __future__ import annotations

import base64
import hmac
import json
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from hashlib import sha256
from typing import Any
from uuid import UUID

from config.instants import rfc3339

EVENTS: Mapping[str, str] = {
    "check.recorded": "A check was recorded",
    "verdict.failed": "A check failed",
    "date.moved": "The likely day of heat moved",
    "booking.changed": "A crew's half-day was booked, moved or called off",
    "visit.changed": "Another trade's visit was planned, moved or called off",
    "notice.acknowledged": "Another trade has read a warning",
    "certificate.issued": "A certificate was issued",
    "certificate.voided": "A certificate was made void",
}
# Sent by hand, to see whether a receiver is there.
TRIAL = "webhook.tried"

MOST_ATTEMPTS = 18  # some two and a half days with the waits between them
DISABLE_AFTER = timedelta(days=5)
# A new secret and the one before it both sign for so long, so that a receiver can change over.
BOTH_SECRETS = timedelta(hours=24)
LOG_LASTS = timedelta(days=90)
# Answers that say: not now.
LATER = (429, 502, 503, 504)


def payload(event: str, data: Mapping[str, Any], *, at: datetime) -> str:
    """The body of an event, to the byte."""
    told = {"type": event, "timestamp": rfc3339(at), "data": dict(data)}
    return json.dumps(told, ensure_ascii=False, separators=(",", ":"))


def secret_of(key: bytes, webhook_id: UUID, generation: int) -> str:
    """The secret of a webhook, from the installation's key: 256 bits that are kept nowhere."""
    message = f"firstwarm webhook {webhook_id} {generation}".encode()
    return f"whsec_{base64.b64encode(hmac.digest(key, message, sha256)).decode()}"


def headers(body: str, *, message_id: UUID, secrets: Sequence[str], at: datetime) -> dict[str, str]:
    """The headers of one sending; a signature for each secret, the newest first."""
    stamp = str(int(at.timestamp()))
    signatures = [signature(body, message_id=message_id, stamp=stamp, secret=s) for s in secrets]
    return {
        "Content-Type": "application/json",
        "User-Agent": "Firstwarm",
        "webhook-id": str(message_id),
        "webhook-timestamp": stamp,
        "webhook-signature": " ".join(signatures),
    }


def signature(body: str, *, message_id: UUID, stamp: str, secret: str) -> str:
    key = base64.b64decode(secret.removeprefix("whsec_"))
    signed = f"{message_id}.{stamp}.{body}".encode()
    return f"v1,{base64.b64encode(hmac.digest(key, signed, sha256)).decode()}"
