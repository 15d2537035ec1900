"""Random secrets for devices and links: shown once, kept only as a digest."""

import secrets
from hashlib import sha256

# 32 bytes are 256 random bits, 43 characters of base64url (RFC 4648) without padding.
SECRET_BYTES = 32


def new_secret() -> str:
    return secrets.token_urlsafe(SECRET_BYTES)


def digest_of_secret(secret: str) -> str:
    """The SHA-256 of a secret, as hex. A slow hash adds nothing to 256 random bits."""
    return sha256(secret.encode("utf-8", "surrogatepass")).hexdigest()
