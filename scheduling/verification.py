"""Whether a certificate's PDF is the record as issued, from what it bears: one finding a line."""

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from jsonschema import Draft202012Validator

from scheduling.facts import digest_of

Outcome = Literal["as issued", "signer unknown", "not as issued"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Signed:
    """What the signature says; `known` if the signer is one that we know."""

    by: str
    fingerprint: str
    at: datetime | None
    whole: bool
    in_time: bool
    known: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    holds: bool
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Verification:
    outcome: Outcome
    says: str
    findings: tuple[Finding, ...]


SAYS: Mapping[Outcome, str] = {
    "as issued": "This is the record as issued. Whether it still stands, its verify page says.",
    "signer unknown": "Nothing in it was changed since it was signed, but by a key that is not "
    "known here. Compare its fingerprint with that on the verify page.",
    "not as issued": "This is not the record as issued.",
}


def verify(
    *, signed: Signed | None, record: bytes | None, record_digest: str, schema: Mapping[str, Any]
) -> Verification:
    """Judge what was read out of a PDF; `record_digest` is the one that it was issued under.

    `schema` is the JSON Schema that the record has to follow.
    """
    findings = (*_of_signature(signed), *_of_record(record, record_digest, schema))
    outcome: Outcome = "as issued"
    if not all(finding.holds for finding in findings):
        outcome = "not as issued"
    elif signed and not signed.known:
        outcome = "signer unknown"
    return Verification(outcome=outcome, says=SAYS[outcome], findings=findings)


def _of_signature(signed: Signed | None) -> Iterator[Finding]:
    if signed is None:
        yield Finding(holds=False, says="It does not bear exactly one signature.")
        return
    at = f"on {signed.at:%d %B %Y, %H:%M %Z}" if signed.at else "at a time that it does not say"
    yield Finding(
        holds=signed.whole,
        says=f"Signed by {signed.by}, {at}; the signature covers the whole file, unchanged."
        if signed.whole
        else f"The signature of {signed.by} does not fit: the file was changed after it.",
    )
    yield Finding(
        holds=signed.in_time,
        says="The key's certificate was valid then."
        if signed.in_time
        else "The key's certificate was not valid then.",
    )
    known = "known here" if signed.known else "not known here"
    yield Finding(holds=True, says=f"The key is {known}: SHA-256 {signed.fingerprint}.")


def _of_record(record: bytes | None, digest: str, schema: Mapping[str, Any]) -> Iterator[Finding]:
    if record is None:
        yield Finding(holds=False, says="No record is embedded in it.")
        return
    try:
        data = json.loads(record)
    except ValueError:
        yield Finding(holds=False, says="The embedded record is not JSON.")
        return
    errors = sorted(Draft202012Validator(schema).iter_errors(data), key=lambda each: each.json_path)
    yield Finding(
        holds=not errors,
        says=f"The embedded record does not follow its schema: {errors[0].json_path}: "
        f"{errors[0].message[:200]}"
        if errors
        else "The embedded record follows its schema.",
    )
    found = digest_of(data) if isinstance(data, dict) else ""
    yield Finding(
        holds=found == digest,
        says=f"The embedded record has the digest that it was issued under: {digest}."
        if found == digest
        else "The embedded record has another digest than the one that it was issued under.",
    )
