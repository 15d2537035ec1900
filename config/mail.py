"""E-mail that the service sends by itself: how it is marked, and what a server's refusal means."""

import smtplib
from dataclasses import dataclass
from email.utils import formataddr, parseaddr
from typing import Any
from uuid import UUID

from django.conf import settings
from django.core.mail import EmailMultiAlternatives

LONGEST_REASON = 200
AUTOMATIC = "auto-generated"  # RFC 3834, 5: nobody's holiday answers it


@dataclass(frozen=True, slots=True, kw_only=True)
class Failure:
    """Why a message was not taken. `lasting`: the same message will not be taken later either."""

    said: str
    lasting: bool


def message(
    *,
    kind: str,
    row_id: UUID,
    sending: int = 0,
    to: str,
    sender: str,
    answers_to: str,
    language: str,
    subject: str,
    text: str,
    html: str = "",
) -> EmailMultiAlternatives:
    """A message that is recognisable: sent again after a crash, it has the same Message-ID.

    Its id is made of the row's; a reminder (`sending` above 0) has one of its own and belongs to
    the first. `sender` is a name, `answers_to` an address or empty. Names of several lines become
    one. It has no List- headers: it goes to one person, and a warning is not subscribed to.
    """
    first = f"<{kind}-{row_id}@{_host()}>"
    headers = {
        "Message-ID": first if sending == 0 else f"<{kind}-{row_id}.{sending}@{_host()}>",
        "Auto-Submitted": AUTOMATIC,
        "Content-Language": language,
    }
    if sending:
        headers |= {"In-Reply-To": first, "References": first}
    made = EmailMultiAlternatives(
        one_line(subject),
        text,
        from_email=formataddr((one_line(sender), parseaddr(settings.DEFAULT_FROM_EMAIL)[1])),
        to=[to],
        reply_to=[answers_to] if answers_to else None,
        headers=headers,
    )
    if html:
        made.attach_alternative(html, "text/html")
    return made


def send(made: EmailMultiAlternatives) -> Failure | None:
    """Hand a message to the mail server; None if it took it."""
    try:
        made.send()
    except smtplib.SMTPRecipientsRefused as refused:
        ((code, said),) = refused.recipients.values()
        return Failure(said=_answer(code, said), lasting=code >= 500)
    except smtplib.SMTPDataError as refused:
        code = refused.smtp_code
        return Failure(said=_answer(code, refused.smtp_error), lasting=code >= 500)
    except smtplib.SMTPResponseException as refused:  # about us: log-in, sender, greeting
        return Failure(said=_answer(refused.smtp_code, refused.smtp_error), lasting=False)
    except OSError as error:  # no connection, none in time, or one that broke
        return Failure(said=f"{type(error).__name__}: {error}"[:LONGEST_REASON], lasting=False)
    return None


def one_line(text: str) -> str:
    """Text for a header: what would begin another line of it is a space."""
    return " ".join(text.split())


def _answer(code: int, said: Any) -> str:
    words = said.decode("utf-8", "replace") if isinstance(said, bytes) else str(said)
    return one_line(f"{code} {words}")[:LONGEST_REASON]


def _host() -> str:
    return str(settings.PUBLIC_URL).split("//")[-1].split(":")[0].strip("/")
