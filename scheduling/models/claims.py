"""How long a worker may hold a row: one that took it and died gives it up after this."""

from datetime import timedelta

CLAIM_LASTS = timedelta(seconds=60)
CERTIFICATE_CLAIM_LASTS = timedelta(seconds=15)  # made in a second or two
