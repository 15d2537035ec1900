"""Papers are signed so that others can check it, with the key that was given."""

import asyncio
import io
import re
import stat
import subprocess
import threading
import time
from datetime import UTC, datetime, timedelta
from uuid import uuid4

import page
import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import rsa
from cryptography.x509.oid import NameOID
from pypdf import PdfReader

from config import paper, sealed, signing
from config.problems import PROBLEMS

HTML = (
    '<html lang="en"><head><title>Paper</title></head><body><h1>Paper</h1><p>Text</p></body></html>'
)
CONTRACTOR = uuid4()


@pytest.fixture(autouse=True)
def keys(settings, tmp_path):
    settings.SIGNING_DIR = tmp_path / "signing"
    settings.SIGNING_KEYS = {}
    return settings


@pytest.fixture
def own(real_now):
    return signing.key_for(CONTRACTOR, at=real_now)


@pytest.fixture(scope="module")
def unsigned():
    return paper.pdf(
        HTML,
        identifier=b"0123456789abcdef",
        record=b'{"ohms": 104.6}',
        says="sha256:" + "ab" * 32,
        made_at=datetime(2027, 3, 10, tzinfo=UTC),
        signed=True,
    )


@pytest.fixture
def signed(unsigned, own):
    return signing.sign(unsigned, own, reason="Issued")


def test_it_is_signed_and_read_where_a_loop_runs(unsigned, own):
    async def both():
        return sealed.read(signing.sign(unsigned, own, reason="Issued"))

    assert asyncio.run(both()).seal.whole


def company_key(name="Alder Floors", *, size=3072):
    """A key whose certificate somebody else signed, with the one that did."""
    now = datetime.fromtimestamp(time.time(), UTC)
    keys = [rsa.generate_private_key(public_exponent=65537, key_size=size) for _ in range(2)]
    names = [
        x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, each)]) for each in ("Some CA", name)
    ]

    def certificate(subject, public, *, ca):
        return (
            x509.CertificateBuilder()
            .subject_name(subject)
            .issuer_name(names[0])
            .public_key(public)
            .serial_number(x509.random_serial_number())
            .not_valid_before(now - timedelta(days=1))
            .not_valid_after(now + timedelta(days=365))
            .add_extension(x509.BasicConstraints(ca=ca, path_length=None), critical=True)
            .sign(keys[0], hashes.SHA256())
            .public_bytes(serialization.Encoding.PEM)
        )

    private = keys[1].private_bytes(
        serialization.Encoding.PEM,
        serialization.PrivateFormat.PKCS8,
        serialization.NoEncryption(),
    )
    theirs = certificate(names[1], keys[1].public_key(), ca=False)
    root = certificate(names[0], keys[0].public_key(), ca=True)
    return private + theirs + root


def test_the_installation_makes_itself_a_key_that_nobody_else_can_read(keys, own):
    (path,) = keys.SIGNING_DIR.iterdir()
    assert path.name == "installation.pem"
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert stat.S_IMODE(keys.SIGNING_DIR.stat().st_mode) == 0o700
    assert own.whose == "installation"
    assert signing.signer_of(own).self_signed


def test_workers_that_make_it_at_once_have_the_same(keys, real_now):
    barrier, made = threading.Barrier(4), []

    def ask():
        barrier.wait()
        made.append(signing.key_for(CONTRACTOR, at=real_now).pem)

    threads = [threading.Thread(target=ask) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(set(made)) == 1
    assert [path.name for path in keys.SIGNING_DIR.iterdir()] == ["installation.pem"]


def test_a_contractors_own_key_comes_first_by_environment_or_file(keys, own, real_now):
    theirs = company_key(size=2048)
    (keys.SIGNING_DIR / f"{CONTRACTOR}.pem").write_bytes(theirs)
    by_file = signing.key_for(CONTRACTOR, at=real_now)
    assert (by_file.whose, by_file.pem) == ("contractor", theirs)
    assert signing.key_for(uuid4(), at=real_now) == own
    keys.SIGNING_KEYS = {f"SIGNING_KEY_{CONTRACTOR.hex.upper()}": own.pem.decode()}
    assert signing.key_for(CONTRACTOR, at=real_now).pem == own.pem


def test_the_installations_key_may_come_by_environment(keys, real_now):
    keys.SIGNING_KEYS = {"SIGNING_KEY": company_key(size=2048).decode()}
    key = signing.key_for(CONTRACTOR, at=real_now)
    assert (key.whose, signing.signer_of(key).self_signed) == ("installation", False)
    assert not keys.SIGNING_DIR.exists()


def test_a_signature_is_pades_and_leaves_the_paper_archival_and_accessible(signed, unsigned):
    assert signed.startswith(unsigned)  # an update behind its end
    (field,) = PdfReader(io.BytesIO(signed)).trailer["/Root"]["/AcroForm"]["/Fields"]
    value = field.get_object()["/V"]
    assert value["/SubFilter"] == "/ETSI.CAdES.detached"
    assert value["/ByteRange"][2] + value["/ByteRange"][3] == len(signed)
    for profile in ("3a", "ua1"):
        found = page.validate_pdf_bytes(signed, profile=profile)
        assert [(each.rule_id, each.message) for each in found.failures] == []


@pytest.mark.parametrize("make", [None, company_key], ids=["own", "company's"])
def test_another_program_finds_the_signature_valid(tmp_path, unsigned, own, make):
    key = signing.Key(whose="contractor", pem=make()) if make else own
    path = tmp_path / "paper.pdf"
    path.write_bytes(signing.sign(unsigned, key, reason="Issued"))
    said = subprocess.run(
        ["pdfsig", path], check=True, capture_output=True, text=True, timeout=60
    ).stdout
    assert "Signature is Valid" in said
    assert "Total document signed" in said
    assert "Signature Type: ETSI.CAdES.detached" in said


def test_openssl_finds_the_signature_valid_too(tmp_path, signed, own):
    start, length, after, rest = map(int, re.search(rb"/ByteRange \[([\d ]+)\]", signed)[1].split())
    cms = bytes.fromhex(signed[start + length + 1 : after - 1].decode().rstrip("0") + "00")
    (tmp_path / "content").write_bytes(signed[start:length] + signed[after : after + rest])
    (tmp_path / "signature").write_bytes(cms)
    (tmp_path / "signer.pem").write_bytes(own.pem)
    asked = ["openssl", "cms", "-verify", "-binary", "-inform", "DER", "-purpose", "any"]
    asked += ["-in", tmp_path / "signature", "-content", tmp_path / "content"]
    asked += ["-CAfile", tmp_path / "signer.pem", "-out", tmp_path / "out"]
    done = subprocess.run(asked, capture_output=True, text=True, timeout=60)
    assert done.returncode == 0, done.stderr
    (tmp_path / "content").write_bytes(b"something else")
    assert subprocess.run(asked, capture_output=True, timeout=60).returncode != 0


def test_what_was_sealed_can_be_read_again(signed, own):
    found = sealed.read(signed)
    assert found.record == b'{"ohms": 104.6}'
    assert found.record_digest == "ab" * 32
    assert found.seal.whole
    assert found.seal.in_time
    assert found.seal.signer == signing.signer_of(own)


@pytest.mark.parametrize(
    "spoilt",
    [
        lambda pdf: pdf.replace(b"Paper</rdf:li>", b"Pauer</rdf:li>"),
        lambda pdf: pdf + b"\n% more\n",
    ],
    ids=["a byte", "an end"],
)
def test_a_changed_paper_is_not_whole(signed, spoilt):
    assert not sealed.read(spoilt(signed)).seal.whole


def test_a_paper_without_a_signature_has_no_seal(unsigned):
    assert sealed.read(unsigned).seal is None


@pytest.mark.parametrize("content", [b"", b"%PDF-1.7\nnothing", b"PK\x03\x04"])
def test_what_is_no_paper_is_told(content):
    with pytest.raises(sealed.UnreadablePaper):
        sealed.read(content)


def test_retired_keys_are_still_known(keys, signed, own, real_now):
    signer = sealed.read(signed).seal.signer.fingerprint
    assert signer in signing.known_fingerprints()
    certificate = own.pem[own.pem.index(b"-----BEGIN CERTIFICATE") :]
    (keys.SIGNING_DIR / "retired-2026.pem").write_bytes(certificate)  # the private key is gone
    (keys.SIGNING_DIR / "installation.pem").unlink()
    new = signing.signer_of(signing.key_for(CONTRACTOR, at=real_now)).fingerprint
    assert signing.known_fingerprints() == {signer, new}
    assert sealed.read(signed).seal.whole


@pytest.mark.parametrize(
    ("pem", "why"),
    [
        (b"", "cannot be read"),
        (
            company_key(size=2048).partition(b"-----BEGIN CERT")[0],
            "without its certificate",
        ),
        (b"-----BEGIN CERTIFICATE-----\nAAAA\n-----END CERTIFICATE-----\n", "cannot be"),
        (
            company_key(size=2048).partition(b"-----END PRIVATE KEY-----\n")[2],
            "private key cannot be read",
        ),
        (
            company_key(size=2048).partition(b"-----BEGIN CERT")[0]
            + company_key(size=2048)[company_key(size=2048).index(b"-----BEGIN CERT") :],
            "not that of the private key",
        ),
    ],
    ids=["nothing", "only a key", "no certificate", "no key", "another's"],
)
def test_a_key_that_cannot_sign_says_why(unsigned, pem, why):
    with pytest.raises(signing.KeyNotUsable, match=why):
        signing.sign(unsigned, signing.Key(whose="contractor", pem=pem), reason="Issued")
    assert signing.KeyNotUsable.slug in PROBLEMS
