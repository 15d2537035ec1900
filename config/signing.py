"""Signatures under papers: whose key, and PAdES (ETSI EN 319 142-1), level B-B.

A key is a PEM of a private key and its certificates, the signer's first. It comes from the
environment (`SIGNING_KEY`, or `SIGNING_KEY_` with a contractor's id in hexadecimal) or from a file
of `SIGNING_DIR` (`installation.pem`, or the contractor's id with `.pem`). A contractor's own comes
first; where there is none at all, the installation makes one for itself on first use.
"""

import os
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from io import BytesIO
from pathlib import Path
from secrets import token_hex
from typing import Literal, ParamSpec, TypeVar
from urllib.parse import urlsplit
from uuid import UUID

from asn1crypto import x509 as asn1
from asn1crypto.keys import PrivateKeyInfo
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID
from django.conf import settings
from pyhanko.keys import load_certs_from_pemder_data, load_private_key_from_pemder_data
from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
from pyhanko.sign.fields import MDPPerm, SigSeedSubFilter
from pyhanko.sign.signers import PdfSignatureMetadata, SimpleSigner, sign_pdf
from pyhanko_certvalidator.registry import SimpleCertificateStore

from config.errors import DomainError
from config.paper import SIGNATURE_FIELD

INSTALLATION = "installation"
OWN_KEY_LASTS = timedelta(days=365 * 20)
DIGEST = "sha256"
LONGEST_SIGNATURE = 4096  # bytes beside the certificates: attributes, and RSA of any sensible size

Whose = Literal["contractor", "installation"]
P = ParamSpec("P")
T = TypeVar("T")


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    whose: Whose
    pem: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class Signer:
    """Who signs or signed, as a certificate tells: `fingerprint` is its SHA-256, as hex."""

    name: str
    fingerprint: str
    self_signed: bool


class KeyNotUsable(DomainError):
    """A key was given that nothing can be signed with."""

    slug = "key-not-usable"


class _Update(IncrementalPdfFileWriter):
    """An update that leaves the metadata alone.

    pyHanko would write it anew, and turn the address of a schema into a reference, which PDF/A
    does not allow (measured by the validator in the tests).
    """

    def _update_meta(self) -> None:
        pass


def key_for(contractor_id: UUID, *, at: datetime) -> Key:
    """The contractor's own key if there is one, else the installation's, made now if need be."""
    names: tuple[tuple[Whose, str, str], ...] = (
        ("contractor", f"SIGNING_KEY_{contractor_id.hex.upper()}", f"{contractor_id}.pem"),
        ("installation", "SIGNING_KEY", f"{INSTALLATION}.pem"),
    )
    for whose, variable, file_name in names:
        if given := settings.SIGNING_KEYS.get(variable):
            return Key(whose=whose, pem=given.encode())
        if (path := settings.SIGNING_DIR / file_name).exists():
            return Key(whose=whose, pem=path.read_bytes())
    return Key(whose="installation", pem=_own_key(at))


def signer_of(key: Key) -> Signer:
    return signer_in(certificates_of(key.pem)[0])


def sign(paper: bytes, key: Key, *, reason: str) -> bytes:
    """The paper with a signature in the field that was left for it, as an update behind its end.

    Raises KeyNotUsable.
    """
    certificates = certificates_of(key.pem)
    store = SimpleCertificateStore()  # type: ignore[no-untyped-call]
    store.register_multiple(certificates)
    update = _Update(BytesIO(paper))
    meta = PdfSignatureMetadata(
        field_name=SIGNATURE_FIELD,
        subfilter=SigSeedSubFilter.PADES,
        md_algorithm=DIGEST,
        certify=True,
        docmdp_permissions=MDPPerm.NO_CHANGES,
        reason=reason,
        name=signer_in(certificates[0]).name,
        signer_key_usage=set(),
    )
    signer = SimpleSigner(
        signing_cert=certificates[0],
        signing_key=_private_key(key.pem, certificates[0]),
        cert_registry=store,
    )
    # In hex digits; without it the signature is made twice, once to see how long it gets.
    reserved = 2 * (sum(len(each.dump()) for each in certificates) + LONGEST_SIGNATURE)
    signed = in_own_thread(
        sign_pdf,
        update,
        meta,
        signer=signer,
        existing_fields_only=True,
        bytes_reserved=reserved,
    )
    return bytes(signed.getvalue())


def in_own_thread(call: Callable[P, T], *given: P.args, **named: P.kwargs) -> T:
    """Its result: pyHanko starts an event loop, which cannot be where the caller's own runs."""
    with ThreadPoolExecutor(1) as apart:
        return apart.submit(call, *given, **named).result()


def _private_key(pem: bytes, certificate: asn1.Certificate) -> PrivateKeyInfo:
    try:
        public = serialization.load_pem_private_key(pem, password=None).public_key()
        private: PrivateKeyInfo = load_private_key_from_pemder_data(pem, passphrase=None)
    except (ValueError, TypeError) as broken:  # TypeError: it wants a pass phrase
        raise KeyNotUsable(f"The private key cannot be read: {broken}") from broken
    if x509.load_der_x509_certificate(certificate.dump()).public_key() != public:
        raise KeyNotUsable("The first certificate is not that of the private key.")
    return private


def known_fingerprints(more: Iterable[Path] = ()) -> frozenset[str]:
    """Fingerprints of the signers that we know: of every key here, and of every retired one."""
    pems = [value.encode() for value in settings.SIGNING_KEYS.values()]
    pems += [path.read_bytes() for path in (*settings.SIGNING_DIR.glob("*.pem"), *more)]
    return frozenset(signer_in(certificates_of(pem)[0]).fingerprint for pem in pems)


def certificates_of(pem: bytes) -> list[asn1.Certificate]:
    """The certificates in a PEM; raises KeyNotUsable if there is none."""
    try:
        found = list(load_certs_from_pemder_data(pem))
    except ValueError as broken:
        raise KeyNotUsable(f"A certificate cannot be read: {broken}.") from broken
    if not found:
        raise KeyNotUsable("The key comes without its certificate: put both into one PEM.")
    return found


def signer_in(certificate: asn1.Certificate) -> Signer:
    return Signer(
        name=certificate.subject.native.get("common_name", certificate.subject.human_friendly),
        fingerprint=sha256(certificate.dump()).hexdigest(),
        self_signed=certificate.subject == certificate.issuer,
    )


def _own_key(at: datetime) -> bytes:
    """The installation's own key; of workers that make it at once, one wins."""
    folder: Path = settings.SIGNING_DIR
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    path, fresh = folder / f"{INSTALLATION}.pem", folder / f".{token_hex(8)}"
    with open(os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
        file.write(_self_signed(at))
    try:
        os.link(fresh, path)
    except FileExistsError:
        pass
    finally:
        fresh.unlink()
    return path.read_bytes()


def _self_signed(at: datetime) -> bytes:
    # Signs within a millisecond; RSA of its strength takes hundreds (measured).
    key = ec.generate_private_key(ec.SECP256R1())
    place = urlsplit(settings.PUBLIC_URL).hostname or "localhost"
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, f"Firstwarm at {place}"[:64])])
    usage = x509.KeyUsage(
        digital_signature=True,
        content_commitment=True,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=False,
        crl_sign=False,
        encipher_only=False,
        decipher_only=False,
    )
    certificate = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(at.astimezone(UTC) - timedelta(minutes=5))  # clocks differ
        .not_valid_after(at.astimezone(UTC) + OWN_KEY_LASTS)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(usage, critical=True)
        .sign(key, hashes.SHA256())
    )
    return key.private_bytes(
        serialization.Encoding.PEM,
        serialization.PrivateFormat.PKCS8,
        serialization.NoEncryption(),
    ) + certificate.public_bytes(serialization.Encoding.PEM)
