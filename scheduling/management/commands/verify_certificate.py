"""Check a certificate's PDF without database and network: signature, record, digest, schema."""

import json
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand

from config import sealed, signing
from scheduling.actions.record import SCHEMA
from scheduling.verification import Outcome, Signed, verify

MOST_BYTES = 50_000_000
EXITS: dict[Outcome, int] = {"as issued": 0, "not as issued": 1, "signer unknown": 3}
UNREADABLE = 2


class Command(BaseCommand):
    help = (
        "Says whether a certificate's PDF is the record as issued. Exit status 0: it is; 1: it is "
        "not; 2: the file cannot be read; 3: unchanged, but signed by a key that is not known here."
    )
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("pdf", type=Path)
        parser.add_argument(
            "--signer",
            type=Path,
            action="append",
            default=[],
            metavar="PEM",
            help="the certificate of a signer to know beside those of SIGNING_DIR; may be repeated",
        )

    def handle(self, *, pdf: Path, signer: list[Path], **options: Any) -> None:
        try:
            if pdf.stat().st_size > MOST_BYTES:
                raise sealed.UnreadablePaper(f"it is larger than {MOST_BYTES // 1_000_000} MB")
            found = sealed.read(pdf.read_bytes())
            known = signing.known_fingerprints(signer)
        except (OSError, sealed.UnreadablePaper, signing.KeyNotUsable) as broken:
            self.stderr.write(f"{pdf} cannot be checked: {broken}")
            raise SystemExit(UNREADABLE) from None
        judged = verify(
            signed=_signed(found.seal, known) if found.seal else None,
            record=found.record,
            record_digest=found.record_digest,
            schema=json.loads(SCHEMA.read_text()),
        )
        for finding in judged.findings:
            self.stdout.write(f"{'holds ' if finding.holds else 'FAILS '} {finding.says}")
        self.stdout.write(judged.says)
        raise SystemExit(EXITS[judged.outcome])


def _signed(seal: sealed.Seal, known: frozenset[str]) -> Signed:
    return Signed(
        by=seal.signer.name,
        fingerprint=seal.signer.fingerprint,
        at=seal.signed_at,
        whole=seal.whole,
        in_time=seal.in_time,
        known=seal.signer.fingerprint in known,
    )
