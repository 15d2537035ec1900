"""A real SMTP server on loopback for tests: it takes, refuses, stalls, or drops what comes."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from email import message_from_bytes, policy
from email.message import EmailMessage
from socket import create_server
from typing import Any

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, Envelope, Session

TAKEN = "250 2.0.0 Taken"


class Handler:
    """What the server does with each step; `mails` are those it took."""

    def __init__(self) -> None:
        self.mails: list[EmailMessage] = []
        self.envelopes: list[Envelope] = []
        self.to_recipient = TAKEN
        self.to_data: str | Callable[[], str] = TAKEN

    async def handle_RCPT(
        self, server: SMTP, session: Session, envelope: Envelope, address: str, options: list[Any]
    ) -> str:
        if self.to_recipient.startswith("250"):
            envelope.rcpt_tos.append(address)
        return self.to_recipient

    async def handle_DATA(self, server: SMTP, session: Session, envelope: Envelope) -> str:
        self.envelopes.append(envelope)
        answer = self.to_data() if callable(self.to_data) else self.to_data
        if answer.startswith("250"):
            self.mails.append(message_from_bytes(envelope.content, policy=policy.default))
        return answer


@contextmanager
def serving() -> Iterator[tuple[Handler, int]]:
    """The handler of a server that runs for as long as the block, and its port."""
    handler = Handler()
    with create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    controller = Controller(handler, hostname="127.0.0.1", port=port)
    controller.start()
    try:
        yield handler, port
    finally:
        controller.stop()
