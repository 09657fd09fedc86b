"""Hand one mail to the mail server, step by step, and say what came of each step.

Source: RFC 5321 (SMTP). Until the text of a mail goes over, nothing was delivered and it can be
tried again. Once it went over, only the server's answer says whether it took it: where that
answer never comes, nobody knows, and it is not sent again.
"""

from __future__ import annotations

import re
import smtplib
import ssl
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from email.message import EmailMessage
from email.policy import SMTP, SMTPUTF8

from app.reminders.models import Handed, Trouble
from app.settings import Security, Smtp

TIMEOUT_SECONDS = 20.0
SERVICE_NOT_AVAILABLE = 421


@dataclass(frozen=True, slots=True)
class CameOf:
    """What became of one mail, and the server's code."""

    word: Handed
    code: int | None = None
    trouble: Trouble = Trouble.NONE  # with it the server takes nothing more for now


class ServerTrouble(Exception):
    """Something is wrong with the server, or with what we are to it: not with one recipient."""

    def __init__(self, trouble: Trouble, code: int | None = None) -> None:
        super().__init__(trouble.value)
        self.trouble, self.code = trouble, code


@contextmanager
def connected(
    smtp: Smtp, *, tls: ssl.SSLContext | None = None, timeout: float = TIMEOUT_SECONDS
) -> Iterator[smtplib.SMTP]:
    """Give a connection that is encrypted and signed in as the settings ask.

    Raises:
        ServerTrouble: it cannot be had; nothing was sent.
    """
    server = _begun(smtp, tls or ssl.create_default_context(), timeout)
    try:
        yield server
    finally:
        try:
            server.quit()
        except (smtplib.SMTPException, OSError):
            server.close()


def _begun(smtp: Smtp, tls: ssl.SSLContext, timeout: float) -> smtplib.SMTP:
    try:
        if smtp.security is Security.TLS:
            server: smtplib.SMTP = smtplib.SMTP_SSL(
                smtp.host, smtp.port, timeout=timeout, context=tls
            )
        else:
            server = smtplib.SMTP(smtp.host, smtp.port, timeout=timeout)
    except ssl.SSLError as error:
        raise ServerTrouble(Trouble.NO_TLS) from error
    except TimeoutError as error:
        raise ServerTrouble(Trouble.TOO_SLOW) from error
    except smtplib.SMTPResponseException as error:
        raise ServerTrouble(Trouble.UNREACHABLE, error.smtp_code) from error
    except (OSError, smtplib.SMTPException) as error:
        raise ServerTrouble(Trouble.UNREACHABLE) from error
    try:
        _introduce(server, smtp, tls)
    except BaseException:
        server.close()
        raise
    return server


def _introduce(server: smtplib.SMTP, smtp: Smtp, tls: ssl.SSLContext) -> None:
    try:
        server.ehlo_or_helo_if_needed()
        if smtp.security is Security.STARTTLS:
            _encrypt(server, tls)
        if smtp.user:
            server.login(smtp.user, smtp.secret())
    except smtplib.SMTPAuthenticationError as error:
        raise ServerTrouble(Trouble.NO_SIGN_IN, error.smtp_code) from error
    except smtplib.SMTPNotSupportedError as error:
        raise ServerTrouble(Trouble.NO_SIGN_IN) from error
    except TimeoutError as error:
        raise ServerTrouble(Trouble.TOO_SLOW) from error
    except smtplib.SMTPResponseException as error:
        raise ServerTrouble(Trouble.UNREACHABLE, error.smtp_code) from error
    except smtplib.SMTPException as error:
        slow = isinstance(error.__context__, TimeoutError)
        raise ServerTrouble(Trouble.TOO_SLOW if slow else Trouble.LOST) from error
    except OSError as error:
        # Of our own files as well: a password that cannot be read signs nobody in.
        lost = isinstance(error, ConnectionError)
        raise ServerTrouble(Trouble.LOST if lost else Trouble.NO_SIGN_IN) from error


def _encrypt(server: smtplib.SMTP, tls: ssl.SSLContext) -> None:
    """Go on encrypted or not at all: a server in between may have struck the offer out."""
    try:
        code, _words = server.starttls(context=tls)
    except (smtplib.SMTPNotSupportedError, ssl.SSLError) as error:
        raise ServerTrouble(Trouble.NO_TLS) from error
    if code != 220:
        raise ServerTrouble(Trouble.NO_TLS, code)
    server.ehlo()


def hand_over(server: smtplib.SMTP, message: EmailMessage, *, sender: str, to: str) -> CameOf:
    """Give the server one mail for one recipient. Raises nothing of the network's."""
    text_went_over = False
    try:
        refused = _addressed(server, sender, to)
        if refused is not None:
            return refused
        policy = SMTP if to.isascii() else SMTPUTF8
        code, _words = server.docmd("DATA")
        if code != 354:
            return _judged(server, code)
        text_went_over = True
        server.send(_on_the_wire(message.as_bytes(policy=policy)))
        code, _words = server.getreply()
        if code == 250:
            return CameOf(Handed.TAKEN, code)
        return _judged(server, code)
    except (smtplib.SMTPServerDisconnected, OSError) as error:
        # The library says of a wait that was too long that the connection ended.
        slow = isinstance(error, TimeoutError) or isinstance(error.__context__, TimeoutError)
        trouble = Trouble.TOO_SLOW if slow else Trouble.LOST
    server.close()
    return CameOf(Handed.IN_DOUBT if text_went_over else Handed.LATER, trouble=trouble)


def _addressed(server: smtplib.SMTP, sender: str, to: str) -> CameOf | None:
    """Say who sends and to whom; return what came of it where that is the end of it."""
    options = []
    if not to.isascii():
        if not server.has_extn("smtputf8"):
            return CameOf(Handed.REFUSED)
        options = ["SMTPUTF8", "BODY=8BITMIME"]
    code, _words = server.mail(sender, options)
    if code != 250:
        # Not this recipient's fault: everybody else would be refused as well.
        return CameOf(Handed.LATER, code, Trouble.NO_SENDER)
    code, _words = server.rcpt(to)
    if code not in (250, 251):
        return _judged(server, code)
    return None


def _judged(server: smtplib.SMTP, code: int) -> CameOf:
    """Say what an answer means: 4yz try again, 5yz do not (RFC 5321, section 4.2.1)."""
    if code == SERVICE_NOT_AVAILABLE or code == -1:
        server.close()
        return CameOf(Handed.LATER, code if code > 0 else None, Trouble.LOST)
    try:
        server.rset()
    except (smtplib.SMTPException, OSError):
        server.close()
    return CameOf(Handed.REFUSED if code >= 500 else Handed.LATER, code)


def _on_the_wire(text: bytes) -> bytes:
    """End the text as section 4.1.1.4 asks, with a dot before each dot (section 4.5.2)."""
    text = re.sub(rb"(?m)^\.", b"..", text)
    return text + (b"" if text.endswith(b"\r\n") else b"\r\n") + b".\r\n"
