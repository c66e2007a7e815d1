"""A mail server by others (aiosmtpd) on a port of its own: with TLS and a password, or without as a test asks.

Owns: what it has taken. Must not know: what a mail should say.
"""

import contextlib
import logging
import socket
import threading
from dataclasses import dataclass

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import AuthResult, LoginPassword

# Clients that go because they do not trust it are what is tested here.
logging.getLogger("mail.log").setLevel(logging.CRITICAL)

USER, PASSWORD = "digest", "a-pass/word 7"
SECONDS_AT_MOST = 60


@dataclass(frozen=True)
class Taken:
    """A mail with its envelope."""

    sender: str
    recipients: tuple
    octets: bytes
    over_tls: bool
    logged_in: bool


class PostOffice:
    """Keeps every mail it takes."""

    def __init__(self):
        self.mails = []
        self.refused_logins = 0
        self.came = threading.Condition()

    def to(self, recipient):
        with self.came:
            return [mail for mail in self.mails if recipient in mail.recipients]

    def wait_for(self, recipient, count=1):
        """Waits until so many mails to somebody have come, and gives those."""
        with self.came:
            enough = self.came.wait_for(lambda: len(self.to(recipient)) >= count, SECONDS_AT_MOST)
            if not enough:
                raise AssertionError(f"no {count} mails to that recipient; all: {len(self.mails)}")
        return self.to(recipient)

    async def handle_DATA(self, server, session, envelope):
        mail = Taken(
            envelope.mail_from,
            tuple(envelope.rcpt_tos),
            envelope.original_content,
            session.ssl is not None,
            session.authenticated,
        )
        with self.came:
            self.mails.append(mail)
            self.came.notify_all()
        return "250 2.0.0 taken"

    def login(self, server, session, envelope, mechanism, given):
        right = isinstance(given, LoginPassword) and (given.login, given.password) == (USER.encode(), PASSWORD.encode())
        with self.came:
            self.refused_logins += not right
        return AuthResult(success=right, handled=right)


def free_port():
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        return taken.getsockname()[1]


@contextlib.contextmanager
def answering(office, port=None, **asked):
    controller = Controller(office, hostname="127.0.0.1", port=port or free_port(), ident="office.example", **asked)
    controller.start()
    try:
        yield controller.port
    finally:
        controller.stop()


def opened(office, tls=None, port=None):
    """The office answers on a port: with STARTTLS and then a password if `tls` is given, otherwise without either."""
    asked = {}
    if tls:
        asked = {"tls_context": tls, "require_starttls": True, "auth_required": True, "authenticator": office.login}
    return answering(office, port, **asked)


def opened_by_tls(office, tls):
    """The office answers on a port by TLS from the first octet on (RFC 8314, 3.3), and wants a password."""
    # The library knows of the TLS of STARTTLS alone.
    return answering(office, ssl_context=tls, auth_required=True, auth_require_tls=False, authenticator=office.login)
