"""POST to an address that somebody else gave: only out of the house, bounded in time and size."""

import http.client
import socket
import ssl
import threading
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from ipaddress import IPv4Address, IPv6Address, ip_address
from urllib.parse import SplitResult, urlsplit

from config.errors import DomainError

SECONDS = 10.0  # from the first packet to the last byte that is read
MOST_ANSWER_BYTES = 2_000
LONGEST_URL = 500


class AddressNotOutside(DomainError):
    """An address that we do not send to: no HTTPS, or within our own network."""

    slug = "address-not-outside"


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What came back: a status and the beginning of the body, or why nothing did."""

    took_ms: int
    status: int | None = None
    text: str = ""
    error: str = ""

    @property
    def taken(self) -> bool:
        return self.status is not None and 200 <= self.status < 300


def checked(url: str, *, private: bool) -> SplitResult:
    """The parts of an address that may be sent to; raises AddressNotOutside.

    `private` allows plain HTTP and our own network, for receivers on the same machine.
    """
    wrong = AddressNotOutside(
        "Give an address that begins with https://, with a host and without a name, a password or "
        "a #.",
        pointer="#/url",
    )
    if not (url.isascii() and url.isprintable() and " " not in url and len(url) <= LONGEST_URL):
        raise wrong
    try:
        parts = urlsplit(url)
        host, _port = parts.hostname, parts.port
    except ValueError as error:
        raise wrong from error
    if parts.scheme not in (("https", "http") if private else ("https",)):
        raise wrong
    if not host or parts.username is not None or parts.password is not None or "#" in url:
        raise wrong
    with suppress(ValueError):
        host = str(ip_address(host))
    _require_outside([host], private=private)
    return parts


def post(url: str, body: bytes, headers: Mapping[str, str], *, private: bool) -> Answer:
    """Send once; follows no redirect, reads the beginning of the answer, ends after SECONDS.

    The name is resolved once and the connection goes to that very address: a name that means
    something else a moment later gains nothing. Raises AddressNotOutside.
    """
    parts = checked(url, private=private)
    started = time.monotonic()
    status, text, error = None, "", ""
    try:
        with _connected(parts, private=private) as connection:
            path = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
            connection.request("POST", path, body, dict(headers))
            response = connection.getresponse()
            text = response.read(MOST_ANSWER_BYTES).decode("utf-8", "replace")
            status = response.status
    except (OSError, http.client.HTTPException, UnicodeError) as failed:
        error = f"{type(failed).__name__}: {failed}"[:200]
    took = time.monotonic() - started
    if took >= SECONDS:  # cut off, an answer may look like a short one
        status, text, error = None, "", f"No answer in {SECONDS:g} seconds"
    return Answer(took_ms=round(took * 1000), status=status, text=text, error=error)


@contextmanager
def _connected(parts: SplitResult, *, private: bool) -> Iterator[http.client.HTTPConnection]:
    """A connection to the address behind the name, cut off when its time is over."""
    host = parts.hostname or ""
    port = parts.port or (443 if parts.scheme == "https" else 80)
    addresses = _addresses(host, port)
    _require_outside(addresses, private=private)
    connection = http.client.HTTPConnection(host, port)
    connection.auto_open = 0  # it would ask for the name again
    cut = threading.Timer(SECONDS, _cut, [connection])
    cut.daemon = True
    cut.start()
    try:
        connection.sock = _first_that_answers(addresses, port)
        if parts.scheme == "https":
            # The certificate is checked against the name that was asked for.
            secured = ssl.create_default_context().wrap_socket(
                connection.sock, server_hostname=host, do_handshake_on_connect=False
            )
            connection.sock = secured
            secured.do_handshake()
        yield connection
    finally:
        cut.cancel()
        connection.close()


def _addresses(host: str, port: int) -> list[str]:
    found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)
    return list(dict.fromkeys(str(each[4][0]) for each in found))


def _first_that_answers(addresses: list[str], port: int) -> socket.socket:
    seconds = SECONDS / len(addresses)
    for address in addresses[:-1]:
        with suppress(OSError):
            return _open(address, port, seconds)
    return _open(addresses[-1], port, seconds)


def _open(address: str, port: int, seconds: float) -> socket.socket:
    raw = socket.create_connection((address, port), timeout=seconds)
    raw.settimeout(SECONDS)
    return raw


def _cut(connection: http.client.HTTPConnection) -> None:
    if connection.sock is not None:
        with suppress(OSError):
            connection.sock.shutdown(socket.SHUT_RDWR)


def _require_outside(addresses: list[str], *, private: bool) -> None:
    """Refuse addresses of our own network; a name passes until it is resolved."""
    for text in addresses:
        try:
            address = ip_address(text.partition("%")[0])
        except ValueError:
            continue
        if not private and not _outside(address):
            raise AddressNotOutside(
                f"{text} is not an address of the public internet.", pointer="#/url"
            )


def _outside(address: IPv4Address | IPv6Address) -> bool:
    """Whether an address, and any that it stands for, belongs to the public internet."""
    if isinstance(address, IPv6Address):
        inner = address.ipv4_mapped or address.sixtofour
        if inner is not None and not _outside(inner):
            return False
        if address.teredo is not None:
            return False
    return address.is_global and not address.is_multicast
